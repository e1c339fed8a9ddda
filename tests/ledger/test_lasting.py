"""What is acknowledged lasts: a ledger that goes away under its writer, its log, its lock."""

import contextlib
import errno
import json
import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from station.ledger import book as books
from station.ledger import log as folding
from station.ledger.book import Book, LedgerError, read_events
from station.ledger.hold import LEAST_FREE
from station.ledger.mark import read_mark
from station.ledger.reading import open_reader
from tests.ledger.ledgers import AT, checked, note, opened


def log_of(path: Path) -> Path:
    return Path(f"{path}-wal")


def replace(path: Path) -> None:
    other = path.with_name("other")
    shutil.copy(path, other)
    other.rename(path)


def a_file_for_its_folder(path: Path) -> None:
    path.parent.rename(f"{path.parent}-2")
    path.parent.touch()


def cut(path: Path) -> None:
    os.truncate(path, path.stat().st_size - 4096)


def overwrite(path: Path) -> None:
    """As `cp` does: the same file with another content, no shorter."""
    path.write_bytes(path.read_bytes())


def another_log(path: Path) -> None:
    content = log_of(path).read_bytes()
    log_of(path).unlink()
    log_of(path).write_bytes(content)


GOES: dict[str, tuple[Callable[[Path], object], str]] = {
    "deleted": (Path.unlink, "no longer there"),
    "renamed": (lambda path: path.rename(path.with_name("b.ledger")), "no longer there"),
    "folder renamed": (lambda path: path.parent.rename(f"{path.parent}-2"), "no longer there"),
    "folder replaced": (a_file_for_its_folder, "no longer there"),
    "replaced": (replace, "was replaced"),
    "cut": (cut, "was cut short"),
    "emptied": (lambda path: os.truncate(path, 0), "was cut short"),
    "overwritten": (overwrite, "another program wrote"),
    "log deleted": (lambda path: log_of(path).unlink(), "has lost its log"),
    "log replaced": (another_log, "has another log"),
    "log cut": (lambda path: os.truncate(log_of(path), 0), "has another log"),
}


@pytest.mark.parametrize("how", GOES)
@pytest.mark.parametrize("look", ["tend", "append"])
def test_a_ledger_that_goes_is_noticed_by_the_second_and_by_every_append(
    book: Book, how: str, look: str
) -> None:
    book.append(note(), AT)
    go, says = GOES[how]
    go(book.path)
    before = (book.seq, book.head, book.station)
    with pytest.raises(LedgerError, match=says) as caught:
        book.tend(0) if look == "tend" else book.append(note("into nothing"), AT)
    assert caught.value.next
    assert (book.seq, book.head, book.station) == before
    copies = list(book.path.parent.glob("*.rescued-*"))
    assert len(copies) == (how in ("deleted", "replaced"))  # the others are where they were


def test_what_is_written_while_nobody_meddles_is_no_alarm(book: Book) -> None:
    book._db.execute("PRAGMA wal_autocheckpoint = 20")  # SQLite folds its log by itself on the way
    size = book.path.stat().st_size
    for number in range(60):
        book.append(note("x" * 3000), AT)
        book.tend(number)
    assert book.path.stat().st_size > size
    assert checked(book.path).ok


def test_an_append_that_ended_in_a_deleted_file_is_not_acknowledged(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Deleted after the look before the append, and before its commit."""
    plain = books.insert
    monkeypatch.setattr(books, "insert", lambda *given: (plain(*given), book.path.unlink()))
    seq = book.seq
    with pytest.raises(LedgerError, match="no longer there"):
        book.append(note(), AT)
    assert book.seq == seq
    assert read_mark(book.path) == book.mark


@pytest.mark.parametrize("go", [Path.unlink, replace])
def test_what_a_deleted_ledger_held_is_saved_whole_and_goes_on_once_it_is_put_back(
    path: Path, go: Callable[[Path], object]
) -> None:
    book = opened(path)
    (last,) = book.append(note("only in the log"), AT)
    go(book.path)
    with pytest.raises(LedgerError) as caught:
        book.tend(0)
    copy = book.path.with_name(f"{book.path.name}.rescued-{last.seq}-1")
    assert str(copy) in caught.value.sentence
    assert str(book.path) in caught.value.next
    with pytest.raises(LedgerError, match=r"rescued-\d+-1"):  # one copy, however often it is asked
        book.tend(1)
    verdict = checked(copy)
    assert (verdict.ok, verdict.events) == (True, last.seq)
    with contextlib.suppress(LedgerError):
        book.close()
    copy.rename(book.path)
    again = opened(book.path)
    assert (again.seq, again.head) == (last.seq, last.hash)
    again.close()


def test_a_copy_that_cannot_be_saved_keeps_the_open_file_for_the_next_try(book: Book) -> None:
    shutil.rmtree(book.path.parent)
    with pytest.raises(LedgerError, match="no copy could be saved") as caught:
        book.tend(0)
    assert "leave the station running" in caught.value.next
    with pytest.raises(LedgerError):
        book.save()
    book.path.parent.mkdir()
    book.save()
    (copy,) = book.path.parent.glob("*.rescued-*")
    assert checked(copy).events == book.seq


# the log and the lock


def test_a_born_ledger_and_one_of_many_events_stand_in_their_own_file(tmp_path: Path) -> None:
    path = tmp_path / "new.ledger"
    book = opened(path)

    def alone() -> int:
        """The events in the file without its log."""
        copy = tmp_path / "copy"
        shutil.copy(path, copy)
        with open_reader(copy) as db:
            return int(db.execute("SELECT count(*) FROM event").fetchone()[0])

    assert alone() == 1
    for _ in range(folding.FOLD_EVENTS - 1):
        book.append(note(), AT)
    assert not book.tend(10.0)
    assert alone() == 1
    book.append(note(), AT)
    assert book.tend(10.0)
    assert alone() == 1 + folding.FOLD_EVENTS
    book.append(note(), AT)
    assert not book.tend(100.0)
    assert not book.tend(100.0 + folding.FOLD_S - 1)
    assert book.tend(100.0 + folding.FOLD_S)
    assert alone() == 2 + folding.FOLD_EVENTS
    assert not book.tend(1000.0) and not book.tend(1000.0 + folding.FOLD_S)  # nothing new
    book.close()


def test_a_log_that_a_reader_keeps_is_folded_once_the_reader_is_gone(book: Book) -> None:
    with closing(sqlite3.connect(book.path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM event").fetchone()
        book.append(note(), AT)
        book.tend(0.0)
        assert not book.tend(folding.FOLD_S)
    assert book.tend(folding.FOLD_S + 1)


@pytest.mark.parametrize("name", ["hard", "symbolic"])
def test_one_writer_a_ledger_by_whatever_name(book: Book, name: str) -> None:
    link = book.path.with_name("link.ledger")
    (link.hardlink_to if name == "hard" else link.symlink_to)(book.path)
    with pytest.raises(LedgerError, match="another station holds"):
        opened(link)


def test_a_second_name_is_refused_since_the_log_stands_beside_one_of_them(path: Path) -> None:
    path.with_name("second").hardlink_to(path)
    for name in (path, path.with_name("second")):
        with pytest.raises(LedgerError, match="second name"):
            opened(name)
    path.with_name("second").unlink()
    opened(path).close()


def test_a_ledger_behind_a_symbolic_link_is_one_ledger(path: Path, tmp_path: Path) -> None:
    link = tmp_path / "there" / "link.ledger"
    link.parent.mkdir()
    link.symlink_to(path)
    book = opened(link)
    book.append(note(), AT)
    assert (checked(link), read_mark(path)) == (checked(path), book.mark)
    book.close()


def test_a_lock_that_another_program_holds_ends_in_a_sentence_and_records_nothing(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    book._db.execute("PRAGMA busy_timeout = 50")
    before = (book.seq, book.head, book.station)
    with closing(sqlite3.connect(book.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LedgerError, match="another program holds the ledger"):
            book.append(note("refused"), AT)
    assert (book.seq, book.head, book.station) == before
    book.append(note("taken"), AT)
    with open_reader(book.path) as db:
        texts = [r.body["text"] for r in read_events(db) if r.kind == "noted"]
    assert texts == ["taken"]


def test_events_of_another_program_are_noticed(book: Book) -> None:
    with closing(sqlite3.connect(book.path, isolation_level=None)) as other:
        other.execute(
            "INSERT INTO event VALUES (?, ?, NULL, 'noted', ?, zeroblob(32), zeroblob(32))",
            (book.seq + 1, AT, json.dumps({"text": "smuggled", "who": "", "uid": None})),
        )
    with pytest.raises(LedgerError, match="another program wrote events"):
        book.append(note(), AT)


def test_a_full_disk_opens_nothing_and_makes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite writes its log's index through memory, where a full disk is the end of the process."""
    path = tmp_path / "new.ledger"
    free = {"bytes": LEAST_FREE - 1}
    plain = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: plain._replace(free=free["bytes"]))
    with pytest.raises(LedgerError, match="is full") as caught:
        opened(path)
    assert ("make room" in caught.value.next, path.exists()) == (True, False)
    free["bytes"] = LEAST_FREE
    opened(path).close()


def test_the_index_of_the_log_is_given_its_room(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = []

    def fallocate(file: int, at: int, size: int) -> None:
        given.append((os.fstat(file).st_ino, at, size))

    monkeypatch.setattr(os, "posix_fallocate", fallocate)
    book = opened(path)
    index = Path(f"{path}-shm").stat()
    assert given == [(index.st_ino, 0, index.st_size)] and index.st_size >= 1 << 15
    book.close()

    def full(file: int, at: int, size: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "posix_fallocate", full)
    with pytest.raises(LedgerError, match="No space left") as caught:
        opened(path)
    assert "make room" in caught.value.next
    monkeypatch.undo()
    opened(path).close()  # nothing is held by what failed
