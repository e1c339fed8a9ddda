"""`station ledger`: verify it, copy it, export it, repair it."""

import sys
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import NoReturn

import click

from station.cli.common import (
    CANNOT,
    NO,
    WRONG_USE,
    fail,
    json_option,
    ledger_option,
    print_json,
    say,
)
from station.ledger import inspector
from station.ledger.backup import backup as copy
from station.ledger.book import LedgerError
from station.ledger.code import Mistyped, SheetCode, read_code
from station.ledger.export import export as write_export
from station.ledger.printed import Printed, judge, read_head
from station.ledger.reading import is_simulated, open_reader
from station.ledger.repair import Repair, examine
from station.ledger.repair import repair as mend
from station.ledger.verify import Verdict
from station.ledger.verify import verify as check
from station.service.clock import stamp


@click.group(epilog="Example: station ledger verify --ledger station.ledger")
def ledger() -> None:
    """The ledger: verify, copy or export it, beside a running station too; repair it."""


@ledger.command(epilog="Example: station ledger verify --sheet RUUT-FAR6-DAD")
@click.option("--sheet", metavar="CODE", help="Also ask for the event that a sheet's code names.")
@click.option("--head", metavar="HEX", help='Also ask for a printed head: "a65e 8c59 0b1f 77d2".')
@ledger_option
@json_option
def verify(sheet: str | None, head: str | None, ledger: Path, as_json: bool) -> None:
    """Check every hash and every row made from the events; exit status 1 if something is broken.

    With what is printed on a sheet it says whether that paper belongs to this ledger and whether
    all up to it is unchanged; exit status 1 where not.
    """
    paper = _paper(sheet, head)
    try:
        with open_reader(ledger) as db:
            verdict, simulated = check(db), is_simulated(db)
            printed = None if paper is None else judge(db, paper, verdict)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    _report(verdict, str(ledger), simulated, as_json, printed)


def _paper(sheet: str | None, head: str | None) -> SheetCode | str | None:
    """What was typed from a sheet; a mistyped one ends the command."""
    if sheet is not None and head is not None:
        fail("a sheet has both, one is enough", "give --sheet or --head", WRONG_USE)
    try:
        return read_code(sheet) if sheet is not None else read_head(head) if head else None
    except Mistyped as error:
        fail(f"that is mistyped: {error}", "read it from the sheet again", WRONG_USE)


@ledger.command(epilog="Example: station ledger backup /mnt/usb/2026-11-30.ledger")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@ledger_option
@json_option
def backup(file: Path, ledger: Path, as_json: bool) -> None:
    """Copy the ledger to FILE while it is in use, and verify the copy."""
    try:
        verdict = copy(ledger, file)
        with open_reader(file) as db:
            simulated = is_simulated(db)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    _report(verdict, str(file), simulated, as_json)


@ledger.command(epilog="Example: station ledger export --out batch.jsonl --batch 261130-1")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="A new file.")
@click.option("--batch", help="The events of one batch, with the path that proves them.")
@click.option("--from", "begin", type=click.IntRange(1), help="The first event, by number.")
@click.option("--to", "end", type=click.IntRange(1), help="The last event, by number.")
@ledger_option
@json_option
def export(
    out: Path, batch: str | None, begin: int | None, end: int | None, ledger: Path, as_json: bool
) -> None:
    """Write events to a new file as JSON Lines; `station ledger verifier` prints what checks it."""
    if batch is not None and (begin or end):
        fail("a batch is exported whole", "leave --from and --to out", WRONG_USE)
    try:
        events = write_export(ledger, out, batch, begin or 1, end)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    if as_json:
        print_json({"file": str(out), "events": events})
    else:
        say(f"{out}: {events} events; next: station ledger verifier > verify.py, for who reads it")


@ledger.command(epilog="Example: station ledger verifier > verify.py")
@json_option
def verifier(as_json: bool) -> None:
    """Print the program that verifies an export with nothing but Python: python verify.py FILE"""
    text = Path(inspector.__file__).read_text(encoding="utf-8")
    if as_json:
        print_json({"verify.py": text})
    else:
        click.echo(text, nl=False)


@ledger.command(epilog="Example: station ledger repair --keep-evidence")
@click.option("--keep-evidence", is_flag=True, help="Keep the file as it was found, then repair.")
@ledger_option
@json_option
def repair(keep_evidence: bool, ledger: Path, as_json: bool) -> None:
    """Put a ledger that is broken aside as it was found, and make anew what its events make.

    Without --keep-evidence nothing is changed: it is only said what is wrong. Tables, indexes and
    triggers are made anew from the events, and the record says so. Broken events are nobody's to
    mend: such a ledger is put aside, and exit status 1 says so. The station must be stopped.
    """
    try:
        if keep_evidence:
            now = stamp(datetime.now(UTC))
            when = now.replace("-", "").replace(":", "")
            done = mend(ledger, now, f"evidence-{when}")
        else:
            broken = examine(ledger)
            done = None if broken is None else Repair(broken.reason, (), False)
        if done is None:
            with open_reader(ledger) as db:
                verdict, simulated = check(db), is_simulated(db)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    if done is None:  # what is lost of it nobody can repair
        _report(verdict, str(ledger), simulated, as_json)
    elif as_json:
        print_json(asdict(done))
    else:
        _tell(done, ledger, keep_evidence)
    sys.exit(0 if done and done.whole else NO)


def _tell(done: Repair, ledger: Path, kept: bool) -> None:
    say(f"{ledger} was broken: {done.found}" if kept else f"{ledger}: {done.found}")
    for evidence in done.evidence:
        say(f"  kept as found: {evidence.file}, SHA-256 {evidence.sha256}")
    if done.whole:
        say("what its events make was made anew; the ledger is whole, and says so")
    elif kept:
        say("its events cannot be made whole: it was put aside")
        say(f"  next: put the last good backup at {ledger}, or start: station run says how")
    else:
        say("  next: station ledger repair --keep-evidence, with the station stopped")


def _report(
    verdict: Verdict, name: str, simulated: bool, as_json: bool, printed: Printed | None = None
) -> NoReturn:
    name = f"{name} (SIMULATED)" if simulated else name
    if as_json:
        print_json(asdict(verdict) | ({"printed": asdict(printed)} if printed else {}))
    elif verdict.ok:
        say(f"{name} is whole: {verdict.events} events, head {verdict.head}")
    else:
        where = f" at event {verdict.first_broken}" if verdict.first_broken else ""
        say(f"{name} is BROKEN{where}: {verdict.reason}")
        say("  next: keep this file as it is, and compare it with the last good backup")
    if printed and not as_json:
        say(f"the paper: {printed.says}")
    sys.exit(0 if verdict.ok and (printed is None or printed.unchanged) else NO)
