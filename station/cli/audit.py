"""`station audit`: answers from a ledger, a running daemon or not."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar

import click
import msgspec

from station.audit.batch import NoSuchBatch, batch_sheet
from station.audit.rows import BatchSheet, Proof
from station.cli.answering import one_form
from station.cli.common import (
    CANNOT,
    NO,
    WRONG_USE,
    fail,
    json_option,
    ledger_option,
    print_json,
)
from station.cli.html import clean, html_option, write_page
from station.cli.overviews import OVERVIEWS
from station.cli.questions import QUESTIONS
from station.cli.recalls import RECALLS
from station.cli.reports import REPORTS
from station.cli.sheet_text import print_sheet
from station.cli.views import VIEWS
from station.ledger.book import LedgerError, Recorded, read_events
from station.ledger.paths import ALL, LEAVES, PROVES, read_settled
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify
from station.ledger.walk import NO_EVENT

Answer = TypeVar("Answer")


@click.group(epilog="Example: station audit batch 261124-1")
def audit() -> None:
    """What really went in against what was planned."""


for _question in (*QUESTIONS, *OVERVIEWS, *REPORTS, *RECALLS, *VIEWS):
    audit.add_command(_question)


@audit.command(epilog="Example: station audit batch 261124-1 --ledger station.ledger --json")
@click.argument("batch")
@html_option
@ledger_option
@json_option
def batch(batch: str, html: Path | None, ledger: Path, as_json: bool) -> None:
    """The sheet of one batch: every line, every refusal, salt and ingoing amounts.

    Its events are proved first, against the hash tree's root that stands beside the ledger; where
    that cannot be done the whole ledger is verified. Exit status 1 says that it is broken and the
    sheet not to be trusted.
    """
    one_form(as_json, html=html)
    verdict, sheet = _sheet(ledger, batch)
    sheet = msgspec.structs.replace(sheet, broken=verdict.reason)
    if as_json:
        print_json(msgspec.to_builtins(sheet))
    elif html is not None:
        told = _proved(sheet.proof)
        write_page(html, "batch_page", verdict, sheet.simulated, told, clean(sheet))
    else:
        print_sheet(sheet)
    sys.exit(0 if verdict.ok else NO)


def _sheet(path: Path, name: str) -> tuple[Verdict, BatchSheet]:
    """A batch's sheet from its own events alone, or where they are not proved from the ledger
    verified whole, which says then what is wrong; a failure ends the command."""
    try:
        alone = read_settled(path, name)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    if alone.broken is None:
        sheet = batch_sheet(alone.records, name)
        verdict = Verdict(True, sheet.events, sheet.head, None, None)
        return verdict, msgspec.structs.replace(sheet, proof=Proof("batch", PROVES, LEAVES))
    verdict, sheet = _asked(path, lambda records: batch_sheet(records, name))
    proof = Proof("ledger", ALL) if verdict.ok else None
    return verdict, msgspec.structs.replace(sheet, proof=proof)


def _proved(proof: Proof | None) -> str:
    """What a page may say of that; the text of the sheet says it on lines of their own."""
    if proof is None:
        return "verified before this was written, and found broken"
    left = f"; not looked at: {proof.leaves}" if proof.leaves else ""
    return f"before this was written it was proved: {proof.proves}{left}"


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
