"""A whole copy of an open ledger in one file, on the disk before it has its name."""

import contextlib
import os
import sqlite3
from contextlib import closing
from pathlib import Path

from station.ledger.errors import FILE_ERRORS, LedgerError, explain


def copy_whole(source: sqlite3.Connection, target: Path) -> None:
    """Copy what `source` shows to `target`, by SQLite's online backup. Raises `LedgerError`."""
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        with closing(sqlite3.connect(part)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, readable anywhere
        file = os.open(part, os.O_RDONLY)
        try:
            os.fsync(file)
        finally:
            os.close(file)
        part.rename(target)
    except OSError as error:
        raise LedgerError(
            f"{target} cannot be written: {error.strerror}", "choose another place"
        ) from error
    except FILE_ERRORS as error:
        raise explain(error, target) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
