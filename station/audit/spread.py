"""How far a line is off its target, batch by batch, and whether that is chance."""

from collections.abc import Iterable

import msgspec

from station.audit.control import FEW, average_limits, chart, signals
from station.ledger.tables import Row


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """One batch's difference in percent of the target, as on its sheet."""

    batch: str
    at: str
    diff_pct: str
    formula: str
    revision: int
    verdict: str | None
    by_hand: str | None


class LeftOut(msgspec.Struct, frozen=True):
    """A batch that has the line and no figure of it, and why."""

    batch: str
    at: str
    reason: str


class Sign(msgspec.Struct, frozen=True):
    """What is not chance: the batch that shows it, the rule, and what it says there."""

    batch: str
    rule: str
    text: str


class Spread(msgspec.Struct, frozen=True, kw_only=True):
    """The chart of a line: statistics are numbers, null where there are too few points. `sd_pct` is
    of all points; the limits are three `sigma_pct` from the center, sigma by the mean moving range.
    `provisional`: so few points that the limits still move."""

    line: str
    n: int
    mean_pct: float | None
    sd_pct: float | None
    center_pct: float | None
    lcl_pct: float | None
    ucl_pct: float | None
    sigma_pct: float | None
    range_mean_pct: float | None
    range_ucl_pct: float | None
    ewma_lcl_pct: float | None
    ewma_ucl_pct: float | None
    provisional: bool
    signals: tuple[Sign, ...]
    points: tuple[Point, ...]
    left_out: tuple[LeftOut, ...]


def spread(line: str, rows: Iterable[Row]) -> Spread:
    """The chart from the rows of table `addition`, in their order. A figure counts once it was
    accepted, or is in the mix; the figure used is the one that the sheet prints."""
    points: list[Point] = []
    left_out: list[LeftOut] = []
    for row in rows:
        if row["difference_pct"] is not None and row["verdict"] is not None:
            points.append(_point(row))
        else:
            left_out.append(LeftOut(row["batch"], row["at"] or row["opened_at"], _why(row)))
    figures = [float(point.diff_pct) for point in points]
    found = chart(figures)
    average = (
        (None, None)
        if found.mean is None or found.sigma is None
        else average_limits(found.mean, found.sigma)
    )
    return Spread(
        line=line,
        n=found.n,
        mean_pct=_rounded(found.mean),
        sd_pct=_rounded(found.sd),
        center_pct=None if found.sigma is None else _rounded(found.mean),
        lcl_pct=_rounded(found.lower),
        ucl_pct=_rounded(found.upper),
        sigma_pct=_rounded(found.sigma),
        range_mean_pct=_rounded(found.mean_range),
        range_ucl_pct=_rounded(found.range_upper),
        ewma_lcl_pct=_rounded(average[0]),
        ewma_ucl_pct=_rounded(average[1]),
        provisional=found.n < FEW,
        signals=tuple(
            Sign(points[signal.at].batch, signal.rule, signal.text) for signal in signals(figures)
        ),
        points=tuple(points),
        left_out=tuple(left_out),
    )


def _point(row: Row) -> Point:
    return Point(
        batch=row["batch"],
        at=row["at"],
        diff_pct=row["difference_pct"],
        formula=row["formula"],
        revision=row["revision"],
        verdict=row["verdict"],
        by_hand=row["by_hand"],
    )


def _why(row: Row) -> str:
    if row["unknown_more"]:
        return f"more went in than was weighed, nobody knows how much ({row['unknown_more']})"
    if row["verdict"] == "skipped":
        return "skipped"
    if row["actual_text"] is not None:
        return f"{row['actual_text']} g were weighed and never accepted; batch {row['state']}"
    if row["verdict"] is not None:
        return "counted in pieces, not weighed"
    return f"not weighed; batch {row['state']}"


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 4)
