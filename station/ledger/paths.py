"""One batch of a ledger, read alone and proved against the root that stands beside the file."""

import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils.db import Database

from station.ledger import chain, tree
from station.ledger.mark import Mark, read_mark
from station.ledger.reading import open_reader
from station.ledger.records import Recorded, read_events
from station.ledger.schema import TREE_SINCE, version_of

PROVES = (
    "the events of this batch and those of no batch are all that the ledger had of them at its"
    " last event, and unchanged"
)
ALL = "every event, their order, and every row made from them"
WAITS_S = (0.01, 0.05)
"""Seconds between looks: the mark follows its event within a millisecond or two."""

LEAVES = "the other batches, the order of all events and the tables: station ledger verify"


@dataclass(frozen=True, slots=True)
class Alone:
    """What a sheet is made of: the events of a batch, those of none and the ledger's last one, in
    their order. `broken`: why they are not proved, or None."""

    records: list[Recorded]
    broken: str | None


def read_alone(db: Database, batch: str, mark: Mark | None) -> Alone:
    """Read a batch, in one state of the file, and hold it against `mark`, which was read before.
    Raises `LedgerError`."""
    if mark is None or not mark.root or version_of(db) < TREE_SINCE:
        return Alone([], "no root of a hash tree over the batches stands beside the ledger")
    db.execute("BEGIN")
    try:
        mine = list(read_events(db, batch))
        outside = list(read_events(db, outside=True))
        (end,) = db.execute("SELECT max(seq) FROM event").fetchone()
        last = list(read_events(db, after=end - 1)) if end else []
        broken = (
            _ends_elsewhere(last, mark)
            or changed_in(last)
            or unproved(db, batch, mine, mark.root)
            or unproved(db, None, outside, mark.root)
        )
    finally:
        db.execute("ROLLBACK")
    every = {record.seq: record for record in (*outside, *mine, *last)}
    return Alone([every[seq] for seq in sorted(every)], broken)


def read_settled(path: Path, batch: str) -> Alone:
    """The same from the file; again where a station wrote an event between mark and ledger.
    Raises `LedgerError`."""
    for wait_s in (*WAITS_S, None):
        mark = read_mark(path)  # first: it may be behind what is read then, never ahead
        with open_reader(path) as db:
            alone = read_alone(db, batch, mark)
        if alone.broken is None or wait_s is None:
            break
        time.sleep(wait_s)
    return alone


def _ends_elsewhere(last: list[Recorded], mark: Mark) -> str | None:
    if last and (last[0].seq, last[0].hash.hex()) == (mark.seq, mark.head):
        return None
    return f"the ledger does not end at event {mark.seq} as it is known"


def unproved(db: Database, batch: str | None, records: list[Recorded], root: str) -> str | None:
    """Why these are not all events that a batch had under the tree's `root` (hex), or None."""
    if (changed := changed_in(records)) is not None:
        return changed
    path = tree.path_of(db, batch)
    name = f"batch {batch}" if batch else "no batch"
    if path is None:
        return f"the hash tree has no leaf for the events of {name}"
    leaf = tree.Leaf(batch or tree.OUTSIDE)
    for record in records:
        leaf = leaf.with_event(record.hash)
    if path.root(leaf).hex() != root:
        return f"the events of {name} are not those that the ledger had"
    return None


def changed_in(records: Iterable[Recorded]) -> str | None:
    """The first event that is not what its own hash says, or None."""
    for record in records:
        try:
            as_written = chain.is_canonical(record.body, record.text)
            digest = chain.event_hash(
                record.prev, record.seq, record.at, record.batch, record.kind, record.text
            )
        except (TypeError, ValueError, RecursionError) as error:
            return f"event {record.seq} cannot be read: {error}"
        if not as_written or digest != record.hash:
            return f"event {record.seq} was changed"
    return None
