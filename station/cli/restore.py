"""`station ledger restore`: a backup in the place of the ledger."""

from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import click

from station.cli.common import CANNOT, fail, json_option, ledger_option, print_json, say
from station.ledger.book import LedgerError
from station.ledger.restore import restore as put_back
from station.service.clock import stamp


@click.command(epilog="Example: station ledger restore /mnt/usb/2026-11-30.ledger")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@ledger_option
@json_option
def restore(file: Path, ledger: Path, as_json: bool) -> None:
    """Verify the backup FILE and put a copy of it at the ledger's place; the station is stopped.

    What is there is kept under another name. A backup that is broken or of another ledger changes
    nothing. Where it lacks events that were known, the next start says so and asks.
    """
    when = stamp(datetime.now(UTC)).replace("-", "").replace(":", "")
    try:
        done = put_back(file, ledger, f"before-{when}")
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    if as_json:
        print_json(asdict(done))
        return
    say(f"{ledger} is {file} now: whole, {done.events} events, head {done.head}")
    for kept in done.kept:
        say(f"  kept as it was: {kept}")
    if done.known is not None:
        say(f"  events {done.events + 1} to {done.known} are not in it")
        say(f"  next: look for a newer backup; else station run --accept-loss {done.known}")
