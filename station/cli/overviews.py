"""Over all batches: what is open, what went wrong, what people decided, what lots gave."""

from collections.abc import Sequence
from pathlib import Path

import click

from station.audit.decisions import DECIDED, Decided, decisions
from station.audit.listing import ListedBatch, listed
from station.audit.stock import LEFT_OVER, LotStock, left_over, stock
from station.audit.warned import WARNED, Warned, warned
from station.cli.answering import csv_option, one_form, opened, there_are
from station.cli.common import config_option, files, json_option, ledger_option, local
from station.cli.paper import Table, printer
from station.cli.period import between, period, period_options
from station.cli.questions_text import many, print_batches, tell_rows
from station.ledger.asking import ALWAYS
from station.received import Received, load_received
from station.resources import Config


@click.command("open", epilog="Example: station audit open")
@ledger_option
@json_option
@csv_option
def open_batches(ledger: Path, as_json: bool, as_csv: bool) -> None:
    """The batches that are neither closed nor abandoned: parked, on hold, under way."""
    form = one_form(as_json, as_csv)
    with opened(ledger) as found:
        batches = listed(found.unfinished())
        step = None if batches else there_are(found.batches())
    words = many(len(batches), "batch is open", "batches are open")
    tell_rows(
        found, batches, ListedBatch, print_batches, form=form, key="batches", words=words, step=step
    )


@click.command(epilog="Example: station audit warnings --from 2026-11-01")
@period_options
@ledger_option
@json_option
@csv_option
def warnings(
    first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """What went wrong in those days, in every batch: warnings, blocks, holds, what was spilt.

    What people decided is told by: station audit concessions.
    """
    form, span = one_form(as_json, as_csv), period(first, last)
    with opened(ledger) as found:
        rows = list(warned(found.events_in(span, WARNED)))
        step = None if rows else there_are(found.batches())
    words = many(len(rows), "warning", "warnings") + between(first, last)
    tell_rows(
        found, rows, Warned, _print_warnings, form=form, key="warnings", words=words, step=step
    )


def _print_warnings(rows: Sequence[Warned]) -> None:
    columns = {"at": False, "batch": False, "kind": False, "what": False}
    lines = [(local(r.at), r.batch, r.kind, _named(r.addition, r.text)) for r in rows]
    printer().print(Table(columns, lines))


def _named(line: str | None, text: str) -> str:
    return text if not line or line in text else f"{line}: {text}"


NO_PINS = (
    "names are as given: nobody has a PIN yet, and past a hard limit nobody may allow anything"
)


@click.command(epilog="Example: station audit concessions --from 2026-11-01 --csv")
@period_options
@ledger_option
@json_option
@csv_option
def concessions(
    first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """What people decided in those days that formula and scales did not, and why.

    Figures by hand, what was taken as weighed, voided, skipped, in the mix unaccepted, named at
    close; lots that were read by two, worked out by, or reviewed. Names are as given.
    """
    form, span = one_form(as_json, as_csv), period(first, last)
    with opened(ledger) as found:
        rows = list(decisions(found.events_in(span, DECIDED)))
        step = None if rows else there_are(found.batches())
    words = many(len(rows), "decision", "decisions") + between(first, last)
    tell_rows(
        found,
        rows,
        Decided,
        _print_decisions,
        form=form,
        key="concessions",
        words=words,
        step=step,
        note=NO_PINS,
    )


def _print_decisions(rows: Sequence[Decided]) -> None:
    columns = {"at": False, "batch": False, "kind": False, "what": False, "who": False}
    lines = []
    for row in rows:
        why = f", because: {row.reason}" if row.reason else ""
        who = " and ".join(name for name in (row.who, row.second) if name)
        lines.append(
            (local(row.at), row.batch, row.kind, _named(row.addition, row.text) + why, who)
        )
    printer().print(Table(columns, lines))


LEFT = (
    "what is left of a lot is told where stock.toml says how much came, and no days are asked for"
)
SPILT = "what was voided, spilt or given away is not taken off what is left: look into the bag"


@click.command("stock", epilog="Example: station audit stock --csv")
@period_options
@ledger_option
@config_option
@json_option
@csv_option
def lots_used(
    first: str | None,
    last: str | None,
    ledger: Path,
    config: Path | None,
    as_json: bool,
    as_csv: bool,
) -> None:
    """What each lot gave in those days, by what was weighed into batches, and what is left of it.

    What is left is told of the lots in stock.toml, which says how much came; of all days alone.
    What was voided or spilt is not taken off.
    """
    form, span = one_form(as_json, as_csv), period(first, last)
    came: tuple[Received, ...] = ()
    if first is None and last is None:
        with files():
            came = load_received(Config(config))
    with opened(ledger) as found:
        over = found.events_in(ALWAYS, LEFT_OVER) if first is None and last is None else ()
        rows = stock(found.all_lots(span), came, left_over(over))
        step = None if rows else there_are(found.batches())
    words = many(len(rows), "lot", "lots") + between(first, last)
    tell_rows(
        found,
        rows,
        LotStock,
        _print_stock,
        form=form,
        key="lots",
        words=words,
        step=step,
        note=SPILT if came else LEFT,
    )


def _print_stock(rows: Sequence[LotStock]) -> None:
    columns = {"line": False, "lot": False, "expires": False, "batches": True, "weighed g": True,
               "left g": True}  # fmt: skip
    lines = []
    for row in rows:
        weighed = f"at least {row.weighed_g}" if row.at_least else row.weighed_g
        doubt = f"{row.may_be_g} g more may be in" if row.may_be_g != "0" else ""
        last = local(row.last_at) if row.last_at else "never"
        left = f"at most {row.left_g}" if row.left_g and row.at_least else row.left_g
        lines.append((row.line, row.lot, row.expires, row.batches, weighed, left, last, doubt))
    printer().print(Table(columns | {"last": False, "": False}, lines))


OVERVIEWS = (open_batches, warnings, concessions, lots_used)
