"""A copy of the ledger while it is in use, by SQLite's online backup, verified after writing."""

from pathlib import Path

from station.ledger.copying import copy_whole
from station.ledger.errors import LedgerError
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify


def backup(source: Path, target: Path) -> Verdict:
    """Copy `source` to `target`, which must not exist. Raises `LedgerError`."""
    if target.exists():
        raise LedgerError(f"{target} exists already", "give the backup a new name")
    if not target.parent.is_dir():
        raise LedgerError(f"there is no folder {target.parent}", "name a folder that is there")
    with open_reader(source) as db:
        copy_whole(db.conn, target)
    with open_reader(target) as db:
        return verify(db)
