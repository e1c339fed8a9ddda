"""How far a line is off its target, batch by batch, and whether that is chance."""

from collections.abc import Iterable

import msgspec

from station.audit.capability import AgainstBand, BandPercent, against
from station.audit.series import LeftOut, Sign, statistics
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


class Spread(msgspec.Struct, frozen=True, kw_only=True):
    """The chart of a line: statistics are numbers, null where there are too few points. `sd_pct` is
    of all points; the limits are three `sigma_pct` from the center, sigma by the mean moving range.
    `provisional`: so few points that the limits still move. `against_band`: the spread beside the
    band that the line has now, null where it has none in percent."""

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
    against_band: AgainstBand | None = None


def spread(line: str, rows: Iterable[Row], band: BandPercent | None = None) -> Spread:
    """The chart from the rows of table `addition`, in their order. A figure counts once it was
    accepted, or is in the mix; the figure used is the one that the sheet prints. `band`: that of
    the last batch."""
    points: list[Point] = []
    left_out: list[LeftOut] = []
    for row in rows:
        if row["difference_pct"] is not None and row["verdict"] is not None:
            points.append(_point(row))
        else:
            left_out.append(LeftOut(row["batch"], row["at"] or row["opened_at"], _why(row)))
    found = statistics([float(p.diff_pct) for p in points], [p.batch for p in points])
    return Spread(
        line=line,
        n=found.n,
        mean_pct=found.mean,
        sd_pct=found.sd,
        center_pct=found.center,
        lcl_pct=found.lcl,
        ucl_pct=found.ucl,
        sigma_pct=found.sigma,
        range_mean_pct=found.range_mean,
        range_ucl_pct=found.range_ucl,
        ewma_lcl_pct=found.ewma_lcl,
        ewma_ucl_pct=found.ewma_ucl,
        provisional=found.provisional,
        signals=found.signals,
        points=tuple(points),
        left_out=tuple(left_out),
        against_band=None if band is None else against(band, found),
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
