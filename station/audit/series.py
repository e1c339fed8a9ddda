"""One figure a batch, batch by batch, and what of it is not chance."""

from collections.abc import Sequence

import msgspec

from station.audit.control import FEW, MEANING, average_limits, averages, chart, signals


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """One batch's figure as decimal text, as on its sheet."""

    batch: str
    at: str
    figure: str
    formula: str
    revision: int


class LeftOut(msgspec.Struct, frozen=True):
    """A batch without a figure, and why."""

    batch: str
    at: str
    reason: str


class Sign(msgspec.Struct, frozen=True):
    """What is not chance: the batch that shows it, the rule, what it says there, what it means."""

    batch: str
    rule: str
    text: str
    means: str = ""


class Statistics(msgspec.Struct, frozen=True, kw_only=True):
    """Of figures in their order, in their unit; None where there are too few. `sd` is of all of
    them; the limits are three `sigma` from the center, sigma by the mean moving range. `averages`:
    the moving average after each. `provisional`: so few figures that the limits still move."""

    n: int
    mean: float | None
    sd: float | None
    center: float | None
    lcl: float | None
    ucl: float | None
    sigma: float | None
    range_mean: float | None
    range_ucl: float | None
    ewma_lcl: float | None
    ewma_ucl: float | None
    averages: tuple[float, ...]
    provisional: bool
    signals: tuple[Sign, ...]


class Series(msgspec.Struct, frozen=True, kw_only=True):
    """Figures of one kind, in `unit`, with their statistics, and the batches that have none."""

    name: str
    unit: str
    statistics: Statistics
    points: tuple[Point, ...]
    left_out: tuple[LeftOut, ...]


def series(name: str, unit: str, points: Sequence[Point], left_out: Sequence[LeftOut]) -> Series:
    """The series of those points; every one of them counts."""
    figures = [float(point.figure) for point in points]
    made = statistics(figures, [point.batch for point in points])
    return Series(
        name=name, unit=unit, statistics=made, points=tuple(points), left_out=tuple(left_out)
    )


def statistics(figures: Sequence[float], batches: Sequence[str]) -> Statistics:
    """What the figures say together, each of one of the batches."""
    found = chart(figures)
    average = None if found.mean is None or found.sigma is None else (found.mean, found.sigma)
    lower, upper = (None, None) if average is None else average_limits(*average)
    return Statistics(
        n=found.n,
        mean=_rounded(found.mean),
        sd=_rounded(found.sd),
        center=None if average is None else _rounded(found.mean),
        lcl=_rounded(found.lower),
        ucl=_rounded(found.upper),
        sigma=_rounded(found.sigma),
        range_mean=_rounded(found.mean_range),
        range_ucl=_rounded(found.range_upper),
        ewma_lcl=_rounded(lower),
        ewma_ucl=_rounded(upper),
        averages=() if average is None else tuple(averages(figures, average[0])),
        provisional=found.n < FEW,
        signals=tuple(
            Sign(batches[signal.at], signal.rule, signal.text, MEANING[signal.rule])
            for signal in signals(figures)
        ),
    )


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 4)
