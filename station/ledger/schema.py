"""The ledger's tables and the triggers that keep them, as sqlite-utils migrations."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from functools import cache

from sqlite_utils.db import Database
from sqlite_utils.migrations import Migrations

from station.ledger.views import VIEWS

VERSION = 6
TREE_SINCE = 6
"""The version since which a ledger has a hash tree."""
"""`user_version` of a ledger written by this program."""
ROWS_SINCE = 4
"""The schema since which the rows made from the events are what they are now."""

migrations = Migrations("ledger")

_V1 = """
CREATE TABLE ledger (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    id BLOB NOT NULL CHECK (length(id) = 32),
    simulated INTEGER NOT NULL CHECK (simulated IN (0, 1))
) STRICT;
CREATE TABLE event (
    seq INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    batch TEXT,
    kind TEXT NOT NULL,
    body TEXT NOT NULL,
    prev BLOB NOT NULL CHECK (length(prev) = 32),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
CREATE INDEX event_batch ON event (batch);
CREATE TABLE projection (one INTEGER PRIMARY KEY CHECK (one = 1), writing INTEGER NOT NULL) STRICT;
INSERT INTO projection VALUES (1, 0);
CREATE TABLE batch (
    batch TEXT PRIMARY KEY,
    formula TEXT NOT NULL,
    revision INTEGER NOT NULL,
    opened_at TEXT NOT NULL,
    who TEXT NOT NULL,
    state TEXT NOT NULL,
    meat_g REAL NOT NULL,
    meat_text TEXT NOT NULL,
    simulated INTEGER NOT NULL
) STRICT;
CREATE TABLE addition (
    batch TEXT NOT NULL REFERENCES batch (batch),
    place INTEGER NOT NULL,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    target_g REAL,
    target_text TEXT,
    actual_g REAL,
    actual_text TEXT,
    verdict TEXT,
    scale TEXT,
    lot TEXT,
    loads INTEGER NOT NULL,
    who TEXT,
    at TEXT,
    PRIMARY KEY (batch, name)
) STRICT;
"""

_KEPT = """
CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, 'the ledger is only ever added to'); END;
CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table}
BEGIN SELECT RAISE(ABORT, 'the ledger is only ever added to'); END;
CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = new.{key})
BEGIN SELECT RAISE(ABORT, 'the ledger is only ever added to'); END;
"""

_PROJECTED = """
CREATE TRIGGER {table}_only_projected_{verb} BEFORE {verb} ON {table}
WHEN (SELECT writing FROM projection) = 0
BEGIN SELECT RAISE(ABORT, 'this table is made from the events: change nothing here'); END;
"""


@migrations()
def v1(db: Database) -> None:
    """Events, their keepers, and the first projection."""
    script = _V1 + _KEPT.format(table="event", key="seq") + _KEPT.format(table="ledger", key="one")
    for table in ("batch", "addition"):
        for verb in ("INSERT", "UPDATE", "DELETE"):
            script += _PROJECTED.format(table=table, verb=verb)
    for statement in _statements(script):
        db.execute(statement)
    db.execute("PRAGMA user_version = 1")


@migrations()
def v2(db: Database) -> None:
    """Figures that a person typed are told from those a scale sent."""
    db.execute("ALTER TABLE batch ADD COLUMN by_hand TEXT")
    db.execute("ALTER TABLE addition ADD COLUMN by_hand TEXT")
    db.execute("PRAGMA user_version = 2")


@migrations()
def v3(db: Database) -> None:
    """What was weighed stands beside more of it that nobody weighed; its rows are made anew."""
    db.execute("ALTER TABLE addition ADD COLUMN unknown_more TEXT")
    db.execute("PRAGMA user_version = 3")


_V4 = """
ALTER TABLE batch ADD COLUMN salt_pct TEXT;
ALTER TABLE batch ADD COLUMN salt_at_least INTEGER;
ALTER TABLE batch ADD COLUMN hold TEXT;
ALTER TABLE addition ADD COLUMN difference_pct TEXT;
CREATE TABLE lot (
    batch TEXT NOT NULL REFERENCES batch (batch),
    line TEXT NOT NULL,
    lot TEXT NOT NULL,
    expires TEXT,
    strengths TEXT NOT NULL,
    refused TEXT,
    actual_g REAL,
    actual_text TEXT,
    unknown_more TEXT,
    doubt_text TEXT,
    at TEXT,
    supplier TEXT,
    packed TEXT,
    PRIMARY KEY (batch, line, lot)
) STRICT;
CREATE INDEX batch_opened ON batch (opened_at);
CREATE INDEX addition_name ON addition (name, at);
CREATE INDEX lot_lot ON lot (lot);
CREATE INDEX event_at ON event (at, batch);
"""


@migrations()
def v4(db: Database) -> None:
    """Batches by day, additions by line, lots by their code, with what an auditor asks of each: the
    rows are made anew."""
    script = _V4
    for verb in ("INSERT", "UPDATE", "DELETE"):
        script += _PROJECTED.format(table="lot", verb=verb)
    for statement in _statements(script):
        db.execute(statement)
    db.execute("PRAGMA user_version = 4")


@migrations()
def v5(db: Database) -> None:
    """Views for people's own questions: plain names, the unit in the name of a column. No row is
    made anew."""
    for sql in VIEWS.values():
        db.execute(sql)
    db.execute("PRAGMA user_version = 5")


_V6 = """
CREATE TABLE leaf (
    place INTEGER PRIMARY KEY,
    batch TEXT NOT NULL UNIQUE,
    events INTEGER NOT NULL,
    digest BLOB NOT NULL CHECK (length(digest) = 32)
) STRICT;
CREATE TABLE node (
    level INTEGER NOT NULL,
    place INTEGER NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    PRIMARY KEY (level, place)
) STRICT, WITHOUT ROWID;
"""


@migrations()
def v6(db: Database) -> None:
    """A hash tree over the batches, made from the events: one batch is proved alone."""
    for statement in _statements(_V6):
        db.execute(statement)
    db.execute("PRAGMA user_version = 6")


def _statements(script: str) -> list[str]:
    """Single statements: `executescript` would commit the migration's transaction."""
    statements, current = [], ""
    for line in script.strip().splitlines():
        current += line + "\n"
        trigger = current.lstrip().startswith("CREATE TRIGGER")
        if line.rstrip().endswith("END;" if trigger else ";"):
            statements.append(current)
            current = ""
    return statements


TABLES = ("ledger", "event", "projection", "batch", "addition", "lot", "leaf", "node")
OURS = {*TABLES, *VIEWS}


@dataclass(frozen=True, slots=True)
class Part:
    """A table, index or trigger: its kind, its table, and the SQL that made it."""

    kind: str
    table: str
    sql: str


@dataclass(frozen=True, slots=True)
class Difference:
    """How a file is not as the migrations make it. `derived`: it can be made anew, no row lost."""

    reason: str
    derived: bool


def version_of(db: Database) -> int:
    """The schema of a ledger."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def difference(db: Database) -> Difference | None:
    """The first part of ours that is missing or other than ours, or a trigger on our tables that is
    not ours; None if all is as it must be. Other tables and views are nobody's business."""
    version = version_of(db)
    if version < 1:
        return Difference("it does not say its version any more", False)
    found, expected = parts(db), parts_of(version)
    for name, part in expected.items():
        if name not in found:
            return Difference(f"{part.kind} {name} is missing", part.kind != "table")
        if found[name] != part:
            return Difference(f"{part.kind} {name} is not the station's", part.kind != "table")
    for name in strange(found, expected):
        return Difference(f"trigger {name} is not the station's", True)
    return None


def strange(found: dict[str, Part], expected: dict[str, Part]) -> list[str]:
    """The triggers on our tables and views that are not ours, changed ones included."""
    return [
        name
        for name, part in found.items()
        if part.kind == "trigger" and part.table in OURS and expected.get(name) != part
    ]


def parts(db: Database) -> dict[str, Part]:
    """By name, everything in the file that was made by a statement."""
    rows = db.execute("SELECT name, type, tbl_name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {name: Part(kind, table, sql) for name, kind, table, sql in rows}


@cache
def parts_of(version: int) -> dict[str, Part]:
    """The parts of a ledger of that version, as the migrations make them."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        db = Database(connection, execute_plugins=False)
        migrations.apply(db, stop_before=f"v{version + 1}")
        made = parts(db)
    return {name: part for name, part in made.items() if part.table in OURS}


def rebuild(db: Database) -> None:
    """Make indexes, triggers and views anew where they are not ours, inside the caller's
    transaction.

    The caller has brought the ledger to this version.
    """
    found, expected = parts(db), parts_of(VERSION)
    for name in strange(found, expected):
        _drop(db, "TRIGGER", name)
    for name, part in expected.items():
        if part.kind in ("index", "view") and name in found and found[name] != part:
            _drop(db, found[name].kind.upper(), name)
    there = parts(db)
    for name, part in expected.items():
        if name not in there:
            db.execute(part.sql)
    db.execute("REINDEX")


def _drop(db: Database, kind: str, name: str) -> None:
    quoted = name.replace('"', '""')
    db.execute(f'DROP {kind} "{quoted}"')
