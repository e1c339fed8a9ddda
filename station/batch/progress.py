"""Where a batch stands: what comes next, what is finished, in or out of its band."""

from typing import Literal

from station.batch.line import Line, Load
from station.batch.state import Batch
from station.metrology.band import tolerance

Phase = Literal["meat", "additions", "on hold", "done"]


def phase(batch: Batch) -> Phase:
    """Where the batch is."""
    if batch.end is not None:
        return "done"
    if batch.hold:
        return "on hold"
    return "additions" if batch.meat_ended else "meat"


def state_of(batch: Batch) -> str:
    """Its state in a word, as sheets and tables show it: parked, how it ended, else its phase."""
    return "parked" if batch.parked_at else batch.end or phase(batch)


def current(batch: Batch) -> str | None:
    """The meat line, addition or step whose turn it is; None when nothing is left to do."""
    if batch.end is not None:
        return None
    for meat in batch.meats.values():
        if not meat.ended:
            return meat.name
    for name in batch.order:
        line = batch.lines.get(name)
        if line is not None and batch.apart is not None:  # nothing can be mixed in any more
            continue
        if batch.hold:  # only what brings the batch back
            if line is not None and (line.tare or line.voiding or lacking(batch, line)):
                return name
        elif line is None:
            if name not in batch.steps_done:
                return name
        elif not finished(batch, line):
            return name
    return None


def stands_before(batch: Batch, step: str) -> str | None:
    """A line that must be in the mix before a step is done and still stands, or None."""
    for name in batch.order[: batch.order.index(step)]:
        line = batch.lines.get(name)
        if line is not None and line.standing:
            return name
    return None


def finished(batch: Batch, line: Line) -> bool:
    """Whether nothing more has to be weighed for the line."""
    if line.tare is not None or line.voiding is not None:
        return False
    if line.accepted is None:
        return line.unaccepted and not lacking(batch, line)
    if line.accepted.as_weighed:
        return True
    as_it_was = line.accepted.meat_g == batch.meat_g and line.wished is None
    return as_it_was or not lacking(batch, line)


def lacking(batch: Batch, line: Line) -> bool:
    """Whether what the line has is under its band for the meat as it is now."""
    if line.unknown or (line.standing and line.accepted is None):
        return False
    if not line.loads:
        return line.missing
    return line.meant_g() < tolerance(batch.target(line.name), batch.band(line.name))[0]


def by_word(batch: Batch, line: Line) -> list[Load]:
    """What of a line that the batch must have is in the mix by one person's word alone: whoever
    pressed a key may have forgotten the cup on the shelf. What went in unweighed on top of what was
    seen had no vessel, and the line is in without it."""
    if not batch.must_have(line.name):
        return []
    is_in = any(load.seen_in for load in line.loads)
    return [
        load
        for load in line.loads
        if load.tipped and not load.seen_in and not (is_in and load.scale is None)
    ]


def wants_bag(batch: Batch, line: Line) -> bool:
    """Whether a line still wants a bag that is open and in date."""
    if line.lot is None:
        return True
    expired = line.lot.expires is not None and line.lot.expires < batch.day
    done = line.accepted is not None or line.unaccepted
    return expired and not (done and not lacking(batch, line))


def verdict(batch: Batch, line: Line) -> str | None:
    """ "in", "out", "unaccepted", "skipped", or None while it is not decided.

    Judged by what is in the mix (or stands) against the band for the meat as it is now.
    """
    if line.unaccepted:
        return "unaccepted"
    if line.accepted is None:
        return "skipped" if line.skipped else None
    if line.accepted.as_weighed:
        return "out"
    lower, upper = tolerance(batch.target(line.name), batch.band(line.name))
    return "in" if lower <= line.meant_g() <= upper else "out"
