"""Whether a scale may be told something now: zero with an empty pan only, and never tare."""

from station.batch.state import Station
from station.pan.jump import LEAST_DIVISIONS
from station.weighing.commands import Pans, Refusal, TellScale

_MENDED = frozenset({"zero", "zeroed", "underload"})
"""What a zero, or clearing the tare, may put right."""


def may_tell(station: Station, command: TellScale, pans: Pans) -> None:
    """Raise `Refusal` unless the order may be sent to the scale."""
    pan = pans.get(command.scale)
    if pan is None:
        raise Refusal("unknown-scale", f"no scale is named {command.scale}", ", ".join(pans))
    for trouble in pan.troubles:
        if trouble.reason not in _MENDED:
            raise Refusal(f"blocked-{trouble.reason}", trouble.sentence, trouble.next)
    if command.order != "zero":
        return
    for batch in station.unfinished:
        for line in batch.lines.values():
            if line.tare is not None and line.tare.scale == command.scale:
                what = f"{line.name} is being weighed there: its tare hangs on the zero"
                raise Refusal("under-way", what, "finish it, or void it", line.name)
    most = LEAST_DIVISIONS * pan.scale.division_g
    if pan.settled is None or abs(pan.settled.gross_g) > most:
        what = f"{command.scale} is not empty and settled"
        raise Refusal("not-empty", what, "lift everything off, wipe the pan, wait")
