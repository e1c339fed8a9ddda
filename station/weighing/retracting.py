"""A word taken back: what was said to be in the mix stands all the same."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.cups import held_in
from station.batch.line import Line, Load
from station.batch.state import Batch
from station.pan.view import Settled
from station.weighing import commands as do
from station.weighing.commands import WHY, Decision, Offer, Refusal
from station.weighing.people import others
from station.weighing.sight import Sight


def still_stands(sight: Sight, line: Line, command: do.Void) -> Decision:
    """Take back that the line is in the mix, where that is one person's word, and its vessel is on
    its scale as it was or a second person says so too. Its content may have gone in and been poured
    again: what a rule limits counts twice for the most until a second person or the jar says no."""
    batch = sight.facts.open_batch()
    if line.tare is not None or line.standing or line.voiding is not None:
        raise Refusal("under-way", f"{line.name} is under way", "finish it, or void it", line.name)
    said = line.last_said_tipped
    if not said:
        what = f"{line.name} was seen to be in the mix" if line.loads else f"no {line.name} is in"
        way = "only the way back is left" if line.loads else "go on"
        raise Refusal("seen-in", what, way, line.name)
    last, seen = said[-1], _as_it_was(sight, said[-1])
    if command.second is None and not _provable(sight, batch, line):
        known = _content_g(said) is not None and last.vessel is not None
        where = f"put {last.vessel} on {last.scale} as it was, or " if known else ""
        what = f"only you say that {line.name} is not in the mix"
        step = f"{where}let a second person say so"
        raise Refusal("unseen", what, step, line.name, _seconds(batch, line))
    empty_g = None if last.was_accepted else _empty_g(sight, line, last)
    event = ev.TippedInWord(
        line=line.name,
        vessel=last.vessel,
        reason=command.reason,
        who=batch.who,
        scale=last.scale if seen else None,
        seen_g=seen.gross_g if seen else None,
        content_g=_content_g(said),
        division_g=last.division_g,
        lot=last.lot,
        doubted=command.second is None and batch.limited(line.name),
        second=command.second,
        on=None if empty_g is None else last.scale,
        tare_g=empty_g,
    )
    stands = "stands" if last.was_accepted else "is weighed on"
    return Decision((event,), happened=True, answer=f"{line.name} {stands}: it is not in the mix")


def takes_back(sight: Sight, batch: Batch) -> list[Offer]:
    """To say of each line that was only said to be in the mix that it is not."""
    lines = [line for line in batch.lines.values() if line.last_said_tipped]
    idle = [line for line in lines if line.tare is None and line.voiding is None]
    found: list[Offer] = []
    for line in idle:
        if _provable(sight, batch, line):
            means = f"{line.name} is not in, it stands"
            params = {"line": line.name, "reason": WHY, "said_tipped": True}
            found.append(Offer("void", params, danger=True, means=means))
        else:
            found += _seconds(batch, line)
    return found


def _provable(sight: Sight, batch: Batch, line: Line) -> bool:
    """Whether one person can say it alone: how much it is is known, and its vessel shows it, or
    nothing hangs on the line."""
    said = line.last_said_tipped
    if _content_g(said) is None:
        return False
    hangs = batch.guarded(line.name) or batch.must_have(line.name)
    return not hangs or _as_it_was(sight, said[-1]) is not None


def _content_g(said: tuple[Load, ...]) -> Decimal | None:
    """All that was said to be in, grams; None where nobody knows how much."""
    if any(load.net_g is None for load in said):
        return None
    return sum((load.actual_g for load in said), Decimal(0))


def _as_it_was(sight: Sight, load: Load) -> Settled | None:
    """The vessel of a load as it stands on its scale with all that was weighed into it, or None."""
    pan = sight.pans.get(load.scale or "")
    vessel = sight.station.vessels.get(load.vessel or "")
    if pan is None or pan.settled is None or pan.troubles or vessel is None or load.net_g is None:
        return None
    if held_in(sight.station, vessel.name) is not None:
        return None
    gross = load.gross_g or vessel.empty_g + load.net_g
    return pan.settled if abs(pan.settled.gross_g - gross) <= pan.scale.near_g else None


def _empty_g(sight: Sight, line: Line, load: Load) -> Decimal | None:
    """The empty weight of the vessel in which what was not accepted still is; None where it never
    was in one. Raises `Refusal` where its weighing cannot go on: what is in it would be forgotten,
    and could go in later."""
    if load.vessel is None:
        return None
    vessel = sight.station.vessels.get(load.vessel)
    if vessel is None or load.net_g is None:
        what = f"nobody knows how much {line.name} stands in {load.vessel}"
        raise Refusal("no-amount", what, "it stays as if it were in the mix", line.name)
    if (content := held_in(sight.station, vessel.name)) is not None:
        what = f"{vessel.name} holds {content}"
        raise Refusal("vessel-taken", what, f"tip {content}, or void it", line.name)
    if (other := sight.station.weighed_on(load.scale or "")) is not None:
        what = f"{other.name} is being weighed on {load.scale}"
        raise Refusal("under-way", what, "finish it, or void it", line.name)
    return vessel.empty_g


def _seconds(batch: Batch, line: Line) -> list[Offer]:
    """Who else may say that the line is not in the mix."""
    params = {"line": line.name, "reason": WHY, "said_tipped": True}
    return [
        Offer("void", {**params, "second": n}, danger=True, means=f"{n} too: {line.name} is not in")
        for n in others(batch)
    ]
