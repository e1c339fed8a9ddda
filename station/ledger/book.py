"""The book: one file, one writer. Append and fold; a failed write changes nothing."""

import contextlib
import fcntl
import os
import secrets
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec
from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.codec import from_body, to_body
from station.batch.evolve import evolve
from station.batch.state import Batch, Station
from station.ledger import chain, tables
from station.ledger.schema import VERSION, migrations


class LedgerError(Exception):
    """The ledger cannot be used: one sentence, and the next step."""

    def __init__(self, sentence: str, next_step: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.next = next_step


@dataclass(frozen=True, slots=True)
class Recorded:
    """One event as it stands in the ledger."""

    seq: int
    at: str
    batch: str | None
    kind: str
    body: chain.Body
    prev: bytes
    hash: bytes

    @property
    def event(self) -> ev.Event:
        """The event itself. Raises `msgspec.ValidationError` for a kind unknown here."""
        return from_body(self.kind, self.body)


class Book:
    """A ledger open for writing, held by one lock; also the state folded from it."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: int) -> None:
        self.path = path
        self._db = Database(connection, execute_plugins=False)
        self._lock = lock
        self.station = Station()
        self.seq = 0
        self.head = b""
        self.simulated = False  # what the ledger was born as, once it is folded

    @classmethod
    def open(cls, path: Path, born: ev.LedgerBorn, at: str) -> "Book":
        """Open the ledger at `path`, or make it. Raises `LedgerError`.

        `born` says what a new ledger is; an existing one stays what it was born as.
        """
        lock = _lock(path)
        connection = None
        try:
            connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            check_version(connection, path)
            book = cls(path, connection, lock)
            migrations.apply(book._db)
            book._fold(born, at)
        except BaseException as error:
            if connection is not None:
                connection.close()
            os.close(lock)
            if isinstance(error, sqlite3.Error):
                raise explain(error, path) from error
            raise
        return book

    def append(self, events: Sequence[tuple[str | None, ev.Event]], at: str) -> list[Recorded]:
        """Record events, each with its batch, in one durable transaction. Raises `LedgerError`."""
        station, seq, prev = self.station, self.seq, self.head
        records = []
        touched: dict[str, Batch] = {}
        for batch, event in events:
            kind, body = to_body(event)
            digest = chain.event_hash(prev, seq + 1, at, batch, kind, body)
            records.append(Recorded(seq + 1, at, batch, kind, body, prev, digest))
            station = evolve(station, event, at, batch)
            if (found := station.find(batch)) is not None:
                touched[found.id] = found
            seq, prev = seq + 1, digest
        try:
            self._db.execute("BEGIN IMMEDIATE")
            for record in records:
                self._db.execute(
                    "INSERT INTO event (seq, at, batch, kind, body, prev, hash)"
                    " VALUES (?, ?, ?, ?, ?, ?, ?)",
                    (
                        record.seq,
                        record.at,
                        record.batch,
                        record.kind,
                        chain.canonical_body(record.body),
                        record.prev,
                        record.hash,
                    ),
                )
            for state in touched.values():
                tables.write(self._db, state)
            self._db.execute("COMMIT")
        except sqlite3.Error as error:
            self._roll_back()
            raise explain(error, self.path) from error
        self.station, self.seq, self.head = station, seq, prev
        return records

    def _roll_back(self) -> None:
        """Best effort: a transaction that cannot be rolled back ends with its connection."""
        if self._db.conn.in_transaction:
            with contextlib.suppress(sqlite3.Error):
                self._db.execute("ROLLBACK")

    def checkpoint(self) -> None:
        """Fold the write-ahead log into the file and keep it small."""
        try:
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        except sqlite3.Error as error:
            raise explain(error, self.path) from error

    def close(self) -> None:
        """Checkpoint, close, and let another writer in."""
        try:
            self.checkpoint()
        finally:
            self._db.conn.close()
            os.close(self._lock)

    def _fold(self, born: ev.LedgerBorn, at: str) -> None:
        row = self._db.execute("SELECT id, simulated FROM ledger").fetchone()
        if row is None:
            if self._db.execute("SELECT count(*) FROM event").fetchone()[0]:
                raise LedgerError(
                    f"{self.path} has events and has lost its identity",
                    "restore the last good backup",
                )
            row = (secrets.token_bytes(32), int(born.simulated))
            self._db.execute("INSERT INTO ledger VALUES (1, ?, ?)", row)
        self.head, self.simulated = chain.first_prev(row[0]), bool(row[1])
        try:
            for record in read_events(self._db):
                if (broken := chain_break(record, self.seq, self.head)) is not None:
                    raise LedgerError(
                        f"{self.path} is broken: {broken}",
                        "station ledger verify; restore the last good backup, or name another file",
                    )
                self.station = evolve(self.station, record.event, record.at, record.batch)
                self.seq, self.head = record.seq, record.hash
        except (msgspec.MsgspecError, LookupError, TypeError, ValueError, ArithmeticError) as error:
            raise LedgerError(
                f"event {self.seq + 1} of {self.path} cannot be read: {error}",
                "run: station ledger verify; restore the last good backup",
            ) from error
        if self.seq == 0:
            self.append([(None, born)], at)


def read_events(db: Database, batch: str | None = None) -> Iterator[Recorded]:
    """Events in their order; of one batch, or all."""
    where = "" if batch is None else " WHERE batch = :batch"
    for row in db.query(f"SELECT * FROM event{where} ORDER BY seq", {"batch": batch}):
        try:
            body = msgspec.json.decode(row["body"])
        except msgspec.DecodeError as error:
            raise LedgerError(
                f"event {row['seq']} cannot be read: {error}", "restore the last good backup"
            ) from error
        yield Recorded(
            row["seq"],
            row["at"],
            row["batch"],
            row["kind"],
            body,
            row["prev"],
            row["hash"],
        )


def chain_break(record: Recorded, seq: int, head: bytes) -> str | None:
    """What is wrong with the event that comes after event `seq` with the hash `head`, or None."""
    if record.seq != seq + 1:
        return f"event {seq + 1} is missing, {record.seq} comes instead"
    if record.prev != head:
        return f"event {record.seq} does not follow from the one before it"
    try:
        digest = chain.event_hash(
            head, record.seq, record.at, record.batch, record.kind, record.body
        )
    except chain.BodyError as error:
        return f"event {record.seq} cannot be read: {error}"
    return None if digest == record.hash else f"event {record.seq} was changed"


def check_version(connection: sqlite3.Connection, path: Path) -> None:
    """Raise `LedgerError` for a ledger of a newer program."""
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    if found > VERSION:
        raise LedgerError(
            f"{path} is a ledger of version {found}, this program knows up to {VERSION}",
            "use the newer program; nothing was changed",
        )


def explain(error: sqlite3.Error, path: Path) -> LedgerError:
    """SQLite's error as a sentence for a person and the next step."""
    text = str(error)
    if "full" in text or "disk I/O" in text:
        return LedgerError(
            f"the ledger {path} cannot be written: {text}", "make room on its disk; it goes on then"
        )
    if "readonly" in text or "unable to open" in text:
        return LedgerError(
            f"{path} cannot be opened for writing", "check the folder and its rights"
        )
    if "not a database" in text:
        return LedgerError(f"{path} is no ledger", "name another file with --ledger")
    return LedgerError(f"the ledger {path} failed: {text}", "run: station ledger verify")


def _lock(path: Path) -> int:
    """Hold `path`.lock; freed by the kernel whatever becomes of this process."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        lock = os.open(f"{path.resolve()}.lock", os.O_RDWR | os.O_CREAT, 0o660)
    except OSError as error:
        raise LedgerError(
            f"{path} cannot be opened: {error.strerror}", "check the folder and its rights"
        ) from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(lock)
        raise LedgerError(
            f"another station holds {path}", "stop it first, or give --ledger another file"
        ) from None
    return lock
