"""What stands on each page: the answers, and the charts that are drawn of them."""

import re
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from station.audit.day import Day, DayBatch
from station.audit.drawn.bands import bands
from station.audit.drawn.control import plots
from station.audit.drawn.course import LANES, barring, course, lasted
from station.audit.drawn.drying import curves
from station.audit.label import Label
from station.audit.page import About, page
from station.audit.recall import Recall
from station.audit.report import LineReport, Report
from station.audit.rows import BatchSheet, RefusalRow
from station.audit.series import Series

MOST_POINTS = 24
"""Figures in a table of a page; its chart has all of them, and so have JSON and CSV."""

Local = Callable[[str], str]
Told = tuple[str, str | None, str]
"""When, about which line, what."""


def batch_page(sheet: BatchSheet, about: About, local: Local, made_at: str) -> str:
    """The sheet of a batch."""
    end = max([sheet.opened_at, *(span.end or span.begin for span in sheet.timeline)])
    barred = barring(sheet.timeline)
    return page(
        "batch.html",
        about,
        local,
        made_at,
        told_day=local(sheet.opened_at)[:10],
        sheet=sheet,
        chart=bands("additions", sheet.additions),
        course=course("course", sheet.timeline, sheet.opened_at, end, local),
        worked=[span for span in sheet.timeline if span not in barred],
        barred=barred,
        lasted=lasted,
        lanes=LANES,
        drying=curves("drying", sheet.dried),
        warnings=[(row.at, row.addition, row.text) for row in sheet.warnings],
        notes=[(row.at, None, f"{row.text} ({row.who})") for row in sheet.notes],
    )


def day_page(day: Day, next_step: str | None, about: About, local: Local, made_at: str) -> str:
    """A day at the bench."""
    bench: list[Told] = [(row.at, None, row.text) for row in day.bench]
    bench += [(row.at, None, f"{row.text} ({row.who})") for row in day.notes]
    return page(
        "day.html",
        about,
        local,
        made_at,
        day=day,
        next=next_step,
        parts=[
            {
                "batch": batch,
                "chart": bands(f"additions-{place}", batch.additions),
                "told": told(batch),
            }
            for place, batch in enumerate(day.batches)
        ],
        bench=sorted(bench, key=lambda row: row[0]),
    )


def told(batch: DayBatch) -> list[Told]:
    """What befell a batch on the day, in the order of time."""
    rows: list[Told] = [(s.at, s.name, f"{s.said}, {s.who}") for s in batch.steps]
    rows += [(row.at, row.addition, row.text) for row in batch.warnings]
    rows += [(row.at, row.addition, refused(row)) for row in batch.refusals]
    rows += [(row.at, None, f"{row.text} ({row.who})") for row in batch.notes]
    return sorted(rows, key=lambda row: row[0])


def refused(row: RefusalRow) -> str:
    """A refusal in words."""
    often = f" ({row.times} more like it)" if row.times > 1 else ""
    return f"refused{often}: {row.reason}"


def report_page(
    report: Report, span: str, next_step: str | None, about: About, local: Local, made_at: str
) -> str:
    """A period."""
    return page(
        "report.html",
        about,
        local,
        made_at,
        report=report,
        span=span,
        next=next_step,
        most=MOST_POINTS,
        chapters=[
            ("Lines, off their targets", [_line(n, r) for n, r in _numbered(report.lines)]),
            ("Total salt", [_series(f"salt-{n}", s) for n, s in _numbered(report.salt)]),
            ("Ingoing amounts", [_series(f"in-{n}", s) for n, s in _numbered(report.ingoing)]),
        ],
    )  # fmt: skip


class Phrase(NamedTuple):
    """A part of a label's text; `strong`: it names an allergen."""

    text: str
    strong: bool


def label_page(label: Label, text: Iterable[str], about: About, local: Local, made_at: str) -> str:
    """What a label may say, its `text` line by line, its allergens emphasised."""
    lines = [emphasised(line, label.allergens) for line in text]
    return page("label.html", about, local, made_at, label=label, lines=lines)


def emphasised(text: str, allergens: Iterable[str]) -> list[Phrase]:
    """The text in parts: each allergen that it names in capitals is one of its own."""
    names = sorted({name.upper() for name in allergens}, key=len, reverse=True)
    if not names:
        return [Phrase(text, strong=False)]
    cut = re.split(f"({'|'.join(map(re.escape, names))})", text)
    return [Phrase(part, strong=at % 2 == 1) for at, part in enumerate(cut) if part]


def recall_page(recall: Recall, took_s: str, about: About, local: Local, made_at: str) -> str:
    """Where a lot is."""
    return page("recall.html", about, local, made_at, recall=recall, took_s=took_s)


def _numbered(rows: Iterable[Any]) -> Iterable[tuple[int, Any]]:
    return enumerate(rows, 1)


def _series(key: str, found: Series) -> dict[str, Any]:
    return {
        "series": found, "against": None, "plots": plots(key, found), "band_left_out": False,
    }  # fmt: skip


_SQUASHED = 5
"""A band so many times as wide as figures and limits is told in words alone."""


def _line(number: int, line: LineReport) -> dict[str, Any]:
    key, found, band = f"line-{number}", line.series, line.against
    drawn = None
    if band is not None and found.statistics.lcl is not None:
        figures = [float(point.figure) for point in found.points]
        ends = [*figures, found.statistics.lcl, found.statistics.ucl or 0.0]
        if band.upper_pct - band.lower_pct <= _SQUASHED * (max(ends) - min(ends)):
            drawn = (band.lower_pct, band.upper_pct)
    return {
        "series": found,
        "against": band,
        "plots": plots(key, found, drawn),
        "band_left_out": band is not None and drawn is None,
    }
