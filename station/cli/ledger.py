"""`station ledger`: verify it, copy it."""

import sys
from dataclasses import asdict
from pathlib import Path

import click

from station.cli.common import CANNOT, NO, fail, json_option, ledger_option, print_json
from station.ledger.backup import backup as copy
from station.ledger.book import LedgerError
from station.ledger.reading import is_simulated, open_reader
from station.ledger.verify import Verdict
from station.ledger.verify import verify as check


@click.group(epilog="Example: station ledger verify --ledger station.ledger")
def ledger() -> None:
    """The ledger: verify it, copy it. Both work beside a running station."""


@ledger.command(epilog="Example: station ledger verify --json")
@ledger_option
@json_option
def verify(ledger: Path, as_json: bool) -> None:
    """Check every hash and every row made from the events; exit status 1 if something is broken."""
    try:
        with open_reader(ledger) as db:
            verdict, simulated = check(db), is_simulated(db)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    _report(verdict, str(ledger), simulated, as_json)


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


def _report(verdict: Verdict, name: str, simulated: bool, as_json: bool) -> None:
    name = f"{name} (SIMULATED)" if simulated else name
    if as_json:
        print_json(asdict(verdict))
    elif verdict.ok:
        click.echo(f"{name} is whole: {verdict.events} events, head {verdict.head}")
    else:
        where = f"event {verdict.first_broken}" if verdict.first_broken else "the tables"
        click.echo(f"{name} is BROKEN at {where}: {verdict.reason}")
        click.echo("  next: keep this file as it is, and compare it with the last good backup")
    sys.exit(0 if verdict.ok else NO)
