"""Several batches on one bench: one is opened, leaves it for another, and comes back."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from station.batch import events as ev
from station.batch.state import Station
from station.formula.model import Formula
from station.units import shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Pans, Sight


@decides
def open_batch(sight: Sight, command: do.Open) -> Decision:
    """Open a batch, unless one is at the bench or its formula changed under the same revision."""
    station = sight.station
    if station.open is not None:
        raise Refusal(
            "batch-open", f"batch {station.open.id} is open", "park, close or abandon it first"
        )
    formula = command.opened.formula
    known = station.formulas.get((formula.name, formula.revision))
    if known is not None and known != formula:
        raise Refusal(
            "formula-changed",
            f"{formula.name} revision {formula.revision} was used with another"
            f" {_difference(known, formula)}",
            "give the changed formula a new revision",
        )
    asks = Offer("open", command.asked, danger=True)
    washed = _washed_down(station, formula, command.opened.people, command.washed, asks)
    warned = [ev.Warned(line, "not judged", text) for line, text in command.warnings]
    return Decision((command.opened, *washed, *warned), answer=command.batch)


def _washed_down(
    station: Station, formula: Formula, people: Sequence[str], washed: str | None, asks: Offer
) -> list[ev.Event]:
    """Who washed down what was on the bench and is not in the formula; nothing where that is
    nothing. Raises the question who did; `asks` is the call that is asked again with a name."""
    has = {name.casefold() for line in formula.additions for name in line.allergens}
    found = {name: batch for name, batch in station.soiled.items() if name.casefold() not in has}
    if not found:
        return []
    if washed is not None:
        return [ev.WashedDown(tuple(sorted(found)), washed)]
    what = ", ".join(f"{name} of batch {batch}" for name, batch in sorted(found.items()))
    offers = [
        replace(asks, params={**asks.params, "washed": name}, means=f"{name} washed down")
        for name in people
    ]
    raise Refusal(
        "wash-down",
        f"on the bench is {what}, and {formula.name} has none",
        "wash down bench, tools and hands, then say who did",
        None,
        offers,
    )


def _difference(old: Formula, new: Formula) -> str:
    """The first part that differs, named."""
    before, after = _parts(old), _parts(new)
    for name in sorted({*before, *after}):
        if before.get(name) != after.get(name):
            return repr(name)
    return "head or order of lines"


def _parts(formula: Formula) -> dict[str, object]:
    parts: dict[str, object] = {meat.name: meat for meat in formula.meats}
    parts |= {addition.name: addition for addition in formula.additions}
    return parts | {step.name: step for step in formula.steps}


@decides
def park(sight: Sight, command: do.Park) -> Decision:
    """Make room for another batch. What stands in cups stays with this one; what stays on a pan is
    noted and expected there when it comes back."""
    batch = sight.facts.open_batch()
    for line in batch.lines.values():
        if line.tare is not None or line.voiding is not None:
            raise Refusal(
                "under-way", f"{line.name} is under way", "finish it, or void it", line.name
            )
    if (tally := batch.tally) is not None:
        raise Refusal("under-way", f"{tally.called} are counted", "end them first", tally.name)
    left = {}
    for name, pan in sight.pans.items():
        if pan.troubles or pan.empty:
            continue
        if pan.settled is None:
            raise Refusal("not-settled", f"{name} is not settled", "wait until it is, then park")
        left[name] = pan.settled.gross_g
    answer = f"batch {batch.id} is parked: take-up {batch.id} brings it back"
    return Decision((ev.Parked(left, batch.who),), answer=answer)


@decides
def take_up(sight: Sight, command: do.TakeUp) -> Decision:
    """Bring a parked batch back to the bench."""
    station = sight.station
    if station.open is not None:
        raise Refusal("batch-open", f"batch {station.open.id} is at the bench", "park it first")
    batch = station.parked.get(command.batch)
    if batch is None:
        waiting = ", ".join(station.parked) or "none is parked"
        raise Refusal("unknown-batch", f"no batch {command.batch} is parked", waiting)
    asks = Offer("take-up", {"batch": batch.id}, danger=True)
    washed = _washed_down(station, batch.formula, batch.opened.people, command.washed, asks)
    gone = tuple(name for name, gross in batch.left.items() if _gone(sight.pans, name, gross))
    events: list[ev.Event] = [ev.TakenUp(gone, station.last_who or batch.who), *washed]
    answer = f"batch {batch.id} is at the bench again"
    for name in gone:
        weight = shown(batch.left[name], batch.scale(name).division_g)
        text = f"{weight} g stayed on {name} when it was parked and is not there now"
        events.append(ev.Warned(name, "left", text))
        answer += f"; {text}"
    if command.authority not in (None, batch.opened.authority):
        text = f"it is judged by the limits of {batch.opened.authority}, as it was opened; those of"
        text += f" {command.authority} hold for the next one"
        events.append(ev.Warned(batch.id, "authority", text))
        answer += f"; {text}"
    return Decision(tuple(events), answer=answer)


def _gone(pans: Pans, scale: str, gross_g: Decimal) -> bool:
    """Whether something else than that weight is seen on the pan."""
    pan = pans.get(scale)
    if pan is None or pan.settled is None or pan.troubles:
        return False
    return abs(pan.settled.gross_g - gross_g) > pan.scale.near_g
