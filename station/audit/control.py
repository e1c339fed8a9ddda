"""Individuals and moving range, and an exponentially weighted moving average (EWMA), of one figure
a batch. Figures are floats: these are statistics, nothing is weighed or judged by them.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals and moving range) and
6.3.2.4 (EWMA); the constants d2 and D4 of moving ranges of two from its table in 6.3.2.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import sqrt
from statistics import fmean, stdev

D2 = 1.128
"""Mean range of two, in standard deviations; 3 / D2 = 2.66 is the factor of the limits."""
D4 = 3.267
"""Upper limit of a moving range of two, in mean ranges."""
SIGMAS = 3
LAMBDA = 0.3
"""Weight of the newest figure in the average; that of the handbook's example."""
RUN = 8
NEAR, OF = 2, 3
"""Rules for runs of the Western Electric Statistical Quality Control Handbook (1956), which NIST
6.3.2 lists; from memory: 8 in a row on one side, 2 of 3 beyond two standard deviations."""
FEW = 20
"""Fewer figures make limits that still move; common practice asks for 20 or more."""

MEANING = {
    "beyond the limits": "one batch is unlike the others: look at what was different in it",
    "a jump": "two batches in a row differ more than batches do: something changed between them",
    "a run": "the middle has moved: look for another scale, lot, vessel or hand since it began",
    "two of three far out": "it has begun to move to one side: look at the next batches closely",
    "a drift": "small steps to one side add up: look for what changes slowly, as a scale may",
}
"""Rule -> what it means to whoever weighs."""


@dataclass(frozen=True, slots=True)
class Chart:
    """What the figures say together; None where there are too few. `sd` is of all figures, `sigma`
    by the mean moving range, from which the limits are."""

    n: int
    mean: float | None = None
    sd: float | None = None
    mean_range: float | None = None
    sigma: float | None = None
    lower: float | None = None
    upper: float | None = None
    range_upper: float | None = None


@dataclass(frozen=True, slots=True)
class Signal:
    """Figure number `at` (from 0) is a sign of something other than chance, by a rule."""

    at: int
    rule: str
    text: str


def chart(figures: Sequence[float]) -> Chart:
    """Every figure counts, whatever it is: none is left out as an outlier."""
    if len(figures) < 2:
        return Chart(len(figures), mean=figures[0] if figures else None)
    mean = fmean(figures)
    mean_range = fmean(abs(b - a) for a, b in pairwise(figures))
    sigma = mean_range / D2
    return Chart(
        len(figures),
        mean,
        stdev(figures),
        mean_range,
        sigma,
        mean - SIGMAS * sigma,
        mean + SIGMAS * sigma,
        D4 * mean_range,
    )


def averages(figures: Sequence[float], start: float) -> list[float]:
    """The EWMA after each figure, from a start on."""
    found = []
    for figure in figures:
        start = LAMBDA * figure + (1 - LAMBDA) * start
        found.append(start)
    return found


def average_limits(center: float, sigma: float) -> tuple[float, float]:
    """Lower and upper limit of the EWMA once it has run for a while."""
    half = SIGMAS * sigma * sqrt(LAMBDA / (2 - LAMBDA))
    return center - half, center + half


def signals(figures: Sequence[float]) -> list[Signal]:
    """What is not chance, in the order of the figures; nothing by fewer than two,
    or where all are the same."""
    found = chart(figures)
    if found.mean is None or not found.sigma:  # all the same: a mean that is rounded off is no sign
        return []
    off = [figure - found.mean for figure in figures]
    return sorted(
        [
            *_beyond(figures, found),
            *_jumps(figures, found),
            *_runs(off),
            *_near(off, found.sigma),
            *_drifts(figures, found.mean, found.sigma),
        ],
        key=lambda signal: signal.at,
    )


def _beyond(figures: Sequence[float], found: Chart) -> Iterator[Signal]:
    assert found.lower is not None and found.upper is not None
    for at, figure in enumerate(figures):
        if figure > found.upper:
            yield Signal(at, "beyond the limits", f"{figure:.2f} is above {found.upper:.3f}")
        elif figure < found.lower:
            yield Signal(at, "beyond the limits", f"{figure:.2f} is below {found.lower:.3f}")


def _jumps(figures: Sequence[float], found: Chart) -> Iterator[Signal]:
    assert found.range_upper is not None
    for at, (before, figure) in enumerate(pairwise(figures), 1):
        if (jump := abs(figure - before)) > found.range_upper:
            text = f"{jump:.2f} from the one before, more than {found.range_upper:.3f}"
            yield Signal(at, "a jump", text)


def _side(off: float) -> int:
    return (off > 0) - (off < 0)


def _runs(off: Sequence[float]) -> Iterator[Signal]:
    """One signal a run, at its last figure."""
    at = 0
    for side, run in groupby(off, key=_side):
        count = len(list(run))
        at += count
        if side and count >= RUN:
            yield Signal(at - 1, "a run", f"{count} in a row {_word(side)} the center")


def _near(off: Sequence[float], sigma: float) -> Iterator[Signal]:
    """Told at the figure that makes it so."""
    far = [_side(figure) if abs(figure) > 2 * sigma else 0 for figure in off]
    for at, side in enumerate(far):
        if side and far[max(at - OF + 1, 0) : at + 1].count(side) >= NEAR:
            text = (
                f"{NEAR} of {OF} in a row lie {_word(side)} the center by more than two thirds of"
                " the way to the limit"
            )
            yield Signal(at, "two of three far out", text)


def _drifts(figures: Sequence[float], center: float, sigma: float) -> Iterator[Signal]:
    """One signal each time the average leaves its limits."""
    lower, upper = average_limits(center, sigma)
    before = 0
    for at, average in enumerate(averages(figures, center)):
        side = (average > upper) - (average < lower)
        if side and side != before:
            limit = upper if side > 0 else lower
            text = f"the moving average {average:.3f} is {_word(side)} {limit:.3f}"
            yield Signal(at, "a drift", text)
        before = side


def _word(side: int) -> str:
    return "above" if side > 0 else "below"
