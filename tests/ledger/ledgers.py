"""Ledgers for tests: written by the real decider, and what people with a knife do to them."""

import sqlite3
from contextlib import closing
from pathlib import Path

from station.batch import events as ev
from station.ledger.book import Book
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify
from tests.benchside import Bench

AT = "2026-11-30T10:00:00.000Z"
BORN = ev.LedgerBorn("test", True, "0")


def a_batch() -> list[tuple[str | None, ev.Event]]:
    """The events of one whole batch, as the real decider makes them."""
    bench = Bench().begin()
    for line, cup, net in (("salt", "cup 3", "216"), ("premix", "cup 2", "24"),
                           ("pepper", "cup 1", "36"), ("garlic", "cup 1", "60")):  # fmt: skip
        bench.add(line, cup, net)
    outside = (ev.VesselRecorded,)
    return [(None if isinstance(e, outside) else "b-1", e) for e in bench.events]


def write(path: Path) -> None:
    """A ledger of one batch at `path`."""
    book = Book.open(path, BORN, AT)
    for event in a_batch():
        book.append([event], AT)
    book.close()


def opened(path: Path, accept_loss: int | None = None) -> Book:
    return Book.open(path, BORN, AT, accept_loss=accept_loss)


def note(text: str = "a note") -> list[tuple[str | None, ev.Event]]:
    return [(None, ev.Noted(text, "Ansel"))]


def copied(ledger: Path, folder: Path) -> Path:
    """The ledger with its mark, in another folder."""
    for source in (ledger, mark_path(ledger)):
        (folder / source.name).write_bytes(source.read_bytes())
    return folder / ledger.name


def checked(path: Path) -> Verdict:
    with open_reader(path) as db:
        return verify(db)


def tamper(path: Path, *statements: str, drop: bool = True) -> None:
    """What somebody with a knife does: drops the triggers, then writes."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        rows = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        if drop:
            for name, _ in rows:
                db.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            db.execute(statement)
        if drop:
            for _, sql in rows:  # and puts them back, to leave no trace
                db.execute(sql)
