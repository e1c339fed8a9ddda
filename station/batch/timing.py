"""How long a step of the process has gone on, against the time that the formula gives it."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from station import units
from station.batch.progress import current, stands_before
from station.batch.state import Batch
from station.formula.model import FIRST_MEAT, Step


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


def begun(batch: Batch) -> list[str]:
    """The steps whose time is counted from now on and was not before."""
    found = [step.name for step in batch.formula.steps if _since_reached(batch, step)]
    name = current(batch)
    step = None if name is None or name in batch.step_since else batch.step(name)
    if isinstance(step, Step) and step.since is None and _may_begin(batch, step):
        found.append(step.name)
    return found


def _may_begin(batch: Batch, step: Step) -> bool:
    """Whether nothing stands before a step that has its turn, and all is filled where it comes
    after that."""
    if batch.formula.after_filling(step) and (batch.tally is not None or not batch.filled):
        return False
    return stands_before(batch, step.name) is None


def _since_reached(batch: Batch, step: Step) -> bool:
    """Whether the moment has come that the time of a step is counted from."""
    if step.since is None or step.name in batch.step_since:
        return False
    if step.since == FIRST_MEAT:
        return any(meat.loads for meat in batch.meats.values())
    return step.since in batch.steps_done


@dataclass(frozen=True, slots=True)
class Clock:
    """The time of a step of a batch, which runs from `since` (RFC 3339) whatever has its turn."""

    batch: str
    step: str
    since: str
    took: Timing
    from_first_meat: bool

    @property
    def says(self) -> str:
        """How far it is, for people."""
        told = f"{self.step}: {self.took.told}"
        bound = self.took.least_s if self.took.most_s is None else self.took.most_s
        assert bound is not None  # a time that is meant has one or the other
        if self.took.too_long:
            return f"{told}, {minutes(int(bound))} at most"
        return f"{told} of {minutes(int(bound))}"


def clocks(batch: Batch, now: str) -> list[Clock]:
    """The times that run and are counted from something before the step, at the moment `now`."""
    found = []
    for step in batch.formula.steps:
        if step.since is None or step.name in batch.steps_done:
            continue
        if (took := timing(batch, step.name, now)) is not None:
            began = batch.step_since[step.name]
            found.append(Clock(batch.id, step.name, began, took, step.since == FIRST_MEAT))
    return found


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
