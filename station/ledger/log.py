"""SQLite's log beside the ledger's own file: what is committed stands there first, and is folded
into the file when that is due."""

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from sqlite_utils.db import Database

from station.ledger.errors import FILE_ERRORS, LedgerError, explain

FOLD_EVENTS = 200
FOLD_S = 60.0
"""The log is folded into the ledger's own file after so many events or seconds."""

LOG_PAGES = 4000
"""Pages of the log, 16 MB, after which SQLite folds it by itself, in the append: more than
`FOLD_EVENTS` make, so that it does only where nobody calls `due`."""


class Log:
    """The log of one ledger. Each method raises `LedgerError` for what its file refuses."""

    def __init__(self, db: Database, path: Path) -> None:
        self._db = db
        self._path = path
        self._folded = 0
        self._unfolded_s: float | None = None
        self._unsure = False  # a commit failed: its frames may stand whole in the log

    def begin(self) -> None:
        """Keep a log from now on; what is acknowledged is on the disk."""
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = FULL")
        self._db.execute(f"PRAGMA wal_autocheckpoint = {LOG_PAGES}")

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """Commit what is written inside, or nothing of it."""
        try:
            self._db.execute("BEGIN IMMEDIATE")
            yield
            # until the commit is sure: a start would take its frames for real
            self._unsure = True
            self._db.execute("COMMIT")
            self._unsure = False
        except (*FILE_ERRORS, LedgerError) as error:
            if self._db.conn.in_transaction:
                with contextlib.suppress(sqlite3.Error):  # then it ends with the connection
                    self._db.execute("ROLLBACK")
            if isinstance(error, FILE_ERRORS):
                raise explain(error, self._path) from error
            raise

    def due(self, seq: int, now_s: float) -> bool:
        """Whether what was recorded up to event `seq` is to be folded; asked once a second, `now_s`
        monotonic."""
        if seq == self._folded:
            return False
        if self._unfolded_s is None:
            self._unfolded_s = now_s
        return seq - self._folded >= FOLD_EVENTS or now_s - self._unfolded_s >= FOLD_S

    def fold(self, mode: str) -> bool:
        """Fold it by SQLite's checkpoint of that mode; whether all of it is in the file. A reader
        may keep a part."""
        try:
            busy, pages, folded = self._db.execute(f"PRAGMA wal_checkpoint({mode})").fetchone()
        except FILE_ERRORS as error:
            raise explain(error, self._path) from error
        return not busy and pages == folded

    def folded(self, seq: int) -> None:
        """All up to event `seq` is in the file."""
        self._folded, self._unfolded_s = seq, None

    def settle(self) -> None:
        """Leave nothing of a commit that failed, which a start would take for recorded."""
        if self._unsure:
            self.fold("TRUNCATE")
