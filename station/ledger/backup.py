"""A copy of the ledger while it is in use, by SQLite's online backup, verified after writing."""

import contextlib
from datetime import datetime
from pathlib import Path

import msgspec

from station.ledger.copying import copy_whole
from station.ledger.errors import LedgerError
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify


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
    with open_reader(source) as db:
        copy_whole(db.conn, target)
    with open_reader(target) as db:
        verdict = verify(db)
    if verdict.ok:
        _note(source, LastBackup(at, verdict.events, verdict.head, str(target.resolve())))
    return verdict


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
