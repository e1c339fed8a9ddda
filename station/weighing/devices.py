"""What answers under a scale's name: recorded when it is new, confirmed when it is another."""

from station.batch import events as ev
from station.batch.state import Station
from station.pan.device import unlike
from station.pan.view import Pan
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight


def is_new(station: Station, pan: Pan) -> bool:
    """Whether what answers is to be recorded without a question: the first under this name, or the
    one on record, whose port did not say before what it is. Never while something is weighed
    there: its tare is of what was there before."""
    known, now = station.scales.get(pan.scale.name), pan.device
    if now is None or (known is not None and known.device.identity == now.identity):
        return False  # asked at each reading: what is cheap comes first
    if station.weighed_on(pan.scale.name) is not None:
        return False
    if known is None:
        return True
    spoke = known.device.identity is None
    return spoke and not unlike(known.scale, known.device, pan.scale, now)


@decides
def see_scale(sight: Sight, command: do.SeeScale) -> Decision:
    pan = sight.pans[command.scale]
    if pan.device is None or not is_new(sight.station, pan):
        return Decision()
    return Decision((ev.ScaleKnown(pan.scale, pan.device, None),))


@decides
def confirm_scale(sight: Sight, command: do.ConfirmScale) -> Decision:
    """A person says that another scale is to be used. Raises `Refusal` where none answers, or while
    a line is being weighed there: its tare was taken on the scale on record."""
    pan, known = sight.pan(command.scale), sight.station.scales.get(command.scale)
    if pan.device is None:
        raise Refusal("no-device", f"nothing answers as {command.scale}", "attach a scale")
    found = known and unlike(known.scale, known.device, pan.scale, pan.device)
    if not found:
        what = f"{command.scale} is the scale on record"
        raise Refusal("same-scale", what, "nothing is to be confirmed")
    if (line := sight.station.weighed_on(command.scale)) is not None:
        what = f"the tare of {line.name} was taken on the scale on record"
        raise Refusal("under-way", what, "attach that one, or void the line", line.name)
    event = ev.ScaleKnown(pan.scale, pan.device, sight.station.last_who)
    return Decision((event,), answer=f"{command.scale} is another scale from now on: {found}")
