"""How long a step of the process has gone on, against the time that the formula gives it."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from station import units
from station.batch.progress import current, stands_before
from station.batch.state import Batch
from station.formula.model import Step


@dataclass(frozen=True, slots=True)
class Timing:
    """Whole seconds since the step had its turn, and the least and the most that is meant."""

    elapsed_s: int
    least_s: Decimal | None
    most_s: Decimal | None

    @property
    def too_soon(self) -> bool:
        """Whether the least is not reached."""
        return self.least_s is not None and self.elapsed_s < self.least_s

    @property
    def due(self) -> bool:
        """Whether the least is reached."""
        return self.least_s is not None and not self.too_soon

    @property
    def too_long(self) -> bool:
        """Whether the most is passed."""
        return self.most_s is not None and self.elapsed_s > self.most_s

    @property
    def told(self) -> str:
        """How long it was, for people: whole minutes, seconds below one."""
        return minutes(self.elapsed_s)


def minutes(seconds: int) -> str:
    return f"{seconds} s" if seconds < 60 else f"{seconds // 60} min"


def begun(batch: Batch) -> str | None:
    """The step that has its turn and was not under way before, or None."""
    name = current(batch)
    if name is None or name in batch.step_since or not isinstance(batch.step(name), Step):
        return None
    return None if stands_before(batch, name) else name


def timing(batch: Batch, name: str, now: str) -> Timing | None:
    """Of the step `name` at the moment `now` (RFC 3339); None where its time is not known or no
    time is meant. A clock that was set back gives no time at all."""
    step, since = batch.step(name), batch.step_since.get(name)
    if not isinstance(step, Step) or step.time is None or since is None or not now:
        return None
    return between(step, since, now)


def between(step: Step, began: str | None, ended: str) -> Timing | None:
    """How long a step went on, from RFC 3339 to RFC 3339; None where no time is meant or its
    beginning is not known."""
    if step.time is None or began is None:
        return None
    passed = datetime.fromisoformat(ended) - datetime.fromisoformat(began)
    least, most = units.least_and_most(step.time, units.seconds)
    return Timing(max(int(passed.total_seconds()), 0), least, most)
