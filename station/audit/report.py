"""A period on paper: its batches, how far its lines and sums spread, what people decided."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

import msgspec

from station.audit.capability import AgainstBand, band_percent
from station.audit.decisions import DECIDED, Decided, decisions
from station.audit.limited import Limited, limited
from station.audit.listing import ListedBatch, listed
from station.audit.rows import WeighedAmount
from station.audit.series import LeftOut, Point, Series, series
from station.audit.sheets import sheets_of
from station.audit.spread import spread
from station.audit.stock import LotStock, stock
from station.audit.warned import WARNED, Warned, warned
from station.ledger.asking import Asked, Period
from station.ledger.tables import Row
from station.units import plain


class LineReport(msgspec.Struct, frozen=True):
    """A line's differences in percent of its target, beside the band of its last batch."""

    series: Series
    against: AgainstBand | None


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """A period. `unknown`: batches with an amount that nobody knows; `additions`: how many were
    weighed, `out`: so many of them out of their band, `unaccepted`: so many put in without being
    accepted; `salt` and `ingoing`: a series for each formula, as on its sheets."""

    batches: tuple[ListedBatch, ...]
    closed: int
    abandoned: int
    open: int
    meat_g: str
    additions: int
    out: int
    unaccepted: int
    unknown: int
    lines: tuple[LineReport, ...]
    salt: tuple[Series, ...]
    ingoing: tuple[Series, ...]
    lots: tuple[LotStock, ...]
    decisions: tuple[Decided, ...]
    warnings: tuple[Warned, ...]


class FigureRow(msgspec.Struct, frozen=True, kw_only=True):
    """One batch's figure in one of the report's series, or the reason why it has none there."""

    name: str
    unit: str
    batch: str
    at: str
    figure: str | None
    formula: str | None
    revision: int | None
    left_out: str | None


def figures(report: Report) -> Iterator[FigureRow]:
    """Every figure of the report's series, lines first, each series in the order of time."""
    for one in (*(line.series for line in report.lines), *report.salt, *report.ingoing):
        rows = [FigureRow(name=one.name, unit=one.unit, left_out=None, **msgspec.structs.asdict(p))
                for p in one.points]  # fmt: skip
        rows += [FigureRow(name=one.name, unit=one.unit, batch=out.batch, at=out.at, figure=None,
                           formula=None, revision=None, left_out=out.reason)
                 for out in one.left_out]  # fmt: skip
        yield from sorted(rows, key=lambda row: (row.at, row.batch))


def report_of(ledger: Asked, period: Period) -> Report:
    """The report of the batches opened in a period, and of what was weighed and decided in it."""
    batches = listed(ledger.batches(period))
    found = list(limited(ledger, [row.batch for row in batches]))
    states = [row.state for row in batches]
    closed, abandoned = states.count("closed"), states.count("abandoned")
    rows = ledger.additions(period)
    names = dict.fromkeys(name for one in found for name in one.lines)
    return Report(
        batches=batches,
        closed=closed,
        abandoned=abandoned,
        open=len(states) - closed - abandoned,
        meat_g=plain(sum((Decimal(row.meat_g) for row in batches), Decimal(0))),
        additions=sum(row["actual_text"] is not None for row in rows),
        out=sum(row["verdict"] == "out" for row in rows),
        unaccepted=sum(row["verdict"] == "unaccepted" for row in rows),
        unknown=len({row["batch"] for row in rows if row["unknown_more"]}),
        lines=tuple(_lines(ledger, period, names, rows)),
        salt=tuple(salt_series(batches)),
        ingoing=tuple(ingoing_series(batches, found)),
        lots=stock(ledger.all_lots(period)),
        decisions=tuple(decisions(ledger.events_in(period, DECIDED))),
        warnings=tuple(warned(ledger.events_in(period, WARNED))),
    )


def _lines(
    ledger: Asked, period: Period, names: Iterable[str], rows: Iterable[Row]
) -> Iterable[LineReport]:
    """Each line, its band by the sheet of the last batch that has a target for it."""
    last = {row["name"]: row["batch"] for row in rows if row["target_text"] is not None}
    bands = {
        (sheet.batch, row.name): band_percent(sheet.batch, row)
        for sheet in sheets_of(ledger, dict.fromkeys(last.values()))
        for row in sheet.additions
    }
    for name in names:
        band = bands.get((last.get(name, ""), name))
        found = spread(name, ledger.line(name, period), band)
        points = [
            Point(batch=p.batch, at=p.at, figure=p.diff_pct, formula=p.formula, revision=p.revision)
            for p in found.points
        ]
        made = series(name, "% off the target", points, found.left_out)
        yield LineReport(made, found.against_band)


def salt_series(batches: Iterable[ListedBatch]) -> list[Series]:
    """Total salt as weighed, percent of the meat, of the closed batches of each formula."""
    made = _Figures()
    for batch in batches:
        reason = _no_figure(batch, batch.salt_pct, batch.salt_at_least, "%")
        name = f"{batch.formula}: total salt"
        made.add(batch, name, "% of the meat", batch.salt_pct, reason)
    return made.all()


def ingoing_series(batches: Iterable[ListedBatch], found: Iterable[Limited]) -> list[Series]:
    """What went in of every agent that a rule limits, as weighed, of the closed batches of each
    formula, and of those that were abandoned with more than the law allows in them; `found`: of
    each of the batches, in their order."""
    made = _Figures()
    for batch, one in zip(batches, found, strict=True):
        for row in one.rows:
            name = f"{batch.formula}: {' and '.join(row.agents)}"
            reason = _no_figure(batch, row.actual, row.at_least, row.unit, _over(row))
            made.add(batch, name, _unit(row), row.actual, reason)
    return made.all()


def _unit(row: WeighedAmount) -> str:
    return f"{row.unit} of the {row.basis}"


def _over(row: WeighedAmount) -> bool:
    """Whether it is more than the law allows, whatever else was still to go in."""
    return row.actual is not None and Decimal(row.actual) > Decimal(row.limit)


def _no_figure(
    batch: ListedBatch, actual: str | None, at_least: bool, unit: str, over: bool = False
) -> str | None:
    """Why a batch has no figure of this kind: a least is no figure, nor is a batch half made,
    unless it was given up with too much in it."""
    if actual is None:
        return f"unknown; batch {batch.state}"
    if at_least:
        return f"at least {actual} {unit}: more went in, nobody knows how much"
    if batch.state != "closed" and not (over and batch.state == "abandoned"):
        return f"{actual} {unit} so far; batch {batch.state}"
    return None


class _Figures:
    """Figures gathered by name and unit."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str], tuple[list[Point], list[LeftOut]]] = {}

    def add(
        self, batch: ListedBatch, name: str, unit: str, figure: str | None, reason: str | None
    ) -> None:
        points, left_out = self._found.setdefault((name, unit), ([], []))
        if figure is None or reason is not None:
            left_out.append(LeftOut(batch.batch, batch.opened_at, reason or "unknown"))
        else:
            points.append(
                Point(
                    batch=batch.batch,
                    at=batch.opened_at,
                    figure=figure,
                    formula=batch.formula,
                    revision=batch.revision,
                )
            )

    def all(self) -> list[Series]:
        return [series(*key, points, out) for key, (points, out) in self._found.items()]
