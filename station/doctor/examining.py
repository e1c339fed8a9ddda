"""All that is looked at, one after the other: configuration, ports, clock, disk, ledger, backup."""

import ctypes
import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from station.bench.settings import load_bench
from station.client import Client, ClientError
from station.doctor.found import Found
from station.doctor.ports import free, held
from station.formula.sheet import parse_formula
from station.ledger.backup import last_backup, see_folder, too_old
from station.ledger.book import LedgerError
from station.ledger.mark import read_mark
from station.ledger.reading import is_simulated, open_reader
from station.ledger.verify import verify
from station.resources import Config, ResourceError
from station.settings import Settings, load_settings
from station.tomlfile import FileMistakes

LEAST_FREE_MB = 200
LEAST_YEAR = 2026
"""A clock before this year was never set: a board without a battery starts in the past."""
_TIME_ERROR = 5


def examine(config: Config, ledger: Path, socket: Path) -> Iterator[Found]:
    """Look at everything, one after the other; never raises for what it finds."""
    settings, found = _configuration(config)
    yield from found
    state = _station(socket)
    yield state
    if settings is not None:
        yield from held(settings, socket) if state.well else free(settings)
    yield _clock()
    yield _disk(ledger.parent)
    yield from _ledger(ledger, settings)
    yield _backup(ledger, settings.backup_days if settings else None, datetime.now(UTC))
    if settings is not None and settings.backup_to:
        yield _backup_disk(ledger, Path(settings.backup_to))


def _configuration(config: Config) -> tuple[Settings | None, list[Found]]:
    settings: Settings | None = None
    found = []
    try:
        settings = load_settings(config)
        outside = load_bench(config).outside
        if outside.command and shutil.which(outside.command[0]) is None:
            found.append(
                Found("signal", False, f"no command {outside.command[0]}", "mend bench.toml")
            )
        if outside.port and not os.access(outside.port, os.R_OK | os.W_OK):
            found.append(
                Found("signal", False, f"no lamp at {outside.port}", "plug it in; mend bench.toml")
            )
        found.append(
            Found("configuration", True, f"{settings.name}, {len(settings.scales)} scales")
        )
    except FileMistakes as error:
        found.append(Found("configuration", False, error.mistakes[0], "correct the file"))
    except ResourceError as error:
        found.append(Found("configuration", False, str(error), "check --config"))
    for name in config.names("formulas"):
        try:
            parse_formula(*config.read(f"formulas/{name}.toml"))
        except FileMistakes as error:
            step = "station formula check FILE shows all of them"
            found.append(Found(f"formula {name}", False, error.mistakes[0], step))
        except ResourceError as error:
            found.append(Found(f"formula {name}", False, str(error), "check its rights"))
    return settings, found


def _station(socket: Path) -> Found:
    try:
        with Client(socket, 5) as client:
            ledger = client.call("state")["ledger"]
    except ClientError as error:
        return Found("station", False, error.sentence, "station run, or systemctl start")
    left = ledger["unverified"] if ledger else 0
    behind = f"; about {left} of {ledger['seq']} events are still to be verified" if left else ""
    return Found("station", True, f"it answers at {socket}{behind}")


def _clock() -> Found:
    now = datetime.now(UTC)
    seen = f"{now:%Y-%m-%d %H:%M} UTC"
    if now.year < LEAST_YEAR:
        return Found("clock", False, f"{seen}: it was never set", "timedatectl set-time")
    if _synchronised() is False:
        return Found("clock", True, f"{seen}; nothing keeps it right: look at it now and then")
    return Found("clock", True, seen)


def _synchronised() -> bool | None:
    """Whether something keeps the kernel's clock (adjtimex(2)); None where it cannot be told."""
    try:
        answer = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(512))
    except (OSError, AttributeError):
        return None
    return None if answer < 0 else answer != _TIME_ERROR


def _disk(folder: Path) -> Found:
    there = folder
    while not there.exists():
        there = there.parent
    if not os.access(there, os.W_OK):
        return Found("disk", False, f"no right to write in {there}", f"sudo chown $USER {there}")
    free = shutil.disk_usage(there).free // 1_000_000
    seen = f"{free} MB free for the ledger in {folder}"
    return Found("disk", free >= LEAST_FREE_MB, seen, "make room: a full disk blocks the bench")


def _ledger(ledger: Path, settings: Settings | None) -> Iterator[Found]:
    try:
        if not ledger.exists() and read_mark(ledger) is None:
            yield Found("ledger", True, f"none yet at {ledger}: the station makes it")
            return
        with open_reader(ledger) as db:
            verdict, simulated = verify(db), is_simulated(db)
            (last,) = db.execute("SELECT max(at) FROM event").fetchone()
    except LedgerError as error:
        yield Found("ledger", False, error.sentence, error.next)
        return
    if not verdict.ok:
        step = "station ledger repair says what can be made anew; station run, what is lost"
        yield Found("ledger", False, f"broken: {verdict.reason}", step)
        return
    yield Found("ledger", True, f"{ledger}: {verdict.events} events, whole")
    if settings is not None and simulated != settings.simulated:
        born = "simulated" if simulated else "a real one"
        step = "name another file with --ledger, or mend simulated in station.toml"
        yield Found("ledger", False, f"it is {born}, station.toml says otherwise", step)
    ahead = datetime.now(UTC) + timedelta(minutes=2)
    if last and datetime.fromisoformat(last) > ahead:
        yield Found("clock", False, f"the ledger's last event is of {last}, ahead of now", "set it")


def _backup(ledger: Path, most_days: int | None, now: datetime) -> Found:
    """How old the last good one is; too old only where station.toml says when."""
    last = last_backup(ledger)
    well = not too_old(last, most_days, now)
    wanted = f"; backup_days in station.toml allows {most_days}" if most_days else ""
    step = "station ledger backup FILE, onto another disk"
    if last is None:
        seen = f"no good backup of {ledger} is noted{wanted}"
        return Found("backup", well, seen, step)
    days = last.age_days(now)
    seen = f"the last good one is {max(days, 0):.1f} days old: {last.events} events, {last.file}"
    return Found("backup", well, seen + wanted, step)


def _backup_disk(ledger: Path, folder: Path) -> Found:
    """Whether the ledger could be copied there when a batch ends."""
    try:
        see_folder(ledger, folder)
    except LedgerError as error:
        return Found("backup disk", False, error.sentence, error.next)
    if not os.access(folder, os.W_OK):
        return Found(
            "backup disk", False, f"no right to write in {folder}", "give it to the station"
        )
    return Found("backup disk", True, f"{folder} takes the copy of each batch that ends")
