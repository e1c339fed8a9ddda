"""What is opened again because the lift that accepted it was a zeroing."""

from station.batch import events as ev
from station.batch.line import Line
from station.batch.state import Station
from station.pan.view import Pan
from station.weighing import commands as do
from station.weighing.commands import Decision
from station.weighing.deciders import decides
from station.weighing.sight import Sight


@decides
def see_undershot(sight: Sight, command: do.SeeUndershot) -> Decision:
    """Reopen what was accepted by a lift that was none: the untipped line whose vessel weighs what
    the pan now shows under zero, or every one accepted there where none does."""
    batch, pan = sight.station.find(command.batch), sight.pans[command.scale]
    if batch is None:
        return Decision()
    scale = pan.scale.name
    lines = [line for line in batch.lines.values() if reopenable(line, scale)]
    lines = [line for line in lines if _weighs_short(line, pan)] or lines
    reason = f"{scale} was tared or zeroed while loaded"
    return Decision(tuple(ev.Reopened(line.name, scale, reason) for line in lines))


def undershot_in(station: Station, pan: Pan) -> list[str]:
    """The batches whose acceptance hangs on a lift that was a zeroing: those with a vessel that
    weighs what the pan shows under zero, or all of them where none does."""
    if pan.short_g is None:
        return []
    hanging = {
        batch.id: [line for line in batch.lines.values() if reopenable(line, pan.scale.name)]
        for batch in station.unfinished
    }
    same = [b for b, lines in hanging.items() if any(_weighs_short(line, pan) for line in lines)]
    return same or [b for b, lines in hanging.items() if lines]


def _weighs_short(line: Line, pan: Pan) -> bool:
    gross = line.loads[-1].gross_g
    return pan.short_g is not None and abs(gross - pan.short_g) <= pan.scale.near_g


def reopenable(line: Line, scale: str) -> bool:
    """Whether the line's acceptance hangs on a lift from that scale, and is not tipped."""
    last = line.loads[-1] if line.loads else None
    return (
        line.accepted is not None
        and line.tare is None
        and line.voiding is None
        and last is not None
        and not last.tipped
        and last.by_hand is None  # a typed figure hangs on no lift
        and last.scale == scale
    )
