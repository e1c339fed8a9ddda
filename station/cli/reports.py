"""A period on paper, and how pours went in it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import msgspec

from station.audit.pours import POURED, BadPours, PourRow, pour_report
from station.audit.report import FigureRow, Report, figures, report_of
from station.audit.series import Series
from station.cli.answering import (
    answer_csv,
    answer_json,
    csv_option,
    end,
    one_form,
    opened,
    there_are,
)
from station.cli.common import json_option, ledger_option, shown
from station.cli.html import answer_page, clean, html_option
from station.cli.paper import Table, printer
from station.cli.period import between, period, period_options
from station.cli.questions_text import foot, head, many
from station.ledger.asking import Asked


@click.command(epilog="Example: station audit report --from 2026-11-01 --html november.html")
@period_options
@html_option
@ledger_option
@json_option
@csv_option
def report(
    first: str | None,
    last: str | None,
    html: Path | None,
    ledger: Path,
    as_json: bool,
    as_csv: bool,
) -> None:
    """All of a period: batches, control charts of lines, salt and ingoing amounts, lots, decisions.

    The charts are in the page that --html writes; the text has what they say. A batch with an
    amount that nobody knows has no figure and is named. --csv has every figure, a row for each
    batch in each chart. What a law limits is read from each batch's events, a thousand of them
    in some two seconds.
    """
    one_form(as_json, as_csv, html=html)
    span = period(first, last)
    with opened(ledger) as found:
        answer = report_of(found, span)
        step = None if answer.batches else there_are(found.batches())
    days = between(first, last) or " over all days"
    if as_json:
        answer_json(found, answer, next=step, **{"from": first, "to": last})
    elif as_csv:
        rows = msgspec.to_builtins(list(figures(answer)))
        answer_csv(found, FigureRow.__struct_fields__, rows)
    elif html is not None:
        answer_page(found, html, "report_page", clean(answer), days.strip(), step)
    else:
        _print_report(found, answer, days, step)
    end(found)


def _print_report(found: Asked, answer: Report, days: str, step: str | None) -> None:
    head(found, f"report{days}: {many(len(answer.batches), 'batch', 'batches')}")
    say = printer().print
    if step:
        say(f"  next: {shown(step)}")
    say(f"{answer.closed} closed, {answer.abandoned} abandoned, {answer.open} open;"
        f" {answer.meat_g} g of meat")  # fmt: skip
    say(f"{many(answer.additions, 'addition', 'additions')} weighed, {answer.out} out of their"
        f" band, {answer.unaccepted} put in unaccepted; an amount that nobody knows in"
        f" {many(answer.unknown, 'batch', 'batches')}")  # fmt: skip
    for row in answer.batches:
        for reason in row.hold:
            say(shown(f"{row.batch}, {row.state}: {reason}"))
    say(f"{many(len(answer.warnings), 'warning', 'warnings')},"
        f" {many(len(answer.decisions), 'decision', 'decisions')} of people")  # fmt: skip
    every = [*(line.series for line in answer.lines), *answer.salt, *answer.ingoing]
    if every:
        columns = {"figure": False, "unit": False, "n": True, "mean": True, "sd": True}
        say(Table(columns | {"limits": True, "signs": True, "none": True}, map(_row, every)))
        say("signs: of more than chance; none: batches without a figure, named in every other form")
    for line in answer.lines:
        if line.against is not None:
            say(shown(f"{line.series.name}: {line.against.text}"))
    foot(found)


def _row(series: Series) -> Sequence[Any]:
    s = series.statistics
    figures = [None if f is None else f"{f:.4g}" for f in (s.mean, s.sd)]
    limits = None if s.lcl is None or s.ucl is None else f"{s.lcl:.4g} to {s.ucl:.4g}"
    return (series.name, series.unit, s.n, *figures, limits, len(s.signals), len(series.left_out))


@click.command(epilog="Example: station audit pours --from 2026-11-01")
@period_options
@ledger_option
@json_option
@csv_option
def pours(first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool) -> None:
    """How far the weight ran beyond STOP in those days, and which pours ended badly.

    Accepted ones by ingredient and person, and how often STOP came in time; those over the limit,
    lifted, spilt, voided or unaccepted by ingredient. --csv has the accepted ones.
    """
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        rows, badly = pour_report(found.events_in(span, POURED))
        step = None if rows or badly else there_are(found.batches())
    if as_json:
        told = {"pours": msgspec.to_builtins(rows), "badly": msgspec.to_builtins(badly)}
        answer_json(found, told, next=step)
    elif as_csv:
        answer_csv(found, PourRow.__struct_fields__, msgspec.to_builtins(rows))
    else:
        head(found, f"{many(sum(row.pours for row in rows), 'pour', 'pours')} accepted"
             f"{between(first, last)}")  # fmt: skip
        print_pours(rows, badly)
        if step:
            printer().print(f"  next: {shown(step)}")
        foot(found)
    end(found)


def print_pours(rows: Sequence[PourRow], badly: Sequence[BadPours]) -> None:
    """Accepted pours, then those that ended badly."""
    say = printer().print
    columns = {"addition": False, "who": False}
    columns |= dict.fromkeys(("pours", "slower", "stop", "in time", "beyond g", "most g"), True)
    if rows:
        lines = [
            (
                *(row.addition, row.who, row.pours, row.slower, row.stops),
                f"{row.in_time} of {row.stops}" if row.stops else None,
                *(row.beyond_mean_g, row.beyond_most_g),
            )
            for row in rows
        ]
        say(Table(columns, lines))
        say("beyond: what ran in after STOP was first shown, the mean and the most of it")
    if badly:
        columns = {"ended badly": False}
        columns |= dict.fromkeys(
            ("over", "most over g", "lifted", "spilt", "voided", "unaccepted"), True
        )
        say(Table(columns, [tuple(msgspec.structs.astuple(row)) for row in badly]))


REPORTS = (report, pours)
