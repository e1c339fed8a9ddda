"""A copy of the ledger while it is in use, by SQLite's online backup, verified after writing."""

import sqlite3
from contextlib import closing
from pathlib import Path

from station.ledger.book import LedgerError, explain
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify


def backup(source: Path, target: Path) -> Verdict:
    """Copy `source` to `target`, which must not exist. Raises `LedgerError`."""
    if target.exists():
        raise LedgerError(f"{target} exists already", "give the backup a new name")
    if not target.parent.is_dir():
        raise LedgerError(f"there is no folder {target.parent}", "name a folder that is there")
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        with open_reader(source) as db, closing(sqlite3.connect(part)) as copy:
            db.conn.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, readable anywhere
        with open_reader(part) as db:
            verdict = verify(db)
        part.rename(target)
    except OSError as error:
        raise LedgerError(
            f"{target} cannot be written: {error.strerror}", "choose another place"
        ) from error
    except sqlite3.Error as error:
        raise explain(error, target) from error
    finally:
        if part.exists():
            part.unlink()
    return verdict
