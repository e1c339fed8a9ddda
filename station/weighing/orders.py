"""Whether a scale may be told something now: zero with an empty pan only, and never tare."""

from station.batch import events as ev
from station.pan.jump import LEAST_DIVISIONS
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight

_MENDED = frozenset({"zero", "zeroed", "underload"})
"""What a zero, or clearing the tare, may put right."""


def may_tell(sight: Sight, command: do.TellScale) -> None:
    """Raise `Refusal` unless the order may be sent to the scale."""
    pan = sight.pan(command.scale)
    for trouble in pan.troubles:
        if trouble.reason not in _MENDED:
            raise Refusal(f"blocked-{trouble.reason}", trouble.sentence, trouble.next)
    if command.order != "zero":
        return
    if (line := sight.station.weighed_on(command.scale)) is not None:
        what = f"{line.name} is being weighed there: its tare hangs on the zero"
        raise Refusal("under-way", what, "finish it, or void it", line.name)
    most = LEAST_DIVISIONS * pan.scale.division_g
    if pan.settled is None or abs(pan.settled.gross_g) > most:
        what = f"{command.scale} is not empty and settled"
        raise Refusal("not-empty", what, "lift everything off, wipe the pan, wait")


@decides
def told(sight: Sight, command: do.TellScale) -> Decision:
    """The scale has carried the order out."""
    event = ev.ScaleTold(command.scale, command.order, sight.station.last_who)
    return Decision((event,), answer=f"{command.scale}: {command.order} is done")
