"""Whether a ledger is whole: every hash, every number, every trigger and every row made from the
events. The station asks the same at every start."""

from dataclasses import dataclass
from pathlib import Path

import msgspec
from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.state import Batch, Station
from station.ledger import chain, schema, tables
from station.ledger.errors import FILE_ERRORS, LedgerError, is_damage
from station.ledger.mark import Mark, read_mark
from station.ledger.records import chain_break, read_events
from station.ledger.schema import VERSION


@dataclass(frozen=True, slots=True)
class Verdict:
    """What `verify` found. `first_broken` is a seq, None where every event is whole but something
    made from them is not (the reason says what)."""

    ok: bool
    events: int
    head: str
    first_broken: int | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class Broken:
    """The first thing that is wrong. `derived`: it is made from the events, and can be again."""

    seq: int | None
    reason: str
    derived: bool = False


@dataclass(frozen=True, slots=True)
class Proof:
    """How far a ledger was found whole, and what its events make."""

    station: Station
    batches: list[Batch]
    first: bytes
    """The `prev` of event 1."""
    simulated: bool
    seq: int
    head: bytes
    broken: Broken | None


NO_EVENT = (
    msgspec.MsgspecError,
    LookupError,
    ArithmeticError,
    ValueError,
    TypeError,
)
"""What reading and folding may raise for a body that no event has: a right hash says nothing about
what it covers."""


class _Break(Exception):
    pass


def verify(db: Database) -> Verdict:
    """Check the ledger whole, and that it reaches the last event that is known of it.

    Raises `LedgerError` where it cannot be read now (another program holds it, the disk fails).
    """
    mark = read_mark(_path(db))  # first: it may be behind what is read then, never ahead
    proof = prove(db)
    broken = proof.broken
    if broken is None and mark is not None and (lost := missing(db, proof, mark)):
        broken = Broken(min(mark.seq, proof.seq + 1), lost)
    head = chain.head_text(proof.head)
    if broken is None:
        return Verdict(True, proof.seq, head, None, None)
    return Verdict(False, proof.seq, head, broken.seq, broken.reason)


def _path(db: Database) -> Path:
    return Path(next(row[2] for row in db.execute("PRAGMA database_list") if row[1] == "main"))


def missing(db: Database, proof: Proof, mark: Mark) -> str | None:
    """What is missing of the ledger that the mark knows, or None."""
    if proof.first.hex() != mark.ledger:
        return f"another ledger was here, which had {mark.seq} events"
    if proof.seq < mark.seq:
        return f"it ends at event {proof.seq}, and event {mark.seq} stood in it"
    row = db.execute("SELECT hash FROM event WHERE seq = ?", [mark.seq]).fetchone()
    if row[0].hex() != mark.head:
        return f"event {mark.seq} is not the one that stood there"
    return None


def prove(db: Database) -> Proof:
    """Check the chain from the first event to the last, then all that is made from it.

    The first wrong thing ends the check; what was whole before it is in the proof. Raises
    `LedgerError` or `sqlite3.Error` where the ledger cannot be read now.
    """
    walk = _Walk()
    broken: Broken | None
    begun = not db.conn.in_transaction
    if begun:
        db.execute("BEGIN")  # one state of the file, whatever is added meanwhile
    try:
        walk.run(db)
        broken = _file(db) or _schema(db) or _projection(db, list(walk.batches.values()))
    except _Break as found:
        broken = Broken(walk.seq + 1, str(found))
    except LedgerError as error:
        broken = Broken(walk.seq + 1, error.sentence)
    except FILE_ERRORS as error:
        if not is_damage(error):
            raise
        broken = Broken(walk.seq + 1, f"the file is damaged: {error}")
    except NO_EVENT as error:  # an event that could be folded, and makes no row
        broken = Broken(None, f"its events make no table: {error}")
    finally:
        if begun:
            db.execute("ROLLBACK")
    return Proof(
        walk.station,
        list(walk.batches.values()),
        walk.first,
        walk.simulated,
        walk.seq,
        walk.head,
        broken,
    )


class _Walk:
    """From event to event, and what they make."""

    def __init__(self) -> None:
        self.station = Station()
        self.batches: dict[str, Batch] = {}
        self.first = self.head = b""
        self.simulated = False
        self.seq = 0

    def run(self, db: Database) -> None:
        """Raises `_Break` at the first thing that is wrong."""
        row = db.execute("SELECT id, simulated FROM ledger").fetchone()
        if row is None:
            raise _Break("the ledger has lost its identity")
        self.first = self.head = chain.first_prev(row[0])
        self.simulated = bool(row[1])
        for record in read_events(db):
            if (broken := chain_break(record, self.seq, self.head)) is not None:
                raise _Break(broken)
            try:
                event = record.event
                if self.seq == 0 and not self._born_as(event):
                    raise _Break("the first event does not say what the ledger was born as")
                self.station = evolve(self.station, event, record.at, record.batch)
            except NO_EVENT as error:
                raise _Break(f"event {record.seq} cannot be read: {error}") from error
            if (found := self.station.find(record.batch)) is not None:
                self.batches[found.id] = found
            self.seq, self.head = record.seq, record.hash
        if self.seq == 0:
            raise _Break("there is no event at all")

    def _born_as(self, event: ev.Event) -> bool:
        return isinstance(event, ev.LedgerBorn) and event.simulated == self.simulated


def _file(db: Database) -> Broken | None:
    """SQLite's own check of the file. Of its indexes too: a sheet is read by one of them."""
    said = [str(row[0]) for row in db.execute("PRAGMA integrity_check(10)")]
    if said == ["ok"]:
        return None
    indexes = all("index" in line for line in said)
    return Broken(None, f"the file is damaged: {said[0]}", derived=indexes)


def _schema(db: Database) -> Broken | None:
    if difference := schema.difference(db):
        return Broken(None, difference.reason, difference.derived)
    if db.execute("SELECT writing FROM projection").fetchall() != [(0,)]:
        return Broken(None, "the tables made from the events stand open for writing", derived=True)
    return None


def _projection(db: Database, batches: list[Batch]) -> Broken | None:
    """The first difference between the tables and what the events say, or None."""
    found, expected = tables.stored(db), tables.rebuilt(batches)
    old = db.execute("PRAGMA user_version").fetchone()[0] < VERSION
    for table, rows in expected.items():
        if len(rows) != len(found[table]):
            reason = f"table {table} has {len(found[table])} rows, the events make {len(rows)}"
            return Broken(None, reason, derived=True)
        for row, there in zip(rows, found[table], strict=True):
            if old:  # read where it may not be migrated: the columns it has
                row = {key: value for key, value in row.items() if key in there}
            if row != there:
                column = next(key for key in row if key not in there or row[key] != there[key])
                name = " ".join(str(row[key]) for key in ("batch", "name") if key in row)
                reason = (
                    f"table {table}, {name}: {column} is {there.get(column)!r},"
                    f" the events make {row[column]!r}"
                )
                return Broken(None, reason, derived=True)
    return None
