"""A disk that fails is told as one: nobody is sent for a backup because of a cable."""

import os
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from station.ledger import errors
from station.ledger.book import Book, LedgerError
from station.ledger.errors import PUT_ASIDE, explain, is_damage
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.verify import verify
from tests.ledger.ledgers import AT, note, opened


def corrupt() -> sqlite3.DatabaseError:
    """What SQLite says of a damaged file, and of one whose read the disk refused."""
    error = sqlite3.DatabaseError("database disk image is malformed")
    error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
    return error


@pytest.mark.parametrize("gone", ["", "-wal"])
def test_a_file_that_the_disk_does_not_give_is_no_damaged_file(
    path: Path, monkeypatch: pytest.MonkeyPatch, gone: str
) -> None:
    Path(f"{path}-wal").touch()
    assert is_damage(corrupt(), path)
    assert explain(corrupt(), path).next == PUT_ASIDE
    plain = Path.open

    def refused(self: Path, *given: Any) -> Any:
        if self == Path(f"{path}{gone}"):
            raise OSError(5, os.strerror(5))
        return plain(self, *given)

    monkeypatch.setattr(Path, "open", refused)
    assert not is_damage(corrupt(), path)
    told = explain(corrupt(), path)
    assert "the disk of the ledger" in told.sentence and "mend it" in told.next


def test_a_page_that_the_disk_does_not_give_ends_a_verification_unjudged(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's own check tells it among what is damaged, with its code of a failed read."""
    with open_reader(path) as db:
        plain = db.execute

        def execute(sql: str, *rest: Any) -> Any:
            if not sql.startswith("PRAGMA integrity_check"):
                return plain(sql, *rest)
            code = {"read": 8458, "damage": sqlite3.SQLITE_CORRUPT}[said]
            return plain(f"SELECT '*** in database main *** Page 9: error code={code}'")

        monkeypatch.setattr(db, "execute", execute)
        said = "damage"
        assert "the file is damaged" in str(verify(db).reason)
        said = "read"
        with pytest.raises(sqlite3.OperationalError) as caught:
            verify(db)
    assert "the disk of the ledger" in explain(caught.value, path).sentence


def test_a_ledger_whose_birth_failed_leaves_no_mark_that_would_refuse_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "new.ledger"
    with monkeypatch.context() as patch:
        patch.setattr(os, "pwrite", _full)
        with pytest.raises(LedgerError, match=r"\.head cannot be written") as caught:
            opened(path)
    assert "make room" in caught.value.next
    assert not mark_path(path).exists()
    opened(path).close()
    assert mark_path(path).exists()


def _full(*given: Any) -> int:
    raise OSError(28, os.strerror(28))


def test_after_a_failed_commit_the_log_is_emptied_before_it_is_closed(book: Book) -> None:
    """It may hold what was refused, whole; until the disk takes that, the file stays open."""
    plain, fails = book._db.execute, {"COMMIT"}

    def execute(sql: str, *rest: Any) -> Any:
        if any(sql.startswith(words) for words in fails):
            error = sqlite3.OperationalError("disk I/O error")
            error.sqlite_errorcode = sqlite3.SQLITE_IOERR
            raise error
        return plain(sql, *rest)

    book.append(note("first"), AT)
    log = Path(f"{book.path}-wal")
    book.save()
    assert log.stat().st_size > 0  # nothing failed: it is let be
    book._db.execute = execute  # type: ignore[method-assign]
    with pytest.raises(LedgerError, match="failed"):
        book.append(note("refused"), AT)
    fails.add("PRAGMA wal_checkpoint")
    with pytest.raises(LedgerError, match="failed"):
        book.save()
    fails.clear()
    book.save()
    assert log.stat().st_size == 0


def test_all_of_a_file_is_read_to_tell_whether_the_disk_gives_it(path: Path) -> None:
    assert not errors._unreadable(path)
    assert errors._unreadable(path.parent)
    assert not errors._unreadable(path.with_name("nothing"))
