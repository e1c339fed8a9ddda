"""The last event is known outside the ledger: one that comes back shorter, or another, is told."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from station.batch import events as ev
from station.ledger.book import Book, LedgerError, read_events
from station.ledger.mark import mark_path, read_mark
from station.ledger.reading import open_reader
from tests.ledger.ledgers import AT, BORN, checked, note, opened


def test_the_mark_is_the_last_event_after_every_append(book: Book) -> None:
    assert read_mark(book.path) == book.mark
    (record,) = book.append(note(), AT)
    mark = read_mark(book.path)
    assert mark is not None
    assert (mark.seq, mark.head) == (record.seq, record.hash.hex())


def shorter(path: Path) -> None:
    """An old backup put back: whole in itself."""
    old = path.with_name("old")
    shutil.copy(path, old)
    book = opened(path)
    book.append(note("one"), AT)
    book.append(note("two"), AT)
    book.close()
    old.rename(path)


def another(path: Path) -> None:
    """A ledger of as many events that was never this one."""
    mark = mark_path(path).read_bytes()
    events = checked(path).events
    path.unlink()
    mark_path(path).unlink()
    book = opened(path)
    for number in range(events):
        book.append(note(f"forged {number}"), AT)
    book.close()
    mark_path(path).write_bytes(mark)


def rewritten(path: Path) -> None:
    """The same events but for the last, with a chain that is right in itself."""
    book = opened(path)
    book.append(note("true"), AT)
    book.close()
    mark = mark_path(path).read_bytes()
    with closing(sqlite3.connect(path)) as db:
        (sql,) = db.execute(
            "SELECT sql FROM sqlite_master WHERE name = 'event_no_delete'"
        ).fetchone()
        db.execute("DROP TRIGGER event_no_delete")
        db.execute("DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
        db.execute(sql)
        db.commit()
    mark_path(path).unlink()
    book = opened(path)
    book.append(note("forged"), AT)
    book.close()
    mark_path(path).write_bytes(mark)


LOSSES: dict[str, tuple[Callable[[Path], object], str]] = {
    "an old backup": (shorter, "it ends at event"),
    "another ledger": (another, "another ledger was here"),
    "the last event forged": (rewritten, "is not the one that stood there"),
    "no file": (Path.unlink, "it is not there"),
    "an empty file": (lambda path: os.truncate(path, 0), "it is empty"),
}


@pytest.mark.parametrize("how", LOSSES)
def test_a_ledger_without_its_last_event_is_refused_until_that_is_confirmed(
    path: Path, how: str
) -> None:
    go, says = LOSSES[how]
    go(path)
    mark = read_mark(path)
    assert mark is not None
    content = path.read_bytes() if path.exists() else None
    for wrong in (None, mark.seq - 1, mark.seq + 1):
        with pytest.raises(LedgerError, match=says) as caught:
            opened(path, wrong)
        assert f"--accept-loss {mark.seq}" in caught.value.next
        assert (path.read_bytes() if path.exists() else None) == content
        assert read_mark(path) == mark
    book = opened(path, mark.seq)
    book.close()
    with open_reader(path) as db:
        last = list(read_events(db))[-1]
    assert last.event == ev.LossAccepted(
        mark.ledger, mark.seq, mark.head, last.seq - 1, last.prev.hex(), uid=os.getuid()
    )
    assert checked(path).ok
    opened(path).close()  # told once


def test_a_loss_is_accepted_only_where_there_is_one(path: Path, tmp_path: Path) -> None:
    events = checked(path).events
    with pytest.raises(LedgerError, match="nothing is missing"):
        opened(path, events)
    with pytest.raises(LedgerError, match="nothing is missing"):
        opened(tmp_path / "new.ledger", 5)
    assert not (tmp_path / "new.ledger").exists()


@pytest.mark.parametrize("how", ["an old backup", "another ledger", "the last event forged"])
def test_verify_tells_the_loss_too(path: Path, how: str) -> None:
    go, says = LOSSES[how]
    go(path)
    verdict, mark = checked(path), read_mark(path)
    assert mark is not None and not verdict.ok
    assert says in str(verdict.reason)
    assert verdict.first_broken == min(mark.seq, verdict.events + 1)
    if how == "the last event forged":
        assert verdict.first_broken == verdict.events


def test_a_writer_that_knows_more_than_the_mark_is_believed(path: Path) -> None:
    """Somebody put back an old ledger and its old mark while the station opened it again."""
    old = {name: name.read_bytes() for name in (path, mark_path(path))}
    book = opened(path)
    book.append(note(), AT)
    book.close()
    for name, content in old.items():
        name.write_bytes(content)
    with pytest.raises(LedgerError, match="it ends at event"):
        Book.open(path, BORN, AT, known=book.mark)


def test_a_ledger_without_a_mark_opens_with_a_word(
    path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    mark_path(path).unlink()
    opened(path).close()
    assert "nothing says how many events" in caplog.text
    assert read_mark(path) is not None


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"{}", b'{"ledger": "x", "seq": "y"}'])
def test_a_mark_that_says_nothing_is_told(path: Path, content: bytes) -> None:
    mark_path(path).write_bytes(content)
    for look in (lambda: opened(path).close(), lambda: checked(path)):
        with pytest.raises(LedgerError, match="says nothing of the ledger's last event") as caught:
            look()
        assert "on paper" in caught.value.next


def test_a_mark_that_was_removed_under_the_station_comes_back(book: Book) -> None:
    mark_path(book.path).unlink()
    book.append(note(), AT)
    assert read_mark(book.path) is None
    book.checkpoint()
    assert read_mark(book.path) == book.mark


_KILLED = """
import os, sys
from pathlib import Path
from station.ledger.book import Book
from station.ledger.mark import MarkFile
from tests.ledger.ledgers import AT, BORN, note
book = Book.open(Path(sys.argv[1]), BORN, AT)
MarkFile.write = lambda self, mark: os.kill(os.getpid(), 9)
book.append(note("acknowledged or not, it is whole"), AT)
"""


def test_a_kill_between_the_commit_and_the_mark_costs_nothing(path: Path) -> None:
    before = checked(path).events
    result = subprocess.run([sys.executable, "-c", _KILLED, str(path)], check=False, timeout=30)
    assert result.returncode == -signal.SIGKILL
    mark = read_mark(path)
    assert mark is not None and mark.seq == before
    assert (checked(path).ok, checked(path).events) == (True, before + 1)
    book = opened(path)
    assert (book.seq, read_mark(path)) == (before + 1, book.mark)
    book.close()
