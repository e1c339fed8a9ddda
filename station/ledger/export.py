"""The ledger as text for others: JSON Lines that prove themselves, or CSV for a spreadsheet.

What line 1 of the JSON Lines says and how they are checked stands in `inspection.py`, which is laid
beside an export as `verify.py`. Reading only.
"""

import csv
import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from sqlite_utils.db import Database

from station.ledger import chain, tree
from station.ledger.errors import LedgerError
from station.ledger.reading import is_simulated, open_reader
from station.ledger.records import Recorded, read_events
from station.ledger.schema import TREE_SINCE, version_of

VERIFIER = Path(__file__).with_name("inspection.py")
_COLUMNS = ("seq", "at", "batch", "kind", "body", "prev", "hash")


@dataclass(frozen=True, slots=True)
class Part:
    """What of a ledger: of one `batch`; from event `first` to `last`; from the first event at or
    after `begin` to the last before `end`, as the ledger writes times. As made it is all."""

    batch: str | None = None
    first: int | None = None
    last: int | None = None
    begin: str | None = None
    end: str | None = None


@dataclass(frozen=True, slots=True)
class About:
    """Line 1. `of`: whole, range or batch; `ledger`: SHA-256 of its id; `seq`, `head`: its last
    event; `first` to `last`: of the `events` in the file; `prev`: of the first of them."""

    export: int
    of: str
    batch: str | None
    ledger: str
    simulated: bool
    seq: int
    head: str
    events: int
    first: int
    last: int
    prev: str
    path: dict[str, Any] | None
    """From the batch's leaf to the root of the hash tree, as `tree.Path` has it, all in hex."""


def export(source: Path, target: Path, part: Part, as_csv: bool = False) -> About:
    """Write a part of the ledger to `target`, which must not exist; JSON Lines get `verify.py`
    beside them, unless one is there. Raises `LedgerError`."""
    with open_reader(source) as db:
        db.execute("BEGIN")  # one state of the file, whatever is added meanwhile
        about = _about(db, part, source)
        records = _events(db, about)
        try:
            with target.open("x", encoding="utf-8", newline="") as file:
                _written(file, target, about, records, as_csv)
            if not as_csv and not (verifier := target.with_name("verify.py")).exists():
                verifier.write_bytes(VERIFIER.read_bytes())
        except FileExistsError:
            raise LedgerError(f"{target} exists already", "give the export a new name") from None
        except OSError as error:
            raise LedgerError(
                f"{target} cannot be written: {error.strerror}", "choose another place"
            ) from error
    return about


def _written(
    file: IO[str], target: Path, about: About, records: Iterable[Recorded], as_csv: bool
) -> None:
    """All of it on the disk, or no file. Raises `OSError`, `LedgerError`."""
    try:
        if as_csv:
            rows = csv.writer(file)
            rows.writerow(_COLUMNS)
            rows.writerows(_row(record).values() for record in records)
        else:
            file.write(_line(asdict(about)))
            file.writelines(_line(_row(record) | {"body": record.body}) for record in records)
        file.flush()
        os.fsync(file.fileno())
    except BaseException as error:
        target.unlink()
        if isinstance(error, UnicodeEncodeError):
            raise LedgerError(
                f"an event holds text that no file can: {error}", "run: station ledger verify"
            ) from error
        raise


def _row(record: Recorded) -> dict[str, Any]:
    found = {name: getattr(record, name) for name in _COLUMNS}
    return found | {"body": record.text, "prev": record.prev.hex(), "hash": record.hash.hex()}


def _line(told: dict[str, Any]) -> str:
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")) + "\n"


def _about(db: Database, part: Part, source: Path) -> About:
    """Raises `LedgerError` where there is nothing to be exported."""
    end = db.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    ident = db.execute("SELECT id FROM ledger").fetchone()
    if end is None or ident is None:
        raise LedgerError(f"{source} has no events or no identity", "run: station ledger verify")
    where, asked = _where(db, part, end[0])
    events, first, last = db.execute(
        f"SELECT count(*), min(seq), max(seq) FROM event WHERE {where}", asked
    ).fetchone()
    if not events:
        raise LedgerError("there is no such event", "station audit list shows what there is")
    (prev,) = db.execute("SELECT prev FROM event WHERE seq = ?", [first]).fetchone()
    of = "batch" if part.batch is not None else "whole" if part == Part() else "range"
    return About(
        export=1,
        of=of,
        batch=part.batch,
        ledger=chain.first_prev(ident[0]).hex(),
        simulated=is_simulated(db),
        seq=end[0],
        head=end[1].hex(),
        events=events,
        first=first,
        last=last,
        prev=prev.hex(),
        path=None if part.batch is None else _path(db, part.batch),
    )


def _path(db: Database, batch: str) -> dict[str, Any] | None:
    """None in a ledger that has no hash tree yet: then nothing proves that no event is missing."""
    if version_of(db) < TREE_SINCE:
        return None
    path, root = tree.path_of(db, batch), tree.stored_root(db)
    if path is None or root is None:
        raise LedgerError(f"the hash tree does not have {batch}", "run: station ledger verify")
    levels = [[place, [one.hex() for one in siblings]] for place, siblings in path.levels]
    return {"leaves": path.leaves, "levels": levels, "root": root.hex()}


def _where(db: Database, part: Part, end: int) -> tuple[str, dict[str, Any]]:
    """What is asked for. Days are made a range: a clock that was set back leaves no gap in it."""
    if part.batch is not None:
        return "batch = :batch", {"batch": part.batch}
    first, last = part.first or 1, end if part.last is None else part.last
    if part.begin is not None or part.end is not None:
        low, high = db.execute(
            "SELECT min(seq), max(seq) FROM event WHERE at >= :begin AND at < :end",
            {"begin": part.begin or "", "end": part.end or "~"},
        ).fetchone()
        if low is None:
            return "0", {}
        first = low if part.begin is not None else first
        last = high if part.end is not None else last
    return "seq BETWEEN :first AND :last", {"first": first, "last": last}


def _events(db: Database, about: About) -> Iterable[Recorded]:
    if about.of == "batch":
        return read_events(db, about.batch)
    return read_events(db, after=about.first - 1, most=about.events)
