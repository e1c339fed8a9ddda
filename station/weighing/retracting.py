"""A word taken back: what was said to be in the mix stands all the same."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.cups import held_in
from station.batch.line import Line, Load
from station.batch.state import Batch
from station.pan.view import Pan
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
    last = said[-1]
    amounts = [load.net_g for load in said]
    content = None if None in amounts else sum(filter(None, amounts), Decimal(0))
    pan = sight.pans.get(last.scale or "")
    as_it_was = _as_it_was(sight, last, pan)
    proved = content is not None and (as_it_was or not _wants_proof(batch, line))
    if command.second is None and not proved:
        known = content is not None and last.vessel is not None
        where = f"put {last.vessel} on {last.scale} as it was, or " if known else ""
        what = f"only you say that {line.name} is not in the mix"
        step = f"{where}let a second person say so"
        raise Refusal("unseen", what, step, line.name, seconds(batch, line))
    empty_g = None if last.was_accepted else _empty_g(sight, line, last)
    event = ev.TippedInWord(
        line=line.name,
        vessel=last.vessel,
        reason=command.reason,
        who=batch.who,
        scale=last.scale if as_it_was else None,
        seen_g=pan.settled.gross_g if as_it_was and pan and pan.settled else None,
        content_g=content,
        division_g=max(load.division_g for load in said),
        lot=last.lot,
        doubted=command.second is None and batch.limited(line.name),
        second=command.second,
        on=None if empty_g is None else last.scale,
        tare_g=empty_g,
    )
    stands = "stands" if last.was_accepted else "is weighed on"
    return Decision((event,), happened=True, answer=f"{line.name} {stands}: it is not in the mix")


def _empty_g(sight: Sight, line: Line, load: Load) -> Decimal | None:
    """The empty weight of the vessel in which what was not accepted still is; None where it never
    was in one. Raises `Refusal` where its weighing cannot go on: what is in it would be forgotten,
    and could go in later."""
    vessel = sight.station.vessels.get(load.vessel or "")
    if load.vessel is None or load.scale is None:
        return None
    if vessel is None or load.net_g is None:
        what = f"nobody knows how much {line.name} stands in {load.vessel}"
        raise Refusal("unknown-amount", what, "it stays as if it were in the mix", line.name)
    if (content := held_in(sight.station, vessel.name)) is not None:
        what = f"{vessel.name} holds {content}"
        raise Refusal("vessel-taken", what, f"tip {content}, or void it", line.name)
    if (other := sight.station.weighed_on(load.scale)) is not None:
        what = f"{other.name} is being weighed on {load.scale}"
        raise Refusal("under-way", what, "finish it, or void it", line.name)
    return vessel.empty_g


def _wants_proof(batch: Batch, line: Line) -> bool:
    """Whether one person's word against the same person's word is too little."""
    return batch.guarded(line.name) or batch.must_have(line.name)


def _as_it_was(sight: Sight, load: Load, pan: Pan | None) -> bool:
    """Whether the vessel of a load stands on its scale with all that was weighed into it."""
    if pan is None or pan.settled is None or not pan.loaded or pan.troubles:
        return False
    vessel = sight.station.vessels.get(load.vessel or "")
    if load.net_g is None or vessel is None or held_in(sight.station, vessel.name) is not None:
        return False
    gross = load.gross_g if load.gross_g > 0 else vessel.empty_g + load.net_g
    return abs(pan.settled.gross_g - gross) <= pan.scale.near_g


def takes_back(sight: Sight, batch: Batch) -> list[Offer]:
    """To say of each line that was only said to be in the mix that it is not."""
    found: list[Offer] = []
    for line in batch.lines.values():
        if not (said := line.last_said_tipped) or line.tare is not None or line.voiding is not None:
            continue
        known = all(load.net_g is not None for load in said)
        pan = sight.pans.get(said[-1].scale or "")
        if known and (not _wants_proof(batch, line) or _as_it_was(sight, said[-1], pan)):
            means = f"{line.name} is not in, it stands"
            params = {"line": line.name, "reason": WHY, "said_tipped": True}
            found.append(Offer("void", params, danger=True, means=means))
        else:
            found += seconds(batch, line)
    return found


def seconds(batch: Batch, line: Line) -> list[Offer]:
    """Who else may say that the line is not in the mix."""
    return [
        Offer(
            "void",
            {"line": line.name, "reason": WHY, "said_tipped": True, "second": name},
            danger=True,
            means=f"{name} too: {line.name} is not in",
        )
        for name in others(batch)
    ]
