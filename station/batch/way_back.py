"""The way back from too much in the mix: the least more meat that makes it right again, and what
every other line then lacks. Nothing comes out of a mix; it only becomes more."""

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.lawful import breaches
from station.batch.line import Line
from station.batch.progress import lacking
from station.batch.state import Batch
from station.batch.timing import clocks
from station.formula.cautions import heats
from station.metrology.band import inward, tolerance

MOST_G = 1_000_000
"""More meat than this is none that a kitchen can mince."""


@dataclass(frozen=True, slots=True)
class Over:
    """A line of which more is in the mix than the meat bears; grams, on the grid of the scale that
    weighed it (`division_g`). `upper_g` is the most of its band; `at_least`: more went in, and
    nobody knows how much."""

    line: str
    actual_g: Decimal
    upper_g: Fraction
    division_g: Decimal
    at_least: bool = False

    @property
    def most_g(self) -> Decimal:
        """The most of its band that the scale can show."""
        return inward(Fraction(0), self.upper_g, self.division_g)[1]


@dataclass(frozen=True, slots=True)
class TopUp:
    """What a line lacks once the meat is in; grams, of a scale with `division_g`."""

    line: str
    add_g: Fraction
    target_g: Fraction
    division_g: Decimal


@dataclass(frozen=True, slots=True)
class WayBack:
    """`meat_g`: the meat block that it takes, `add_meat_g` how much more that is than there is now;
    None where no meat is enough, and `why_not` says why."""

    over: tuple[Over, ...]
    meat_g: Decimal | None
    add_meat_g: Decimal | None
    top_up: tuple[TopUp, ...] = ()
    why_not: str | None = None

    @property
    def possible(self) -> bool:
        return self.meat_g is not None


def too_much(batch: Batch) -> bool:
    """Whether more of something is in the mix than the meat bears."""
    return bool(_over(batch))


def with_meat_at_hand(batch: Batch, grams: Decimal) -> tuple[Over, ...]:
    """What stays over, and over what, with so much more meat."""
    return _over(_with(batch, grams))


def way_back(batch: Batch, now: str = "") -> WayBack:
    """The least meat, to the division of the scale that weighed it, by which nothing in the mix is
    over its band or its limit, and what must be weighed on top then. None is, where the mix is not
    raw any more, some of it is filled, or it was out of the cold for too long at the moment `now`
    (RFC 3339).

    M' = max actual_i / (amount_i (1 + upper band_i)) for a formula in percent of the meat; found by
    trying, so that fixed amounts, amounts on the mix, and the uncertainty of one more load of meat
    count as they are judged.
    """
    over = _over(batch)
    if (why := too_late(batch, now) or _unknown(batch)) is not None:
        return WayBack(over, None, None, why_not=why)
    if _right(batch):
        return WayBack(over, batch.meat_g, Decimal(0), _top_ups(batch))
    if (step := _grid_g(batch)) is None:
        return WayBack(over, None, None, why_not="no meat is weighed yet")
    low, high = 0, 1
    while not _right(_with(batch, high * step)):
        low, high = high, high * 2
        if high * step > MOST_G:
            names = ", ".join(part.line for part in over)
            return WayBack(over, None, None, why_not=f"no meat is enough for {names}")
    while high - low > 1:
        middle = (low + high) // 2
        if _right(_with(batch, middle * step)):
            high = middle
        else:
            low = middle
    after = _with(batch, high * step)
    return WayBack(over, after.meat_g, high * step, _top_ups(after))


def _grid_g(batch: Batch) -> Decimal | None:
    """The coarsest division that meat was weighed with, grams; None before any was."""
    divisions = [load.division_g for meat in batch.meats.values() for load in meat.loads]
    return max(divisions, default=None)


def too_late(batch: Batch, now: str) -> str | None:
    """Why nothing more can be mixed in, or None while it is raw, unfilled and inside its time."""
    if batch.apart is not None:
        return batch.apart
    return heated(batch) or out_too_long(batch, now)


def heated(batch: Batch) -> str | None:
    """Why the mix is not raw any more; None where it is."""
    for step in batch.formula.steps:
        if heats(step) and step.name in batch.steps_done and step.name not in batch.steps_skipped:
            return f"{step.name} is done: it is not raw any more"
    return None


def out_too_long(batch: Batch, now: str) -> str | None:
    """Why it was out of the cold for too long at the moment `now`; None where it was not."""
    for clock in clocks(batch, now):
        if clock.took.too_long and clock.from_first_meat:
            return f"{clock.says}: too long out of the cold"
    return None


def _unknown(batch: Batch) -> str | None:
    """Why nobody can say how much meat it takes."""
    for line in batch.lines.values():
        if line.unknown:
            return f"nobody knows how much {line.name} is in the mix"
        if line.in_doubt and batch.limited(line.name):
            return f"nobody saw where some {line.name} went: that comes first"
        if line.strange and any(load.tipped for load in line.loads):
            return f"another cure than the formula's is in the mix as {line.name}"
    return None


def _upper_g(batch: Batch, line: Line) -> Fraction:
    return tolerance(batch.target(line.name), batch.band(line.name))[1]


def _in_mix(batch: Batch) -> list[Line]:
    return [line for line in batch.lines.values() if any(load.tipped for load in line.loads)]


def _over(batch: Batch) -> tuple[Over, ...]:
    """The lines that are over their band, or bring what a limit has too much of."""
    agents = {agent for breach in breaches(batch) for agent in breach.row.agents}
    return tuple(
        _as_over(batch, line)
        for line in _in_mix(batch)
        if _over_band(batch, line) or agents & set(line.blend)
    )


def _as_over(batch: Batch, line: Line) -> Over:
    upper = _upper_g(batch, line)
    return Over(line.name, line.tipped_g, upper, line.grid_g, line.unknown)


def _over_band(batch: Batch, line: Line) -> bool:
    """Whether more of it is in the mix than its band allows."""
    return line.meant_g(tipped_only=True) > _upper_g(batch, line)


def _right(batch: Batch) -> bool:
    """Whether nothing in the mix is over its band, and all of it is lawful."""
    if any(_over_band(batch, line) for line in _in_mix(batch)):
        return False
    return not breaches(batch)


def _with(batch: Batch, grams: Decimal) -> Batch:
    """The batch with one more load of meat, weighed where the coarsest was."""
    name, meat = next(iter(batch.meats.items()))
    division = _grid_g(batch) or grams
    load = ev.MeatWeighed(name, grams, grams, Decimal(0), "", division, "", "", "")
    more = replace(meat, loads=(*meat.loads, load))
    return replace(batch, meats={**batch.meats, name: more})


def _top_ups(batch: Batch) -> tuple[TopUp, ...]:
    """What each line that was weighed lacks of its target; others are weighed in their turn."""
    return tuple(
        TopUp(line.name, target - line.meant_g(), target, line.grid_g)
        for line in batch.lines.values()
        if line.loads and lacking(batch, line)
        for target in (batch.target(line.name),)
    )
