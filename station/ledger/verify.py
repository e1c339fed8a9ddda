"""Whether a ledger is whole: every hash, every number, and every row made from the events."""

from dataclasses import dataclass

import msgspec
from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.state import Batch, Station
from station.ledger import chain, tables
from station.ledger.book import LedgerError, Recorded, chain_break, read_events
from station.ledger.schema import VERSION


@dataclass(frozen=True, slots=True)
class Verdict:
    """What `verify` found. `first_broken` is a seq, None where the chain is whole but a table of
    the projection is not (the reason says which row)."""

    ok: bool
    events: int
    head: str
    first_broken: int | None
    reason: str | None


class _Broken(Exception):
    pass


def verify(db: Database) -> Verdict:
    """Check the chain from the first event to the last, then rebuild and compare the projection."""
    row = db.execute("SELECT id, simulated FROM ledger").fetchone()
    if row is None:
        return Verdict(False, 0, "", 1, "the ledger has lost its identity")
    prev, simulated = chain.first_prev(row[0]), row[1]
    station, batches, seq = Station(), dict[str, Batch](), 0
    try:
        for record in read_events(db):
            event = _check(record, seq, prev)
            if seq == 0 and not _born_as(event, bool(simulated)):
                raise _Broken("the first event does not say what the ledger was born as")
            station = evolve(station, event, record.at, record.batch)
            if (found := station.find(record.batch)) is not None:
                batches[found.id] = found
            prev, seq = record.hash, record.seq
    except (
        _Broken,
        LedgerError,
        msgspec.MsgspecError,
        LookupError,
        ArithmeticError,
        ValueError,
        TypeError,
    ) as error:
        return Verdict(False, seq, chain.head_text(prev), seq + 1, str(error))
    head = chain.head_text(prev)
    if seq == 0:
        return Verdict(False, 0, head, 1, "there is no event at all")
    if reason := _projection(db, list(batches.values())):
        return Verdict(False, seq, head, None, reason)
    return Verdict(True, seq, head, None, None)


def _check(record: Recorded, seq: int, prev: bytes) -> ev.Event:
    if (broken := chain_break(record, seq, prev)) is not None:
        raise _Broken(broken)
    try:
        return record.event
    except msgspec.ValidationError as error:
        raise _Broken(f"event {record.seq} cannot be read: {error}") from error


def _born_as(event: ev.Event, simulated: bool) -> bool:
    return isinstance(event, ev.LedgerBorn) and event.simulated == simulated


def _projection(db: Database, batches: list[Batch]) -> str | None:
    """The first difference between the tables and what the events say, or None."""
    found, expected = tables.stored(db), tables.rebuilt(batches)
    old = db.execute("PRAGMA user_version").fetchone()[0] < VERSION
    for table, rows in expected.items():
        if len(rows) != len(found[table]):
            return f"table {table} has {len(found[table])} rows, the events make {len(rows)}"
        for row, there in zip(rows, found[table], strict=True):
            if old:  # read where it may not be migrated: the columns it has
                row = {key: value for key, value in row.items() if key in there}
            if row != there:
                column = next(key for key in row if key not in there or row[key] != there[key])
                name = " ".join(str(row[key]) for key in ("batch", "name") if key in row)
                return (
                    f"table {table}, {name}: {column} is {there.get(column)!r},"
                    f" the events make {row[column]!r}"
                )
    return None
