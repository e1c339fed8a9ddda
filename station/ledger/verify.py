"""Whether a ledger is whole: every hash, every number, every trigger and every row made from the
events. What the station asks of it at a start, and behind it, is here too."""

import re
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from sqlite_utils.db import Database

from station.batch.state import Station
from station.ledger import chain, schema
from station.ledger.checkpoint import Checkpoint
from station.ledger.errors import FILE_ERRORS, LedgerError, is_damage
from station.ledger.mark import Mark, read_mark
from station.ledger.progress import Progress
from station.ledger.reading import file_of
from station.ledger.records import chain_break, read_events
from station.ledger.rows import Rows
from station.ledger.walk import NO_EVENT, Break, Broken, Leave, Seen, Walk


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
class Proof:
    """How far a ledger was found whole, and what its events make."""

    station: Station
    first: bytes
    """The `prev` of event 1."""
    simulated: bool
    seq: int
    head: bytes
    broken: Broken | None


def verify(
    db: Database, seen: Seen = lambda seq: None, progress: Progress | None = None
) -> Verdict:
    """Check the ledger whole, and that it reaches the last event that is known of it; with
    `progress`, from where an earlier run was interrupted on.

    Raises `LedgerError` where it cannot be read now (another program holds it, the disk fails).
    """
    mark = read_mark(file_of(db))  # first: it may be behind what is read then, never ahead
    rows = Rows(db)
    walk = Walk(db, rows.see, seen)
    if progress is not None:
        _go_on(db, walk, rows, progress)
    proof = _proof(db, walk, lambda: _all(db, walk, rows))
    if progress is not None:
        progress.forget()
    return ended(db, walk, mark, proof.broken)


def _go_on(db: Database, walk: Walk, rows: Rows, progress: Progress) -> None:
    """Stand where an earlier run stood, if the ledger still has that event; note it on the way."""
    seen = walk.seen

    def noted(seq: int) -> None:
        seen(seq)
        progress.note(walk, rows)

    walk.seen = noted
    if (found := progress.read()) is not None and _begun_on(db, walk, found.here):
        progress.go_on(found, walk, rows)


def ended(db: Database, walk: Walk, mark: Mark | None, broken: Broken | None) -> Verdict:
    """The verdict of a check that came so far; `mark`: what is known of the ledger."""
    if (broken is None or broken.derived) and mark is not None:
        end = Proof(walk.station, walk.first, walk.simulated, walk.seq, walk.head, None)
        if lost := missing(db, end, mark):
            broken = Broken(min(mark.seq, walk.seq + 1), lost)
    return _verdict(walk.seq, walk.head, broken)


def _verdict(seq: int, head: bytes, broken: Broken | None) -> Verdict:
    if broken is None:
        return Verdict(True, seq, chain.head_text(head), None, None)
    return Verdict(False, seq, chain.head_text(head), broken.seq, broken.reason)


def glance(db: Database, mark: Mark | None) -> Verdict:
    """What can be told of a ledger without reading its events: its parts are the station's, and it
    reaches `mark`, which was read before it. The rows made from the events are not held against
    them. Raises as `verify` does."""
    walk = Walk(db, lambda batch: None)
    return ended(db, walk, mark, told(db, walk, lambda: _at_end(db, walk)))


def _at_end(db: Database, walk: Walk) -> Broken | None:
    """Stand on the last event, whatever comes before it."""
    walk.begin()
    last = db.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    if last is None:
        raise Break("there is no event at all")
    walk.stand_on(walk.station, *last)
    return schema_broken(db)


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


def prove(db: Database, leave: Leave | None = None) -> Proof:
    """Check the chain from the first event to the last, then all that is made from it.

    `leave` is given every batch as its last event left it. The first wrong thing ends the check;
    what was whole before it is in the proof. Raises `LedgerError` or `sqlite3.Error` where the
    ledger cannot be read now.
    """
    rows = Rows(db)
    walk = Walk(db, leave or rows.see)
    return _proof(db, walk, lambda: _all(db, walk, None if leave else rows))


def prove_from(db: Database, start: Checkpoint) -> Proof | None:
    """Check what a start must know: the chain from a checkpoint on, the tables' own makers, and
    the rows of the batches that go on. None where the checkpoint is not of this ledger.

    The rest is for who goes on behind the start. Raises as `prove` does.
    """
    rows = Rows(db)
    walk = Walk(db, rows.see)
    if not _begun_on(db, walk, start):
        return None
    walk.stand_on(start.station, start.seq, start.head)
    return _proof(db, walk, lambda: _rest(db, walk, rows))


def _begun_on(db: Database, walk: Walk, start: Checkpoint) -> bool:
    """Whether the walk may go on from there; where it may not, it is told from the first event on
    what is wrong. Raises as `prove` does."""
    try:
        walk.begin()
        return _stands_on(db, walk, start)
    except (Break, LedgerError, *NO_EVENT):
        return False
    except FILE_ERRORS as error:
        if not is_damage(error, file_of(db)):
            raise
        return False


def _stands_on(db: Database, walk: Walk, start: Checkpoint) -> bool:
    """Whether the event that a checkpoint is bound to is the one that stands there."""
    if walk.first != start.ledger:
        return False
    record = next(read_events(db, after=start.seq - 1), None)
    if record is None or record.hash != start.head:
        return False
    return chain_break(record, start.seq - 1, record.prev) is None


def _all(db: Database, walk: Walk, rows: Rows | None) -> Broken | None:
    if not walk.seq:  # else it goes on from there
        walk.begin()
    walk.run()
    return file_broken(db) or schema_broken(db) or (rows.end(walk.leaves) if rows else None)


def _rest(db: Database, walk: Walk, rows: Rows) -> Broken | None:
    walk.run()
    return schema_broken(db) or rows.difference


def _proof(db: Database, walk: Walk, check: Callable[[], Broken | None]) -> Proof:
    begun = not db.conn.in_transaction
    if begun:
        db.execute("BEGIN")  # one state of the file, whatever is added meanwhile
    try:
        broken = told(db, walk, check)
    finally:
        if begun:
            db.execute("ROLLBACK")
    return Proof(walk.station, walk.first, walk.simulated, walk.seq, walk.head, broken)


def told(db: Database, walk: Walk, check: Callable[[], Broken | None]) -> Broken | None:
    """What `check` finds wrong. Raises `LedgerError`, `sqlite3.Error` for what cannot be read
    now."""
    try:
        return check()
    except Break as found:
        return Broken(walk.seq + 1, str(found))
    except LedgerError as error:
        return Broken(walk.seq + 1, error.sentence)
    except FILE_ERRORS as error:
        if not is_damage(error, file_of(db)):
            raise
        return Broken(walk.seq + 1, f"the file is damaged: {error}")
    except NO_EVENT as error:  # an event that could be folded, and makes no row
        return Broken(None, f"its events make no table: {error}")


def file_broken(db: Database) -> Broken | None:
    """SQLite's own check of the file. Of its indexes too: a sheet is read by one of them. Raises
    `sqlite3.Error` where the disk fails."""
    said = [str(row[0]) for row in db.execute("PRAGMA integrity_check(10)")]
    if said == ["ok"]:
        return None
    for number in re.findall(r"error code=(\d+)", said[0]):
        if int(number) & 0xFF == sqlite3.SQLITE_IOERR:  # a page that the disk did not give
            failed = sqlite3.OperationalError(said[0])
            failed.sqlite_errorcode = int(number)
            raise failed
    indexes = all("index" in line for line in said)
    return Broken(None, f"the file is damaged: {said[0]}", derived=indexes)


def schema_broken(db: Database) -> Broken | None:
    """The first part of the file that is not as the migrations make it."""
    if difference := schema.difference(db):
        return Broken(None, difference.reason, difference.derived)
    if db.execute("SELECT writing FROM projection").fetchall() != [(0,)]:
        return Broken(None, "the tables made from the events stand open for writing", derived=True)
    return None
