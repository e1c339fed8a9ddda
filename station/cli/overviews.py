"""Over all batches: what is open, what went wrong, what people decided, what lots gave."""

from collections.abc import Sequence
from pathlib import Path

import click
import msgspec

from station.audit.decisions import DECIDED, Decided, decisions
from station.audit.listing import ListedBatch, listed
from station.audit.stock import LotStock, stock
from station.audit.warned import WARNED, Warned, warned
from station.cli.answering import (
    answer_csv,
    answer_json,
    csv_option,
    end,
    one_form,
    opened,
    there_are,
)
from station.cli.common import json_option, ledger_option, local, shown
from station.cli.paper import printer, table
from station.cli.period import period, period_options
from station.cli.questions_text import foot, head, print_batches


def _between(first: str | None, last: str | None) -> str:
    return (f" from {first}" if first else "") + (f" to {last}" if last else "")


def _many(count: int, one: str, more: str, after: str = "") -> str:
    return f"{count or 'no'} {one if count == 1 else more}{after}"


@click.command("open", epilog="Example: station audit open")
@ledger_option
@json_option
@csv_option
def open_batches(ledger: Path, as_json: bool, as_csv: bool) -> None:
    """The batches that are neither closed nor abandoned: parked, on hold, under way."""
    one_form(as_json, as_csv)
    with opened(ledger) as found:
        batches = listed(found.unfinished())
        step = None if batches else there_are(found.batches())
    words = _many(len(batches), "batch is open", "batches are open")
    if as_json:
        told = {"batches": msgspec.to_builtins(batches)}
        answer_json(found, told, answer=words, next=step)
    elif as_csv:
        answer_csv(found, ListedBatch.__struct_fields__, msgspec.to_builtins(batches))
    else:
        head(found, words)
        print_batches(batches)
        if step:
            printer().print(f"  next: {shown(step)}")
        foot(found)
    end(found)


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
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        rows = list(warned(found.events_in(span, WARNED)))
        step = None if rows else there_are(found.batches())
    words = _many(len(rows), "warning", "warnings", _between(first, last))
    if as_json:
        answer_json(found, {"warnings": msgspec.to_builtins(rows)}, answer=words, next=step)
    elif as_csv:
        answer_csv(found, Warned.__struct_fields__, msgspec.to_builtins(rows))
    else:
        head(found, words)
        if rows:
            columns = {"at": False, "batch": False, "kind": False, "what": False}
            lines = [(local(r.at), r.batch, r.kind, _named(r.addition, r.text)) for r in rows]
            printer().print(table(columns, lines))
        if step:
            printer().print(f"  next: {shown(step)}")
        foot(found)
    end(found)


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
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        rows = list(decisions(found.events_in(span, DECIDED)))
        step = None if rows else there_are(found.batches())
    words = _many(len(rows), "decision", "decisions", _between(first, last))
    if as_json:
        told = {"concessions": msgspec.to_builtins(rows)}
        answer_json(found, told, answer=f"{words}; {NO_PINS}", next=step)
    elif as_csv:
        answer_csv(found, Decided.__struct_fields__, msgspec.to_builtins(rows))
    else:
        head(found, words)
        _print_decisions(rows)
        if step:
            printer().print(f"  next: {shown(step)}")
        printer().print(NO_PINS)
        foot(found)
    end(found)


def _print_decisions(rows: Sequence[Decided]) -> None:
    if not rows:
        return
    columns = {"at": False, "batch": False, "kind": False, "what": False, "who": False}
    lines = []
    for row in rows:
        why = f", because: {row.reason}" if row.reason else ""
        who = " and ".join(name for name in (row.who, row.second) if name)
        lines.append(
            (local(row.at), row.batch, row.kind, _named(row.addition, row.text) + why, who)
        )
    printer().print(table(columns, lines))


LEFT = "how much of a lot came is not on record, so neither is what is left of it"


@click.command("stock", epilog="Example: station audit stock --csv")
@period_options
@ledger_option
@json_option
@csv_option
def lots_used(
    first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """What each lot gave in those days, by what was weighed into batches.

    What was voided or spilt is not in it, and how much of a lot came is not on record: what is left
    of one cannot be told.
    """
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        rows = stock(found.all_lots(span))
        step = None if rows else there_are(found.batches())
    words = _many(len(rows), "lot", "lots", _between(first, last))
    if as_json:
        told = {"lots": msgspec.to_builtins(rows)}
        answer_json(found, told, answer=f"{words}; {LEFT}", next=step)
    elif as_csv:
        answer_csv(found, LotStock.__struct_fields__, msgspec.to_builtins(rows))
    else:
        head(found, words)
        _print_stock(rows)
        if step:
            printer().print(f"  next: {shown(step)}")
        printer().print(LEFT)
        foot(found)
    end(found)


def _print_stock(rows: Sequence[LotStock]) -> None:
    if not rows:
        return
    columns = {"line": False, "lot": False, "expires": False, "batches": True, "weighed g": True}
    lines = []
    for row in rows:
        weighed = f"at least {row.weighed_g}" if row.at_least else row.weighed_g
        doubt = f"{row.may_be_g} g more may be in" if row.may_be_g != "0" else ""
        last = local(row.last_at) if row.last_at else "never"
        lines.append((row.line, row.lot, row.expires, row.batches, weighed, last, doubt))
    printer().print(table(columns | {"last": False, "": False}, lines))


OVERVIEWS = (open_batches, warnings, concessions, lots_used)
