"""A ledger that is not whole: kept as it was found, then made anew what its events make.

The events themselves are never touched. Where they are broken the ledger is put aside and that is
all: nobody can say any more what they were.
"""

import hashlib
import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils.db import Database

from station.batch import events as ev
from station.ledger import schema, tables, tree
from station.ledger.errors import FILE_ERRORS, LedgerError, explain, is_damage
from station.ledger.hold import Held
from station.ledger.mark import read_mark
from station.ledger.reading import open_reader
from station.ledger.records import insert, linked
from station.ledger.verify import prove
from station.ledger.walk import Broken


@dataclass(frozen=True, slots=True)
class Evidence:
    """A file as it was found, and its SHA-256 in hex."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Repair:
    """What was wrong, where it is kept, and whether the ledger is whole now (else put aside)."""

    found: str
    evidence: tuple[Evidence, ...]
    whole: bool


def examine(path: Path) -> Broken | None:
    """The first thing that is wrong with a ledger, nothing being changed. Raises `LedgerError`."""
    try:
        with open_reader(path) as db:
            return prove(db).broken
    except LedgerError as error:
        cause = error.__cause__
        if (
            isinstance(cause, FILE_ERRORS)
            and is_damage(cause, path)
            and read_mark(path) is not None
        ):
            return Broken(None, error.sentence)  # a ledger stood here, whatever stands here now
        raise


def repair(path: Path, at: str, name: str) -> Repair | None:
    """Keep a ledger that is broken as it was found, in files called after `name`; then make anew
    what its events make, or where they are broken take it away. None where nothing is wrong.

    `at` is the time of the event that tells of it. Raises `LedgerError`.
    """
    if not path.exists():
        raise LedgerError(f"there is no ledger at {path}", "name the file with --ledger")
    held = Held.take(path)
    try:
        if (broken := examine(path)) is None:
            return None
        evidence = _keep(held.real, name)
        whole = broken.derived and _rebuilt(held.real, broken, evidence[0], at)
        if not whole:
            for end in ("-shm", "-wal", ""):  # the log first: alone it would meet the next ledger
                Path(f"{held.real}{end}").unlink(missing_ok=True)
        return Repair(broken.reason, evidence, whole)
    except OSError as error:
        raise LedgerError(
            f"{path} cannot be put aside: {error.strerror}", "make room, check the folder's rights"
        ) from error
    except FILE_ERRORS as error:
        raise explain(error, path) from error
    finally:
        held.release()


def _keep(ledger: Path, name: str) -> tuple[Evidence, ...]:
    """Copy the ledger and its log, on the disk before anything is changed. Raises `OSError`."""
    kept = []
    for end in ("", "-wal"):
        source = Path(f"{ledger}{end}")
        if end and not (source.exists() and source.stat().st_size):
            continue  # looking alone leaves an empty one
        target = ledger.with_name(f"{ledger.name}.{name}{end}")
        with source.open("rb") as found, target.open("xb") as copy:
            shutil.copyfileobj(found, copy)
            copy.flush()
            os.fchmod(copy.fileno(), 0o440)
            os.fsync(copy.fileno())
        with target.open("rb") as copy:
            kept.append(Evidence(str(target), hashlib.file_digest(copy, "sha256").hexdigest()))
    return tuple(kept)


def _rebuilt(ledger: Path, broken: Broken, evidence: Evidence, at: str) -> bool:
    """Whether the ledger is whole, now that all that its events make was made anew."""
    connection = sqlite3.connect(ledger, isolation_level=None)
    with closing(connection):
        db = Database(connection, execute_plugins=False)
        db.execute("PRAGMA synchronous = FULL")
        schema.migrations.apply(db)
        db.execute("BEGIN IMMEDIATE")
        schema.rebuild(db)
        tables.clear(db)
        tree.rebuild(db)
        prove(db, leave=lambda batch: tables.write(db, batch))
        proof = prove(db)
        if proof.broken is not None:
            db.execute("ROLLBACK")
            return False
        told = ev.LedgerRepaired(
            broken.reason, Path(evidence.file).name, evidence.sha256, uid=os.getuid()
        )
        insert(db, linked(proof.seq, proof.head, [(None, told)], at))
        db.execute("COMMIT")
        return True
