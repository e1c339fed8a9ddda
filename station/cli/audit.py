"""`station audit`: answers from a ledger, a running daemon or not."""

import sys
from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

import click
import msgspec
from rich.console import Console
from rich.table import Table

from station.audit.batch import NoSuchBatch, batch_sheet
from station.audit.pours import pour_report
from station.audit.rows import (
    AdditionRow,
    BatchSheet,
    Proof,
    RefusalRow,
    SaltPercent,
    WeighedAmount,
)
from station.cli.common import (
    CANNOT,
    NO,
    WRONG_USE,
    clock,
    fail,
    json_option,
    ledger_option,
    local,
    print_json,
)
from station.cli.overviews import OVERVIEWS
from station.cli.paper import plain, printer
from station.cli.questions import QUESTIONS
from station.ledger.book import LedgerError, Recorded, read_events
from station.ledger.mark import read_mark
from station.ledger.paths import ALL, LEAVES, PROVES, read_alone
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify
from station.ledger.walk import NO_EVENT
from station.metrology.band import inward
from station.units import shown as on_grid

Answer = TypeVar("Answer")


@click.group(epilog="Example: station audit batch 261124-1")
def audit() -> None:
    """What really went in against what was planned."""


for _question in (*QUESTIONS, *OVERVIEWS):
    audit.add_command(_question)


@audit.command(epilog="Example: station audit batch 261124-1 --ledger station.ledger --json")
@click.argument("batch")
@ledger_option
@json_option
def batch(batch: str, ledger: Path, as_json: bool) -> None:
    """The sheet of one batch: every line, every refusal, salt and ingoing amounts.

    Its events are proved first, against the hash tree's root that stands beside the ledger; where
    that cannot be done the whole ledger is verified. Exit status 1 says that it is broken and the
    sheet not to be trusted.
    """
    verdict, sheet = _sheet(ledger, batch)
    sheet = msgspec.structs.replace(sheet, broken=verdict.reason)
    if as_json:
        print_json(msgspec.to_builtins(sheet))
    else:
        print_sheet(sheet)
    sys.exit(0 if verdict.ok else NO)


@audit.command(epilog="Example: station audit pours --ledger station.ledger")
@ledger_option
@json_option
def pours(ledger: Path, as_json: bool) -> None:
    """How far the weight ran beyond STOP, by ingredient and person, and how often it came in time.

    The ledger is verified first; exit status 1 says that it is broken.
    """
    verdict, rows = _asked(ledger, pour_report)
    if as_json:
        print_json({"pours": rows, "broken": verdict.reason})
    else:
        _print_pours(rows, verdict.reason)
    sys.exit(0 if verdict.ok else NO)


def _sheet(path: Path, name: str) -> tuple[Verdict, BatchSheet]:
    """A batch's sheet from its own events alone, or where they are not proved from the ledger
    verified whole, which says then what is wrong; a failure ends the command."""
    try:
        mark = read_mark(path)  # first: it may be behind what is read then, never ahead
        with open_reader(path) as db:
            alone = read_alone(db, name, mark)
            if alone.broken is None:
                sheet = batch_sheet(alone.records, name)
                verdict = Verdict(True, sheet.events, sheet.head, None, None)
                return verdict, msgspec.structs.replace(sheet, proof=Proof("batch", PROVES, LEAVES))
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    verdict, sheet = _asked(path, lambda records: batch_sheet(records, name))
    proof = Proof("ledger", ALL) if verdict.ok else None
    return verdict, msgspec.structs.replace(sheet, proof=proof)


def _asked(ledger: Path, answer: Callable[[Iterator[Recorded]], Answer]) -> tuple[Verdict, Answer]:
    """What the ledger answers, verified first; a failure ends the command."""
    try:
        with open_reader(ledger) as db:
            verdict = verify(db)
            try:
                return verdict, answer(read_events(db))
            except NoSuchBatch as error:
                fail(str(error), "name one of these", WRONG_USE)
            except NO_EVENT as error:
                if verdict.ok:
                    raise
                why = verdict.reason or str(error)
                fail(f"the ledger is broken: {why}", "station ledger repair", CANNOT)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)


def _print_pours(rows: list[dict[str, Any]], broken: str | None) -> None:
    console = printer()
    rows, broken = plain(rows), plain(broken)
    if broken:
        console.print(f"THE LEDGER IS BROKEN, do not trust this: {broken}")
    if not rows:
        console.print("no pour is on record yet")
        return
    table = Table(box=None, pad_edge=False)
    table.add_column("addition", overflow="fold")
    table.add_column("who", overflow="fold")
    for title in ("pours", "slower", "stop", "in time", "beyond g", "most g"):
        table.add_column(title, justify="right", no_wrap=True)
    for row in rows:
        in_time = f"{row['in_time']} of {row['stops']}" if row["stops"] else "-"
        table.add_row(
            row["addition"],
            row["who"],
            *(str(row[key]) for key in ("pours", "slower", "stops")),
            in_time,
            row["beyond_mean_g"] or "-",
            row["beyond_most_g"] or "-",
        )
    console.print(table)
    console.print("beyond: what ran in after STOP was first shown, the mean and the most of it")


def print_sheet(sheet: BatchSheet) -> None:
    """The sheet for a person; black and white, as wide as the terminal."""
    console = printer()
    sheet = msgspec.convert(plain(msgspec.to_builtins(sheet)), BatchSheet)
    stamp = "  SIMULATED" if sheet.simulated else ""
    console.print(f"Batch {sheet.batch}  {sheet.formula} revision {sheet.revision}{stamp}")
    opened = f"opened {local(sheet.opened_at)} by {sheet.opened_by}"
    console.print(f"{opened}, planned by {sheet.planned}, state: {sheet.state}")
    if sheet.broken:
        console.print(f"THE LEDGER IS BROKEN, do not trust this sheet: {sheet.broken}")
    for reason in sheet.hold:
        console.print(f"ON HOLD: {reason}")
    console.print()
    console.print(_meat(sheet))
    console.print()
    console.print(_additions(sheet, console.width))
    for row in sheet.additions:
        console.print(_detail(row))
    for step in sheet.steps:
        plan = f" (planned {step.plan})" if step.plan else ""
        since = f"{clock(step.began)} to " if step.began else ""
        why = f"; before its time: {step.reason}" if step.reason else ""
        ended = f"{since}{clock(step.at)}, {step.who}{why}"
        console.print(f"{step.name}{plan}: {step.value or 'done'}, {ended}")
    if sheet.salt_percent.planned is not None:
        _amounts(console, sheet)
    _remarks(console, "warnings", [(row.at, row.addition, row.text) for row in sheet.warnings])
    _remarks(console, "refused", [(row.at, row.addition, _refused(row)) for row in sheet.refusals])
    _remarks(console, "notes", [(row.at, None, row.text) for row in sheet.notes])
    console.print(f"\nledger: {sheet.events} events, head {sheet.head}")
    console.print(f"sheet code {sheet.code}")
    if sheet.proof is not None:
        console.print(f"proved: {sheet.proof.proves}")
        if sheet.proof.leaves is not None:
            console.print(f"not looked at: {sheet.proof.leaves}")
    console.print(sheet.caution)


def _refused(row: RefusalRow) -> str:
    return row.reason if row.times == 1 else f"{row.reason} ({row.times} more like it)"


def _remarks(console: Console, title: str, rows: list[tuple[str, str | None, str]]) -> None:
    """(when, about which line, text), under a title."""
    if rows:
        console.print(f"\n{title}:")
    for at, line, text in rows:
        named = text if not line or line in text else f"{line}: {text}"
        console.print(f"  {clock(at)} {named}")


def _meat(sheet: BatchSheet) -> Table:
    table = Table(box=None, pad_edge=False)
    for name in ("meat", "planned g", "actual g", "loads"):
        table.add_column(name, justify="left" if name == "meat" else "right")
    for row in sheet.meat:
        table.add_row(row.name, row.planned_g or "", row.actual_g, str(len(row.loads)))
    for row in sheet.meat:
        for load in row.loads:
            if load.by_hand:
                text = f"  BY HAND: {load.net_g} g, {load.by_hand} ({load.who})"
                table.add_row(text, "", "", "")
    table.add_row("meat block", sheet.plan_g or "", sheet.meat_g, "")
    return table


def _amounts(console: Console, sheet: BatchSheet) -> None:
    salt = sheet.salt_percent
    actual = f"{_at_least(salt)}{salt.actual}"
    console.print(f"\ntotal salt: planned {salt.planned} %, as weighed {actual} % of the meat")
    for row in sheet.limits:
        actual = f"{_at_least(row)}{row.actual}"
        if row.at_most:
            actual += f", at most {row.at_most}"
        console.print(
            f"{' and '.join(row.agents)}: planned {row.planned}, as weighed {actual},"
            f" limit {row.limit} {row.unit} of the {row.basis} ({row.source})"
        )


_WIDE = 66
"""Columns that the differences need: a number cut short would be another number."""


def _at_least(sums: SaltPercent | WeighedAmount) -> str:
    return "at least " if sums.at_least else ""


def _additions(sheet: BatchSheet, width: int) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("addition", overflow="fold")
    columns = {"target_g": "target g", "actual_g": "actual g"}
    if width >= _WIDE:
        columns |= {"difference_g": "diff g", "difference_percent": "diff %"}
    columns["verdict"] = "verdict"
    for title in columns.values():
        table.add_column(title, justify="right", no_wrap=True)
    for row in sheet.additions:
        table.add_row(row.name, *(getattr(row, column) or "-" for column in columns))
    return table


def _band(row: AdditionRow) -> str:
    """Lower and upper tolerance on the grid of the scale."""
    lower, upper = Fraction(row.lower_g or 0), Fraction(row.upper_g or 0)
    if row.division_g is None:
        return f"{row.lower_g} to {row.upper_g} g"
    division = Decimal(row.division_g)
    low, high = (on_grid(end, division) for end in inward(lower, upper, division))
    return f"{low} to {high} g"


def _detail(row: AdditionRow) -> str:
    if row.lower_g is None:
        return f"{row.name}: not weighed, there was no meat"
    more = f", MORE WENT IN, nobody knows how much ({row.unknown_more})" if row.unknown_more else ""
    if row.actual_g is None:
        return f"{row.name}: band {_band(row)}, not weighed{more}"
    accepted = ""
    if row.accept_lower_g:
        accepted = f", accepted from {row.accept_lower_g} to {row.accept_upper_g} g"
    lot = f", lot {row.lot}" if row.lot else ""
    by_hand = f", BY HAND: {row.by_hand}" if row.by_hand else ""
    residue = f", {row.residue_g} g clung to the vessel" if row.residue_g else ""
    return (
        f"{row.name}: band {_band(row)}{accepted},"
        f" {row.scale}, {clock(row.at) if row.at else ''}, {row.who}{lot}{residue}{by_hand}{more}"
    )
