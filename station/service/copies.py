"""The backup of a ledger whose batch has ended, and how old the last good one is."""

import asyncio
import contextlib
import logging
import sys
from datetime import datetime
from pathlib import Path

import msgspec

from station.ledger.backup import last_backup, too_old
from station.service.clock import Clock, stamp
from station.service.copier import Done
from station.service.desk import Desk
from station.settings import Settings
from station.wire import Backup

log = logging.getLogger("station")

LOOK_S = 60.0
"""Seconds between two looks at the note of the last good backup: it may be made by hand, or by a
timer."""

STOPS_S = 5.0
"""Seconds that a copy has to clean up when the station stops."""


def told(ledger: Path, settings: Settings, failed: Done, now: datetime) -> Backup:
    """How it is with the backup. `failed`: what came of the last try, empty where it was good."""
    last = last_backup(ledger)
    at, days = None, None
    if last is not None:
        at, days = last.at, max(int(last.age_days(now)), 0)
    if failed.sentence:
        return Backup(at, days, f"no backup was made: {failed.sentence}", failed.next)
    if not too_old(last, settings.backup_days, now):
        return Backup(at, days)
    age = f"the last backup is {days} days old" if last else "there is no backup of the ledger yet"
    return Backup(at, days, age, "station ledger backup FILE, onto another disk")


async def follow(ledger: Path, settings: Settings, clock: Clock, desk: Desk) -> None:
    """Copy it whenever a batch has ended, if station.toml says where to; tell its age, for ever."""
    failed = Done()
    while True:
        ended = False
        desk.tell_backup(await asyncio.to_thread(told, ledger, settings, failed, clock.utc()))
        with contextlib.suppress(TimeoutError):
            ended = await asyncio.wait_for(desk.batch_ended.wait(), LOOK_S)
        desk.batch_ended.clear()
        if not ended:
            continue
        if settings.backup_to:
            failed = await _copied(ledger, settings.backup_to, stamp(clock.utc()))


async def _copied(ledger: Path, folder: str, at: str) -> Done:
    """What came of it, which is logged, too."""
    words = ("-m", "station.service.copier", str(ledger), folder, at)
    process = await asyncio.create_subprocess_exec(
        sys.executable, *words, stdin=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.PIPE
    )
    try:
        said, _ = await process.communicate()
    finally:
        await _ended(process)
    try:
        done = msgspec.json.decode(said, type=Done)
    except msgspec.DecodeError:  # it was killed
        ended = f"copying to {folder} ended with status {process.returncode}"
        done = Done(sentence=ended, next="the log says why; the next batch tries again")
    if done.sentence:
        log.warning("no backup was made: %s; %s", done.sentence, done.next)
    else:
        log.info("the ledger was copied to %s", done.file)
    return done


async def _ended(process: asyncio.subprocess.Process) -> None:
    """See that it is, when the station stops meanwhile; it cleans up first."""
    if process.returncode is not None:
        return
    process.terminate()
    try:
        await asyncio.wait_for(process.communicate(), STOPS_S)
    except TimeoutError:
        process.kill()
        await process.communicate()
