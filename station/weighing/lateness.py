"""Recording how late a scale is: asked for with weights set down, or told by ordinary work."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.state import Station
from station.pan.lag import LEAST_STEPS, Told, refined, told_by
from station.pan.view import Pan
from station.units import plain, rounded
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight


@decides
def record_lag(sight: Sight, command: do.RecordLag) -> Decision:
    """What the last steps tell. Raises `Refusal` with what they lack."""
    pan = sight.pan(command.scale)
    if pan.scale.sends == "stable":
        what = f"{command.scale} sends only what is stable: it has no pour watch"
        raise Refusal("no-lag", what, "nothing is to be measured")
    told = told_by(pan.steps)
    if told is None:
        clear = sum(step.window_s is not None for step in pan.steps)
        why = next((step.why for step in reversed(pan.steps) if step.why), "")
        what = f"{clear} clear steps were seen on {command.scale}"
        if clear >= LEAST_STEPS:
            what = f"the last steps on {command.scale} disagree"
        step = f"set a weight down and lift it, until {LEAST_STEPS} agree"
        raise Refusal("no-steps", f"{what}; {why}" if why else what, step)
    event = _measured(command.scale, told, False, sight.station.last_who)
    answer = (
        f"{command.scale}: {told.shape}, a window of {plain(event.window_s)} s"
        f" (spread {plain(event.spread_s)} s, {told.steps} steps)"
    )
    return Decision((event,), answer=answer)


@decides
def see_lag(sight: Sight, command: do.SeeLag) -> Decision:
    """The same from ordinary work."""
    told = _refined(sight.station, sight.pans[command.scale])
    if told is None:
        return Decision()
    return Decision((_measured(command.scale, told, True, None),))


def lag_seen(station: Station, pan: Pan) -> bool:
    """Whether ordinary work tells something new of a scale."""
    return _refined(station, pan) is not None


def _refined(station: Station, pan: Pan) -> Told | None:
    lag = station.lags.get(pan.scale.name)
    if lag is None:
        return refined(None, pan.steps)
    return refined(lag.window_s, pan.steps, may_shorten=lag.in_use)


def _measured(scale: str, told: Told, in_use: bool, who: str | None) -> ev.LagMeasured:
    window, spread = (rounded(Decimal(s), 3, up=True) for s in (told.window_s, told.spread_s))
    return ev.LagMeasured(scale, told.shape, window, spread, told.steps, in_use, who)
