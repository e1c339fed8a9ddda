"""The book: one file, one writer. Append and fold; a failed write changes nothing."""

import logging
import os
import sqlite3
from collections.abc import Callable, Sequence
from itertools import count
from pathlib import Path
from secrets import token_bytes

from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.state import Batch, Station
from station.ledger import chain, schema, tables, tree
from station.ledger.checkpoint import (
    Checkpoint,
    code_digest,
    forget_checkpoint,
    read_checkpoint,
    write_checkpoint,
)
from station.ledger.copying import copy_whole
from station.ledger.errors import FILE_ERRORS, PUT_ASIDE, REBUILD, LedgerError, explain
from station.ledger.hold import Held
from station.ledger.log import Log
from station.ledger.mark import Mark, MarkFile, mark_path, read_mark
from station.ledger.reading import check_version
from station.ledger.records import Recorded, insert, linked, read_events
from station.ledger.verify import missing, prove, prove_from

__all__ = ["Book", "LedgerError", "Recorded", "read_events"]

log = logging.getLogger("station")

LOCK_S = 1.0
"""Seconds to wait for another program's lock. A failed append, closing and opening again must all
fit into the four seconds after which the ledger's thread counts as hung."""


class Book:
    """A ledger open for writing, held by one lock; also the state folded from it."""

    def __init__(self, held: Held, connection: sqlite3.Connection) -> None:
        self.path = held.path
        self._held = held
        self._db = Database(connection, execute_plugins=False)
        self._log = Log(self._db, held.path)
        self._mark: MarkFile | None = None
        self._first = b""
        self._rescued: Path | None = None
        self._kept: int | None = None  # the event of the last checkpoint
        self._doubted = False
        self.start: Checkpoint | None = None
        """Where the check of the start began; what lies before it is still to be verified."""
        self.station = Station()
        self.seq = 0
        self.head = b""
        self._root = b""  # of the hash tree over the batches
        self._grown = True  # whether that tree was found as the events make it
        self.simulated = False  # what the ledger was born as, once it is folded

    @classmethod
    def open(
        cls,
        path: Path,
        born: ev.LedgerBorn,
        at: str,
        known: Mark | None = None,
        accept_loss: int | None = None,
    ) -> "Book":
        """Open the ledger at `path`, or make it. All that `verify` checks is checked; with a
        checkpoint, from there on alone, and `start` says so.

        `born` says what a new ledger is; an existing one stays what it was born as. `known` is the
        last event the caller knows of, else the mark beside the file says it; a ledger that does
        not reach it is refused unless `accept_loss` is its number. Raises `LedgerError`.
        """
        mark = known or read_mark(path)
        if not path.exists():  # before a file is made there
            _judge_loss(path, "it is not there" if mark else None, mark, accept_loss)
        held = Held.take(path)
        connection = None
        try:
            connection = sqlite3.connect(
                path, timeout=LOCK_S, isolation_level=None, check_same_thread=False
            )
            book = cls(held, connection)
            book._begin(born, at, mark, accept_loss)
        except BaseException as error:
            if connection is not None:
                connection.close()
            held.release()
            if isinstance(error, FILE_ERRORS):
                raise explain(error, path) from error
            raise
        return book

    @property
    def mark(self) -> Mark:
        """The last event, as it is remembered outside the file."""
        return Mark(self._first.hex(), self.seq, self.head.hex(), self._root.hex())

    def append(self, events: Sequence[tuple[str | None, ev.Event]], at: str) -> list[Recorded]:
        """Record events, each with its batch, in one durable transaction. Raises `LedgerError`."""
        self._guarded(self._held.check)
        records = linked(self.seq, self.head, events, at)
        station = self.station
        touched: dict[str, Batch] = {}
        for batch, event in events:
            station = evolve(station, event, at, batch)
            if (found := station.find(batch)) is not None:
                touched[found.id] = found
        with self._log.transaction():
            last = self._db.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1")
            if last.fetchone() != (self.seq, self.head):
                raise LedgerError(
                    f"another program wrote events to {self.path}", "run: station ledger verify"
                )
            insert(self._db, records)
            for state in touched.values():
                tables.write(self._db, state)
            root = tree.stored_root(self._db) or b""
        self._guarded(self._held.look)  # what went into a file that is gone is not acknowledged
        self.station, self.seq, self.head = station, records[-1].seq, records[-1].hash
        self._root = root
        if self._mark is not None:
            self._mark.write(self.mark)
        return records

    def tend(self, now_s: float) -> bool:
        """Watch the file, and fold the log into it when that is due; whether it was folded.

        To be called once a second; `now_s` is monotonic, in seconds. Raises `LedgerError`.
        """
        self._guarded(self._held.check)
        if not self._log.due(self.seq, now_s):
            return False
        return self._fold_log("PASSIVE")  # never waits for a reader

    def checkpoint(self) -> None:
        """Fold the log into the file and keep it small. Raises `LedgerError`."""
        self._fold_log("TRUNCATE")

    def save(self) -> None:
        """See that what the open file holds outlives its closing, and that nothing else does.
        Raises `LedgerError`."""
        if self._held.unlinked:
            self._rescue()
        else:
            self._log.settle()

    def doubt(self) -> None:
        """Leave no checkpoint: the next start folds from the first event. Raises `LedgerError`."""
        self._doubted = True
        forget_checkpoint(self.path)

    def close(self) -> None:
        """Checkpoint, close, and let another writer in."""
        try:
            self.checkpoint()
        finally:
            self._db.conn.close()
            if self._mark is not None:
                self._mark.close()
            self._held.release()

    def _begin(
        self, born: ev.LedgerBorn, at: str, mark: Mark | None, accept_loss: int | None
    ) -> None:
        """Prove, then write: what is wrong with a ledger is left as it is found."""
        check_version(self._db.conn, self.path)
        lost: str | None
        if fresh := self._unborn():
            lost = "it is empty" if mark else None
        else:
            lost = self._proven(mark)
        _judge_loss(self.path, lost, mark, accept_loss)
        self._log.begin()
        self._db.execute("PRAGMA foreign_keys = ON")
        self._migrate(fresh)
        if fresh:
            self._bear(born, at)
        self._keep_tree()
        self._held.fasten()
        self._held.look()
        self._mark = MarkFile(self.path)
        if lost and mark:
            accepted = ev.LossAccepted(
                mark.ledger, mark.seq, mark.head, self.seq, self.head.hex(), uid=os.getuid()
            )
            self.append([(None, accepted)], at)
        self.checkpoint()

    def _migrate(self, fresh: bool) -> None:
        """Bring the file to this program's schema; what an older one made from the events is made
        anew, once."""
        old = schema.version_of(self._db) < schema.ROWS_SINCE
        schema.migrations.apply(self._db)
        if old and not fresh:
            with self._log.transaction():
                tables.clear(self._db)
                prove(self._db, leave=lambda batch: tables.write(self._db, batch))

    def _keep_tree(self) -> None:
        """Know the root of the hash tree. One that is missing, of another number of events or
        found wrong is made anew; after a start from a checkpoint, who verifies finds it wrong."""
        (events,) = self._db.execute("SELECT sum(events) FROM leaf").fetchone()
        if events != self.seq or not self._grown:
            with self._log.transaction():
                tree.rebuild(self._db)
        self._root = tree.stored_root(self._db) or b""

    def _unborn(self) -> bool:
        """Whether nothing was ever recorded here. Raises `LedgerError` for what is no ledger."""
        rows = self._db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        names = {row[0] for row in rows} - {schema.migrations.migrations_table}
        if names and "event" not in names:
            raise LedgerError(f"{self.path} is no ledger", "name another file with --ledger")
        return not names or not any(
            self._db.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone()
            for table in ("ledger", "event")
        )

    def _proven(self, mark: Mark | None) -> str | None:
        """Take over what the events say; what is lost of what `mark` knows. Raises `LedgerError`
        for a ledger that is broken."""
        start = read_checkpoint(self.path)
        proof = None if start is None else prove_from(self._db, start)
        if proof is None:
            proof = prove(self._db)
        else:
            self.start = start
        self._grown = proof.broken is None or proof.broken.reason != tree.OTHER
        if proof.broken is not None and self._grown:
            raise LedgerError(
                f"{self.path} is broken: {proof.broken.reason}",
                REBUILD if proof.broken.derived else PUT_ASIDE,
            )
        self.station, self.seq, self.head = proof.station, proof.seq, proof.head
        self._first, self.simulated = proof.first, proof.simulated
        if mark is None:
            log.warning("%s is not there: nothing says how many events the ledger must have",
                        mark_path(self.path))  # fmt: skip
            return None
        return missing(self._db, proof, mark)

    def _bear(self, born: ev.LedgerBorn, at: str) -> None:
        """The ledger's identity and its first event, both or neither."""
        ident = token_bytes(32)
        self._first, self.simulated = chain.first_prev(ident), born.simulated
        (record,) = linked(0, self._first, [(None, born)], at)
        with self._log.transaction():
            self._db.execute("INSERT INTO ledger VALUES (1, ?, ?)", (ident, int(born.simulated)))
            insert(self._db, [record])
        self.station = evolve(self.station, born, at, None)
        self.seq, self.head = record.seq, record.hash

    def _fold_log(self, mode: str) -> bool:
        whole = self._log.fold(mode)
        self._guarded(self._held.look)
        if self._mark is not None:
            self._mark.keep(self.mark)
            self._keep_state()
        if whole:
            self._log.folded(self.seq)
        return whole

    def _keep_state(self) -> None:
        """A checkpoint of what is on the disk. Without one the next start only takes longer."""
        if self._doubted or self._kept == self.seq:
            return
        here = Checkpoint(self._first, self.seq, self.head, code_digest(), self.station)
        try:
            write_checkpoint(self.path, here)
        except LedgerError as error:
            log.warning("%s", error.sentence)
        else:
            self._kept = self.seq

    def _guarded(self, see: Callable[[], None]) -> None:
        """Look at the file; where it has lost its last name, save what it holds first."""
        try:
            see()
        except LedgerError as error:
            if not self._held.unlinked:
                raise
            try:
                copy = self._rescue()
            except LedgerError as failed:
                raise LedgerError(
                    f"{error.sentence}, and no copy could be saved: {failed.sentence}",
                    "leave the station running: it holds the last copy; mend the folder",
                ) from None
            raise LedgerError(
                f"{error.sentence}; a whole copy is saved as {copy}",
                f"stop nothing; rename that copy to {self.path}",
            ) from None

    def _rescue(self) -> Path:
        """Copy an unlinked file to a new name beside the old one. Raises `LedgerError`."""
        if self._rescued is None:
            stem = f"{self._held.real}.rescued-{self.seq}"
            names = (Path(f"{stem}-{number}") for number in count(1))
            target = next(name for name in names if not name.exists())
            copy_whole(self._db.conn, target)
            self._rescued = target
        return self._rescued


def _judge_loss(path: Path, lost: str | None, mark: Mark | None, accept_loss: int | None) -> None:
    """Raise `LedgerError` where events are lost and nobody accepted it, or the other way round."""
    if lost is None or mark is None:
        if accept_loss is not None:
            raise LedgerError(f"nothing is missing of {path}", "leave --accept-loss out")
    elif accept_loss != mark.seq:
        raise LedgerError(
            f"the ledger {path} is not what it was, of {mark.seq} events: {lost}",
            "put the whole file back; or go on without what is lost, which the record then says:"
            f" station run --accept-loss {mark.seq}",
        )
