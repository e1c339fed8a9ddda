"""A copy of the ledger while it is in use, by SQLite's online backup, verified after writing."""

import contextlib
import os
from datetime import datetime
from pathlib import Path

import msgspec

from station.ledger.copying import copy_whole
from station.ledger.errors import LedgerError
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
PLUG_IN = "plug the backup disk in and mount it there"


class LastBackup(msgspec.Struct, frozen=True):
    """The last good backup, as it is noted beside the ledger: when (RFC 3339, UTC), how many events
    with which head, and where."""

    at: str
    events: int
    head: str
    file: str

    def age_days(self, now: datetime) -> float:
        """Days since then; below zero where a clock was set back."""
        return (now - datetime.fromisoformat(self.at)).total_seconds() / 86400


def note_path(ledger: Path) -> Path:
    """The note's file beside the ledger's own."""
    real = ledger.resolve()
    return real.with_name(f"{real.name}.backup")


def backup(source: Path, target: Path, at: str) -> Verdict:
    """Copy `source` to `target`, which must not exist; a good copy is noted, at the time `at`.
    Raises `LedgerError`."""
    if target.exists():
        raise LedgerError(f"{target} exists already", "give the backup a new name")
    if not target.parent.is_dir():
        raise LedgerError(f"there is no folder {target.parent}", "name a folder that is there")
    verdict = _copied(source, target)
    if verdict.ok:
        _note(source, LastBackup(at, verdict.events, verdict.head, str(target.resolve())))
    return verdict


def weekly(source: Path, folder: Path, at: str) -> tuple[Path, Verdict]:
    """Copy `source` into `folder`, to the file of this weekday (UTC), and say where that is.

    It takes the place of last week's once it is verified, so that there are seven at most; of a
    file that is no earlier copy of this ledger it does not. Its last event's hash is added to a
    list beside it, which outlives the copies. Raises `LedgerError`.
    """
    see_folder(source, folder)
    day = _DAYS[datetime.fromisoformat(at).weekday()]
    target = folder / f"{source.stem}-{day}{source.suffix}"
    if target.exists():
        _see_earlier(source, target)
    fresh = target.with_name(f"{target.name}.new")
    try:
        verdict = _copied(source, fresh)
        if verdict.ok:
            fresh.replace(target)
            last = LastBackup(at, verdict.events, verdict.head, str(target.resolve()))
            _list_head(heads_path(source, folder), last)
            _sync(folder)
            _note(source, last)
    except OSError as error:
        raise LedgerError(
            f"{target} cannot be written: {error.strerror}", "check the backup disk"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)
    return target, verdict


def heads_path(source: Path, folder: Path) -> Path:
    """The list of heads that the backups in `folder` leave: a ledger that was cut, or written
    anew, long after the copies of that time are gone, does not have them."""
    return folder / f"{source.stem}-heads.txt"


def _list_head(path: Path, last: LastBackup) -> None:
    with path.open("a", encoding="ascii") as file:
        file.write(f"{last.at}  {last.events} events  head {last.head}\n")
        file.flush()
        os.fsync(file.fileno())


def see_folder(source: Path, folder: Path) -> None:
    """Raise `LedgerError` unless there is `folder`, on another disk than the ledger `source`: an
    empty place to mount on would fill the ledger's own."""
    try:
        there = folder.is_dir()
        alike = there and device(folder) == device(source.parent)
    except OSError as error:
        raise LedgerError(f"{folder} cannot be reached: {error.strerror}", PLUG_IN) from error
    if not there:
        raise LedgerError(f"there is no folder {folder}", PLUG_IN)
    if alike:
        raise LedgerError(
            f"{folder} is on the ledger's own disk: nothing is mounted there", PLUG_IN
        )


def device(path: Path) -> int:
    """The number of the disk that a path is on."""
    return path.stat().st_dev


def _see_earlier(source: Path, copy: Path) -> None:
    """Raise `LedgerError` unless all of `copy` stands in `source`."""
    try:
        with open_reader(copy) as db:
            last = db.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1").fetchone()
        with open_reader(source) as db:
            query = "SELECT seq, hash FROM event WHERE seq = ?"  # which hangs on the ledger's id
            same = db.execute(query, [last[0]]).fetchone() == last
    except (LedgerError, TypeError):
        same = False
    if not same:
        raise LedgerError(f"{copy} is no earlier copy of this ledger", "move it to another place")


def _copied(source: Path, target: Path) -> Verdict:
    """Copy it, and verify the copy."""
    with open_reader(source) as db:
        copy_whole(db.conn, target)
    with open_reader(target) as db:
        return verify(db)


def _sync(folder: Path) -> None:
    file = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(file)
    finally:
        os.close(file)


def too_old(last: LastBackup | None, most_days: int | None, now: datetime) -> bool:
    """Whether there is none, or it is older than `most_days`; never where those are None."""
    return most_days is not None and (last is None or last.age_days(now) > most_days)


def last_backup(ledger: Path) -> LastBackup | None:
    """None where there is no note that can be read."""
    try:
        found = msgspec.json.decode(note_path(ledger).read_bytes(), type=LastBackup)
        timed = datetime.fromisoformat(found.at).tzinfo is not None
    except (OSError, ValueError):
        return None
    return found if timed else None


def _note(ledger: Path, last: LastBackup) -> None:
    """Without it a good backup only counts as none: whoever made it may have no right to write."""
    path = note_path(ledger)
    fresh = path.with_name(f"{path.name}.new")
    with contextlib.suppress(OSError):
        fresh.write_bytes(msgspec.json.encode(last))
        fresh.replace(path)
