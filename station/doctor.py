"""What is wrong with this machine's station, and what to do: ports, rights, clock, disk, ledger."""

import asyncio
import ctypes
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from drivers.link import LinkState
from drivers.reading import Fault, Reading
from station.bench.settings import load_bench
from station.client import Client, ClientError
from station.formula.sheet import parse_formula
from station.ledger.backup import last_backup, see_folder, too_old
from station.ledger.book import LedgerError
from station.ledger.mark import read_mark
from station.ledger.reading import is_simulated, open_reader
from station.ledger.verify import verify
from station.resources import Config, ResourceError
from station.service.clock import Clock
from station.settings import ScaleSettings, Settings, load_settings
from station.tomlfile import FileMistakes

LISTENS_S = 2.0
LEAST_FREE_MB = 200
LEAST_YEAR = 2026
"""A clock before this year was never set: a board without a battery starts in the past."""
_TIME_ERROR = 5


@dataclass(frozen=True, slots=True)
class Found:
    """One thing looked at: whether it is well, what was seen, and what to do if it is not."""

    what: str
    well: bool
    seen: str
    next: str = ""


def examine(config: Config, ledger: Path, socket: Path) -> Iterator[Found]:
    """Look at everything, one after the other; never raises for what it finds."""
    settings, found = _configuration(config)
    yield from found
    state = _station(socket)
    yield state
    if settings is not None:
        for scale in settings.scales:
            yield _running_port(scale, socket) if state.well else _port(scale)
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


def _running_port(scale: ScaleSettings, socket: Path) -> Found:
    """A port that the station holds: what the station says of it."""
    name = f"scale {scale.scale.name}"
    try:
        with Client(socket, 5) as client:
            pan = client.call("state")["scales"].get(scale.scale.name)
    except ClientError as error:
        return Found(name, False, error.sentence, error.next)
    if pan is None:
        return Found(name, False, "the running station does not know it", "restart the station")
    if pan["troubles"]:
        return Found(name, False, f"{pan['says']}, at {scale.port.port}", pan["next"])
    if pan["gross_g"] is None:
        step = "station follow says what to do"
        return Found(name, False, f"nothing is read at {scale.port.port}", step)
    return Found(name, True, f"it reads {pan['gross_g']} g at {scale.port.port}")


def _port(scale: ScaleSettings) -> Found:
    """A port that nobody holds: open it and listen."""
    return asyncio.run(_listen(scale))


async def _listen(scale: ScaleSettings) -> Found:
    name = f"scale {scale.scale.name}"
    states: list[LinkState] = []
    items: list[Reading | Fault] = []
    source = scale.kind.source(scale.port, Clock(), lambda got, _: items.extend(got), states.append)
    running = asyncio.ensure_future(source.run())
    try:
        for _ in range(round(LISTENS_S / 0.05)):
            await asyncio.sleep(0.05)
            if any(isinstance(item, Reading) for item in items) or (states and not states[-1].up):
                break
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    readings = [item for item in items if isinstance(item, Reading)]
    port = scale.port
    if states and not states[-1].up:
        return Found(name, False, states[-1].reason, states[-1].next)
    if readings:
        sent = f"{readings[-1].value} {readings[-1].unit or ''}".strip()
        return Found(name, True, f"it sends {sent} at {port.port}")
    if items:
        seen = f"bytes but no frame: {items[0].raw[:16].hex(' ')}"
        step = (
            f"check speed and parity: {port.baud} {port.bits}; station scale identify {port.port}"
        )
        return Found(name, False, seen, step)
    if scale.scale.sends == "stable":
        return Found(name, True, f"{port.port} is open; it sends only when settled")
    step = "switch it on; check that it sends by itself"
    return Found(name, False, f"silent for {LISTENS_S:.0f} s at {port.port}", step)


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
