"""A ledger verified from one of its events on: for who verified all before it, or has no time."""

from sqlite_utils.db import Database

from station.ledger.chain import head_text
from station.ledger.errors import LedgerError
from station.ledger.mark import read_mark
from station.ledger.reading import file_of
from station.ledger.records import chain_break, read_events
from station.ledger.verify import Verdict, ended, file_broken, schema_broken, told
from station.ledger.walk import NO_EVENT, STEP, Break, Broken, Seen, Walk


def verify_since(db: Database, since: int, seen: Seen = lambda seq: None) -> Verdict:
    """Check that event `since` and all after it are as their hashes say, in their order, and can be
    read; SQLite's own check, and that the ledger's parts are the station's.

    The event before it is taken as it stands, and nothing is said of what lies before that, nor of
    the rows that the events make (`not_checked`). Raises `LedgerError` for an event that is not
    there, and where the ledger cannot be read now.
    """
    mark = read_mark(file_of(db))
    walk = Walk(db, lambda batch: None)
    (last,) = db.execute("SELECT max(seq) FROM event").fetchone()
    if not 1 <= since <= (last or 0):
        raise LedgerError(f"there is no event {since}: they are 1 to {last}", "name one of them")

    def check() -> Broken | None:
        walk.begin()
        if since > 1:
            walk.seq = since - 2
            if (stands := _hash(db, since - 1)) is None:
                raise Break(f"event {since - 1} is missing")
            walk.seq, walk.head = since - 1, stands
        _chain(db, walk, seen)
        return file_broken(db) or schema_broken(db)

    return ended(db, walk, mark, told(db, walk, check))


def _chain(db: Database, walk: Walk, seen: Seen) -> None:
    """To the last event, without the state that they make. Raises `Break`."""
    for record in read_events(db, after=walk.seq):
        if (broken := chain_break(record, walk.seq, walk.head)) is not None:
            raise Break(broken)
        try:
            _ = record.event
        except NO_EVENT as error:
            raise Break(f"event {record.seq} cannot be read: {error}") from error
        walk.seq, walk.head = record.seq, record.hash
        if record.seq % STEP == 0:
            seen(record.seq)


def not_checked(db: Database, since: int) -> list[str]:
    """What such a verification leaves out, for people."""
    tables = "the tables, the hash tree and the state that the events make"
    if since == 1 or (stands := _hash(db, since - 1)) is None:
        return [tables]
    before = "event 1" if since == 2 else f"events 1 to {since - 1}"
    return [f"{before}: the last of them, hash {head_text(stands)}, is taken as it stands", tables]


def _hash(db: Database, seq: int) -> bytes | None:
    """The hash of an event as it stands in the file."""
    row = db.execute("SELECT hash FROM event WHERE seq = ?", [seq]).fetchone()
    return None if row is None else bytes(row[0])
