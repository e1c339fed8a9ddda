"""A ledger, a batch of it or a range, as JSON Lines that `inspector.py` verifies without us."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sqlite_utils.db import Database

from station.ledger import chain, tree
from station.ledger.errors import LedgerError
from station.ledger.reading import open_reader
from station.ledger.records import read_events
from station.ledger.schema import VERSION, version_of


def export(ledger: Path, target: Path, batch: str | None, begin: int, end: int | None) -> int:
    """Write events to `target`, which must not exist: of `batch`, or from `begin` to `end`, both
    included; how many. Raises `LedgerError`."""
    with open_reader(ledger) as db:
        db.execute("BEGIN")  # one state of the file, whatever is added meanwhile
        lines = list(_lines(db, batch, begin, end))
    try:
        with target.open("x", encoding="utf-8") as file:
            file.writelines(f"{json.dumps(line, ensure_ascii=False)}\n" for line in lines)
    except FileExistsError as error:
        raise LedgerError(f"{target} exists already", "give the export a new name") from error
    except OSError as error:
        raise LedgerError(
            f"{target} cannot be written: {error.strerror}", "name another file"
        ) from error
    return len(lines) - 1


def _lines(
    db: Database, batch: str | None, begin: int, end: int | None
) -> Iterator[dict[str, Any]]:
    last = db.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    ident, simulated = db.execute("SELECT id, simulated FROM ledger").fetchone()
    if last is None:
        raise LedgerError("the ledger has no event", "station ledger verify")
    to = min(end or last[0], last[0])
    first: dict[str, Any] = {"format": "station ledger export 1", "simulated": bool(simulated)}
    first |= {"ledger": chain.first_prev(ident).hex(), "events": last[0], "head": last[1].hex()}
    first |= {"batch": batch, "from": begin, "to": to}
    if batch is not None:
        first |= _path(db, batch)
    elif not 1 <= begin <= to:
        raise LedgerError(f"there is no event from {begin} to {to}", f"1 to {last[0]} are there")
    yield first
    most = None if batch is not None else to - begin + 1
    for record in read_events(db, batch, after=begin - 1, most=most):
        told: dict[str, Any] = {"seq": record.seq, "at": record.at, "batch": record.batch}
        told |= {"kind": record.kind, "body": record.text}
        yield told | {"prev": record.prev.hex(), "hash": record.hash.hex()}


def _path(db: Database, batch: str) -> dict[str, Any]:
    if version_of(db) < VERSION:
        raise LedgerError(
            "this ledger has no hash tree yet, which proves one batch", "start the station on it"
        )
    path, root = tree.path_of(db, batch), tree.stored_root(db)
    if path is None or root is None:
        raise LedgerError(f"no batch {batch!r}", "station audit list")
    levels = [[place, [one.hex() for one in siblings]] for place, siblings in path.levels]
    return {"root": root.hex(), "path": {"leaves": path.leaves, "levels": levels}}
