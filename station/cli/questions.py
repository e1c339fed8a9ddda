"""The auditor's questions: which batches, where a lot went, how a line spreads, what a day was.

They read the tables made from the events, in a moment, and do not verify the ledger: each answer
says so, and says what a glance found wrong.
"""

from datetime import UTC, datetime
from pathlib import Path

import click
import msgspec

from station import gs1
from station.audit.capability import BandPercent, band_percent
from station.audit.day import Day, day_of
from station.audit.listing import ListedBatch, listed
from station.audit.made import KINDS, Made, made
from station.audit.sheets import sheets_of
from station.audit.spread import Point, spread
from station.audit.trace import LotUse, Trace, through_leftovers, trace
from station.cli.answering import (
    Rows,
    answer_csv,
    answer_json,
    csv_option,
    end,
    near_names,
    one_form,
    opened,
    there_are,
)
from station.cli.common import (
    WRONG_USE,
    fail,
    json_option,
    ledger_option,
)
from station.cli.html import answer_page, clean, html_option
from station.cli.period import between, one_day, period, period_options
from station.cli.questions_text import (
    many,
    print_batches,
    print_day,
    print_trace,
    tell_rows,
)
from station.cli.spread_text import print_spread
from station.ledger.asking import ALWAYS, Asked, Period


@click.command("list", epilog="Example: station audit list --from 2026-11-01 --to 2026-11-30")
@period_options
@ledger_option
@json_option
@csv_option
def list_batches(
    first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """Every batch that was opened in those days: formula, state, meat, salt, why on hold.

    Salt and meat are those of the batch sheet. `at least`: more went in, nobody knows how much.
    """
    form, span = one_form(as_json, as_csv), period(first, last)
    with opened(ledger) as found:
        batches = listed(found.batches(span))
        step = None if batches else there_are(found.batches())
    days = between(first, last)
    words = f"{many(len(batches), 'batch', 'batches')}{days}"
    tell_rows(
        found,
        batches,
        ListedBatch,
        print_batches,
        form=form,
        key="batches",
        words=words if batches else f"no batch was opened{days}",
        step=step,
        beside={"from": first, "to": last},
    )


@click.command(epilog="Example: station audit lot P-41 --json")
@click.argument("code")
@period_options
@ledger_option
@json_option
@csv_option
def lot(
    code: str, first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """Which batches hold a lot: CODE as it was told, or a whole scanned GS1 label.

    Their pieces and packs stand with them. An amount that nobody knows is told beside what was
    weighed, never as nothing. What was poured and given another place than the mix, unproved,
    `may be in`. Exit status 2 says that no such lot is on record. Which lots a batch holds: station
    audit origin.
    """
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        answer, _ = traced(found, code, span)
    if as_json:
        answer_json(found, answer)
    elif as_csv:
        rows = [{**msgspec.to_builtins(use), "made": use.made.words} for use in answer.batches]
        answer_csv(found, LotUse.__struct_fields__, rows)
    elif answer.known:
        print_trace(found, answer)
    if not answer.known:
        fail(answer.answer, answer.next, WRONG_USE)
    end(found)


def traced(found: Asked, code: str, span: Period = ALWAYS) -> tuple[Trace, Rows]:
    """Where a lot is, and its rows; `code` as it was told, or a whole scanned label."""
    rows = found.lot(code)
    if not rows and (scanned := _scanned(code)) != code:
        code, rows = scanned, found.lot(scanned)
    named = [] if rows else found.refusals(code)

    def made_of(batch: str) -> Made:
        return made(found.events_of(batch, KINDS))

    answer = trace(code, rows, found.lots(), named, span, made_of)
    return through_leftovers(answer, found.left_of, made_of), rows


def _scanned(text: str) -> str:
    """The lot of a scanned label, or the code as it was typed."""
    text = text.strip()
    if not gs1.looks_like(text):
        return text
    try:
        return gs1.read_label(text, datetime.now(UTC).date()).lot
    except gs1.NotGs1 as error:
        fail(f"lot: {error}", "scan it again, or type the lot", WRONG_USE)


@click.command(epilog="Example: station audit line salt --from 2026-11-01")
@click.argument("name")
@period_options
@ledger_option
@json_option
@csv_option
def line(
    name: str, first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """How far a line is off its target in percent, batch by batch, and what of it is not chance.

    Individuals and moving range, and a moving average for what drifts. Every figure counts, none is
    left out as an outlier; a batch without a figure is named with the reason. The limits are by
    what was weighed, and are no tolerance.
    """
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        rows = found.line(name, span)
        answer = spread(name, rows, _band(found, name, rows))
        known = found.lines()
    if as_json:
        answer_json(found, answer)
    elif as_csv:
        answer_csv(found, Point.__struct_fields__, msgspec.to_builtins(answer.points))
    elif name in known:
        print_spread(found, answer)
    if name not in known:
        near = near_names(name, known)
        step = f"one of {', '.join(near)}" if near else "no batch is on record yet: station open"
        fail(f"no line {name!r} is on record", step, WRONG_USE)
    end(found)


def _band(found: Asked, name: str, rows: Rows) -> BandPercent | None:
    """The line's band, by the sheet of the last batch that has a target for it."""
    last = next((row["batch"] for row in reversed(rows) if row["target_g"]), None)
    if last is None:
        return None
    (sheet,) = sheets_of(found, [last])
    (row,) = [row for row in sheet.additions if row.name == name]
    return band_percent(last, row)


@click.command(epilog="Example: station audit day 2026-11-30")
@click.argument("day")
@html_option
@ledger_option
@json_option
@csv_option
def day(day: str, html: Path | None, ledger: Path, as_json: bool, as_csv: bool) -> None:
    """What happened on DAY (YYYY-MM-DD), from midnight to midnight at the bench.

    Of every batch that was worked on: what its sheet has of that day. --csv has the additions.
    """
    one_form(as_json, as_csv, html)
    text, span = one_day(day)
    with opened(ledger) as found:
        answer = day_of(found, text, span)
        words, step = _worked_on(found, answer)
    if as_json:
        answer_json(found, answer, answer=words, next=step)
    elif as_csv:
        answer_csv(found, ("batch", *_DAY_COLUMNS), _additions(answer))
    elif html is not None:
        answer_page(found, html, "day_page", clean(answer), step)
    else:
        print_day(found, answer, words, step)
    end(found)


_DAY_COLUMNS = (
    *("name", "target_g", "actual_g", "difference_percent", "verdict", "scale", "lot", "who", "at"),
    *("by_hand", "unknown_more"),
)


def _additions(answer: Day) -> Rows:
    return [
        {"batch": batch.batch, **msgspec.to_builtins(row)}
        for batch in answer.batches
        for row in batch.additions
    ]


def _worked_on(ledger: Asked, answer: Day) -> tuple[str, str | None]:
    """In words, and the next step where there is nothing."""
    many = len(answer.batches)
    words = f"{answer.day}: {many} batch{' was' if many == 1 else 'es were'} worked on"
    return words, None if many else there_are(ledger.batches())


QUESTIONS = (list_batches, lot, line, day)
