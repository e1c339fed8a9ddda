"""What was found at a step of the process, against the limits that the formula gives it."""

from dataclasses import dataclass
from typing import Literal

from station import units
from station.batch.timing import Timing
from station.formula.model import Step

Verdict = Literal["in", "out", "skipped", "unread"]
"""Inside its limits; outside; left out with a reason; a temperature is meant and none was read."""


@dataclass(frozen=True, slots=True)
class Judged:
    """`misses`: each limit that was not kept, in words."""

    verdict: Verdict
    misses: tuple[str, ...] = ()


def temperature_miss(step: Step, value: str | None) -> str | None:
    """What of the temperatures found is outside the step's limit; None where nothing is."""
    if step.temperature is None or value is None:
        return None
    least, most = units.least_and_most(step.temperature, units.celsius)
    for found in units.temperatures(value):
        if (least is not None and found < least) or (most is not None and found > most):
            return f"{value}, {step.temperature} is meant"
    return None


def unread(step: Step, value: str | None) -> bool:
    """Whether the step has a limit for a temperature and none was read."""
    return step.temperature is not None and not units.temperatures(value or "")


def judged(step: Step, took: Timing | None, value: str | None, skipped: bool) -> Judged:
    """A step that was ended after `took` (None where no time is meant, or known), by `value`."""
    if skipped:
        return Judged("skipped")
    misses = [] if (miss := temperature_miss(step, value)) is None else [miss]
    if took is not None and (took.too_soon or took.too_long):
        misses.append(f"{took.told}, {step.time} is meant")
    if misses:
        return Judged("out", tuple(misses))
    return Judged("unread" if unread(step, value) else "in")
