"""The events as they stand in the file: made, written, read back, and held against the chain."""

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import msgspec
from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.codec import from_body, to_body
from station.ledger import chain, tree
from station.ledger.errors import LedgerError


@dataclass(frozen=True, slots=True)
class Recorded:
    """One event as it stands in the ledger. `text`: its body as the file has it."""

    seq: int
    at: str
    batch: str | None
    kind: str
    body: chain.Body
    text: str
    prev: bytes
    hash: bytes

    @property
    def event(self) -> ev.Event:
        """The event itself. Raises `msgspec.ValidationError` for a kind unknown here."""
        return from_body(self.kind, self.body)


def linked(
    seq: int, head: bytes, events: Sequence[tuple[str | None, ev.Event]], at: str
) -> list[Recorded]:
    """Events, each with its batch, as they follow event `seq` with the hash `head`.

    Raises `chain.BodyError` for what the ledger does not hold.
    """
    records = []
    for batch, event in events:
        kind, body = to_body(event)
        text = chain.canonical_body(body)
        digest = chain.event_hash(head, seq + 1, at, batch, kind, text)
        records.append(Recorded(seq + 1, at, batch, kind, body, text, head, digest))
        seq, head = seq + 1, digest
    return records


def insert(db: Database, records: Sequence[Recorded]) -> None:
    """Write events, and take them into the hash tree, inside the caller's transaction."""
    for record in records:
        db.execute(
            "INSERT INTO event (seq, at, batch, kind, body, prev, hash)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (
                record.seq,
                record.at,
                record.batch,
                record.kind,
                record.text,
                record.prev,
                record.hash,
            ),
        )
    tree.grow(db, [(record.batch, record.hash) for record in records])


def read_events(
    db: Database,
    batch: str | None = None,
    *,
    after: int | None = None,
    most: int | None = None,
    outside: bool = False,
    at: tuple[str, str] | None = None,
    kinds: Collection[str] | None = None,
) -> Iterator[Recorded]:
    """Events in their order; of one batch, those `outside` any, or all; those `after` a number, so
    many at `most`; those recorded `at` a time from the first on and before the second; those of
    some `kinds`.

    Raises `LedgerError` for a body that is none.
    """
    wanted = ["batch = :batch"] if batch is not None else []
    wanted += ["batch IS NULL"] if outside else []
    wanted += ["seq > :after"] if after is not None else []
    wanted += ["at >= :begin AND at < :end"] if at is not None else []
    wanted += ["kind IN (SELECT value FROM json_each(:kinds))"] if kinds is not None else []
    where = f"WHERE {' AND '.join(wanted)}" if wanted else ""
    query = f"SELECT * FROM event {where} ORDER BY seq LIMIT :most"
    begin, end = at or (None, None)
    asked = {"batch": batch, "after": after, "most": -1 if most is None else most}
    asked |= {"begin": begin, "end": end, "kinds": json.dumps(sorted(kinds or ()))}
    for row in db.query(query, asked):
        try:
            body = msgspec.json.decode(row["body"])
        except (msgspec.DecodeError, ValueError, TypeError, RecursionError) as error:
            raise LedgerError(
                f"event {row['seq']} cannot be read: {error}", "restore the last good backup"
            ) from error
        yield Recorded(
            row["seq"],
            row["at"],
            row["batch"],
            row["kind"],
            body,
            row["body"],
            row["prev"],
            row["hash"],
        )


def chain_break(record: Recorded, seq: int, head: bytes) -> str | None:
    """What is wrong with the event that comes after event `seq` with the hash `head`, or None."""
    if record.seq != seq + 1:
        return f"event {seq + 1} is missing, {record.seq} comes instead"
    if record.prev != head:
        before = "the one before it" if seq else "the ledger's own id"
        return f"event {record.seq} does not follow from {before}"
    try:
        if chain.canonical_body(record.body) != record.text:
            return f"event {record.seq} is not written as this station writes: no canonical JSON"
        digest = chain.event_hash(
            head, record.seq, record.at, record.batch, record.kind, record.text
        )
    except (TypeError, ValueError, RecursionError) as error:
        return f"event {record.seq} cannot be read: {error}"
    return None if digest == record.hash else f"event {record.seq} was changed"
