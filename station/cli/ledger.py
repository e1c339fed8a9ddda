"""`station ledger`: verify it, copy it, export it, repair it."""

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import NoReturn

import click
from sqlite_utils.db import Database

from station.cli.common import (
    CANNOT,
    NO,
    WRONG_USE,
    config_option,
    fail,
    files,
    json_option,
    ledger_option,
    print_json,
    say,
)
from station.cli.export import export
from station.cli.restore import restore
from station.ledger.backup import backup as copy
from station.ledger.backup import weekly
from station.ledger.book import LedgerError
from station.ledger.code import Mistyped, SheetCode, read_code
from station.ledger.mark import mark_path, read_mark
from station.ledger.printed import Printed, judge, read_head
from station.ledger.progress import Progress
from station.ledger.reading import is_simulated, open_reader
from station.ledger.repair import Repair, examine
from station.ledger.repair import repair as mend
from station.ledger.since import not_checked, verify_since
from station.ledger.verify import Verdict
from station.ledger.verify import verify as check
from station.ledger.walk import Seen
from station.resources import Config
from station.service.clock import stamp
from station.settings import load_settings


@click.group(epilog="Example: station ledger verify --ledger station.ledger")
def ledger() -> None:
    """The ledger: verify, copy or export it, beside a running station too; repair it."""


ledger.add_command(export)
ledger.add_command(restore)


@ledger.command(epilog="Example: station ledger verify --sheet RUUT-FAR6-DAD")
@click.option("--sheet", metavar="CODE", help="Also ask for the event that a sheet's code names.")
@click.option("--head", metavar="HEX", help='Also ask for a printed head: "a65e 8c59 0b1f 77d2".')
@click.option("--since", metavar="SEQ", type=int, help="From event SEQ on alone; not the tables.")
@click.option("--resume", is_flag=True, help="Keep how far it is; go on where it was interrupted.")
@ledger_option
@json_option
def verify(
    sheet: str | None,
    head: str | None,
    since: int | None,
    resume: bool,
    ledger: Path,
    as_json: bool,
) -> None:
    """Check every hash and every row made from the events; exit status 1 if something is broken.

    With what is printed on a sheet it says whether that paper belongs to this ledger and whether
    all up to it is unchanged; exit status 1 where not.

    --since takes the event before SEQ as it stands: the answer names its hash, to be compared with
    a sheet. --resume writes beside the ledger how far it is. Both say what they did NOT check.
    """
    paper = _paper(sheet, head)
    if sum((paper is not None, since is not None, resume)) > 1:
        fail("paper, --since and --resume go one by one", "leave all but one out", WRONG_USE)
    left: list[str] = []
    try:
        with open_reader(ledger) as db:
            simulated = is_simulated(db)
            with _progress(db) as seen:
                if since is not None:
                    verdict = verify_since(db, since, seen)
                    left = not_checked(db, since)
                elif resume:
                    kept = Progress(ledger, lambda: stamp(datetime.now(UTC)))
                    verdict = check(db, seen, kept)
                    left = kept.not_checked()
                else:
                    verdict = check(db, seen)
            printed = None if paper is None else judge(db, paper, verdict)
        if read_mark(ledger) is None:
            left.append(f"whether its end was cut off: {mark_path(ledger).name}, {NO_MARK}")
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    _report(verdict, str(ledger), simulated, as_json, printed, left)


NO_MARK = (
    "which stands beside it and says how many events it must have, is not there; a printed sheet"
    " says it too, with --sheet or --head"
)


@contextmanager
def _progress(db: Database) -> Iterator[Seen]:
    """A bar for a person who waits, on standard error; none where that is no terminal."""
    if not sys.stderr.isatty():
        yield lambda seq: None
        return
    (events,) = db.execute("SELECT max(seq) FROM event").fetchone()
    with click.progressbar(length=events or 0, label="verifying", file=sys.stderr) as bar:
        yield lambda seq: bar.update(seq - bar.pos)


def _paper(sheet: str | None, head: str | None) -> SheetCode | str | None:
    """What was typed from a sheet; a mistyped one ends the command."""
    if sheet is not None and head is not None:
        fail("a sheet has both, one is enough", "give --sheet or --head", WRONG_USE)
    try:
        if sheet is not None:
            return read_code(sheet)
        return None if head is None else read_head(head)
    except Mistyped as error:
        fail(f"that is mistyped: {error}", "read it from the sheet again", WRONG_USE)


@ledger.command(epilog="Example: station ledger backup /mnt/usb/2026-11-30.ledger")
@click.argument("file", required=False, type=click.Path(path_type=Path, dir_okay=False))
@config_option
@ledger_option
@json_option
def backup(file: Path | None, config: Path | None, ledger: Path, as_json: bool) -> None:
    """Copy the ledger to FILE while it is in use, and verify the copy.

    Without FILE it goes into the folder that backup_to in station.toml names, to the file of this
    weekday: it takes the place of last week's once it is verified.
    """
    at = stamp(datetime.now(UTC))
    try:
        if file is not None:
            verdict = copy(ledger, file, at)
        else:
            file, verdict = weekly(ledger, _backup_to(config), at)
            file = file if verdict.ok else ledger  # last week's copy stays then
        with open_reader(file) as db:
            simulated = is_simulated(db)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    _report(verdict, str(file), simulated, as_json)


def _backup_to(config: Path | None) -> Path:
    """The folder that station.toml names."""
    with files():
        folder = load_settings(Config(config)).backup_to
    if not folder:
        fail("no FILE is given, and station.toml has no backup_to", "name a FILE", WRONG_USE)
    return Path(folder)


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
    verdict: Verdict,
    name: str,
    simulated: bool,
    as_json: bool,
    printed: Printed | None = None,
    left: Sequence[str] = (),
) -> NoReturn:
    """`left`: what was not checked."""
    name = f"{name} (SIMULATED)" if simulated else name
    if as_json:
        more = {"printed": asdict(printed)} if printed else {}
        print_json(asdict(verdict) | more | ({"not_checked": left} if left else {}))
    elif verdict.ok:
        whole = "is whole as far as it was checked" if left else "is whole"
        say(f"{name} {whole}: {verdict.events} events, head {verdict.head}")
    else:
        where = f" at event {verdict.first_broken}" if verdict.first_broken else ""
        say(f"{name} is BROKEN{where}: {verdict.reason}")
        say("  next: keep this file as it is, and compare it with the last good backup")
    if not as_json:
        for part in left:
            say(f"  NOT checked: {part}")
    if printed and not as_json:
        say(f"the paper: {printed.says}")
    sys.exit(0 if verdict.ok and (printed is None or printed.unchanged) else NO)
