"""What a start left for later: the ledger before its checkpoint, verified beside the work."""

import sqlite3
import threading
from contextlib import suppress
from pathlib import Path

from sqlite_utils.db import Database

from station.ledger.checkpoint import Checkpoint
from station.ledger.errors import FILE_ERRORS, PUT_ASIDE, REBUILD, LedgerError
from station.ledger.reading import open_reader
from station.ledger.rows import Rows
from station.ledger.verify import file_broken, schema_broken, told
from station.ledger.walk import Broken, Walk

SLICE = 20
"""Events between two pauses: some three milliseconds, so that readings and keys are not held up."""

PAUSE_S = 0.003
AGAIN_S = 60.0
"""Seconds until it begins again where the ledger cannot be read now."""

STEP = 1000
"""Events after which the progress is told."""


class Behind:
    """A thread with a reader of its own. `unverified`: events still to be verified, 0 at the end;
    `broken`: what it found, for whoever writes to stop by."""

    def __init__(self, path: Path, start: Checkpoint) -> None:
        self._path = path
        self._start = start
        self._stopped = threading.Event()
        self._reader: Database | None = None
        self._thread = threading.Thread(target=self._run, name="verification", daemon=True)
        self.unverified = start.seq
        self.broken: LedgerError | None = None
        self._thread.start()

    def stop(self) -> None:
        """End it, wherever it is."""
        self._stopped.set()
        while self._thread.is_alive():
            if (reader := self._reader) is not None:
                with suppress(sqlite3.ProgrammingError):  # closed meanwhile
                    reader.conn.interrupt()
            self._thread.join(0.05)

    def _run(self) -> None:
        while not self._stopped.is_set():
            try:
                broken = self._verified()
            except (LedgerError, *FILE_ERRORS):
                self._stopped.wait(AGAIN_S)  # who writes meets the same trouble, and shows it
                continue
            if self._stopped.is_set():
                return
            if broken is None:
                self.unverified = 0
            else:
                step = REBUILD if broken.derived else PUT_ASIDE
                sentence = f"{self._path} is broken: {broken.reason}"
                self.broken = LedgerError(sentence, f"stop the station; {step}")
            return

    def _verified(self) -> Broken | None:
        with open_reader(self._path) as db:
            rows = Rows(db)
            walk = Walk(db, rows.see)
            self._reader = db
            try:
                return told(db, walk, lambda: self._check(db, walk, rows))
            finally:
                self._reader = None

    def _check(self, db: Database, walk: Walk, rows: Rows) -> Broken | None:
        walk.begin()
        start = self._start
        while walk.seq < start.seq and not self._stopped.is_set():
            if not walk.some(min(SLICE, start.seq - walk.seq)):
                break
            self.unverified = start.seq - walk.seq // STEP * STEP
            self._stopped.wait(PAUSE_S)
        if self._stopped.is_set():
            return None
        if (walk.seq, walk.head) != (start.seq, start.head):
            return Broken(walk.seq + 1, f"event {start.seq} is not the one of the start")
        if walk.station != start.station:
            return Broken(None, "its events do not make the state that it began with", derived=True)
        db.execute("BEGIN")  # one state of the file for what is still written to
        try:
            walk.run()
            return file_broken(db) or schema_broken(db) or rows.end(walk.leaves)
        finally:
            if db.conn.in_transaction:
                db.execute("ROLLBACK")
