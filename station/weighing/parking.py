"""Several batches on one bench: one leaves it for another, and comes back."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.state import Batch, Station
from station.units import shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Pans, Refusal


def park(station: Station, batch: Batch, pans: Pans) -> Decision:
    """Make room for another batch. What stands in cups stays with this one; what stays on a pan is
    noted and expected there when it comes back."""
    for line in batch.lines.values():
        if line.tare is not None or line.voiding is not None:
            raise Refusal(
                "under-way", f"{line.name} is under way", "finish it, or void it", line.name
            )
    left = {}
    for name, pan in pans.items():
        if pan.troubles or pan.empty:
            continue
        if pan.settled is None:
            raise Refusal("not-settled", f"{name} is not settled", "wait until it is, then park")
        left[name] = pan.settled.gross_g
    answer = f"batch {batch.id} is parked: take-up {batch.id} brings it back"
    return Decision((ev.Parked(left, batch.who),), answer=answer)


def take_up(station: Station, command: do.TakeUp, pans: Pans) -> Decision:
    """Bring a parked batch back to the bench."""
    if station.open is not None:
        raise Refusal("batch-open", f"batch {station.open.id} is at the bench", "park it first")
    batch = station.parked.get(command.batch)
    if batch is None:
        waiting = ", ".join(station.parked) or "none is parked"
        raise Refusal("unknown-batch", f"no batch {command.batch} is parked", waiting)
    gone = tuple(name for name, gross in batch.left.items() if _gone(pans, name, gross))
    events: list[ev.Event] = [ev.TakenUp(gone, station.last_who or batch.who)]
    answer = f"batch {batch.id} is at the bench again"
    for name in gone:
        weight = shown(batch.left[name], batch.scale(name).division_g)
        text = f"{weight} g stayed on {name} when it was parked and is not there now"
        events.append(ev.Warned(name, "left", text))
        answer += f"; {text}"
    return Decision(tuple(events), answer=answer)


def _gone(pans: Pans, scale: str, gross_g: Decimal) -> bool:
    """Whether something else than that weight is seen on the pan."""
    pan = pans.get(scale)
    if pan is None or pan.settled is None or pan.troubles:
        return False
    return abs(pan.settled.gross_g - gross_g) > pan.scale.near_g
