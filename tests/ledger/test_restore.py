"""A backup takes the ledger's place only if it is whole and of this ledger; nothing is lost."""

import json
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from station.cli import main
from station.ledger.backup import backup
from station.ledger.book import LedgerError
from station.ledger.checkpoint import checkpoint_path
from station.ledger.mark import mark_path, read_mark
from station.ledger.restore import Restored, restore
from tests.ledger.ledgers import AT, checked, note, opened, tamper, write

OLD = Path(__file__).parent / "old" / "v5.sqlite"


def restored(file: Path, ledger: Path) -> Restored:
    return restore(file, ledger, "before-1")


def everything(folder: Path) -> dict[str, bytes]:
    return {found.name: found.read_bytes() for found in folder.iterdir() if found.is_file()}


@pytest.fixture
def copy(path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A good backup in another folder."""
    target = tmp_path_factory.mktemp("stick") / "copy.ledger"
    assert backup(path, target, AT).ok
    return target


def test_a_backup_takes_the_place_of_a_damaged_ledger_which_is_kept(path: Path, copy: Path) -> None:
    before = checked(path)
    path.write_bytes(damaged := path.read_bytes()[:8000])
    os.chmod(path, 0o640)  # noqa: PTH101
    done = restored(copy, path)
    assert (done.events, done.head, done.known) == (before.events, before.head, None)
    (kept,) = done.kept
    assert Path(kept).read_bytes() == damaged
    assert path.stat().st_mode & 0o777 == 0o640
    assert checked(path) == before
    opened(path).close()
    assert checked(copy) == before


def test_a_backup_takes_the_place_of_a_ledger_that_is_gone(path: Path, copy: Path) -> None:
    path.unlink()
    assert restored(copy, path).kept == ()
    assert checked(path).ok


def test_a_backup_of_before_an_update_comes_back_in_its_own_version(tmp_path: Path) -> None:
    """The way back: the newer program made the tables anew, and recorded something since."""

    def version(file: Path) -> int:
        with closing(sqlite3.connect(file)) as db:
            return int(db.execute("PRAGMA user_version").fetchone()[0])

    path, before = tmp_path / "a.ledger", tmp_path / "before-update.ledger"
    path.write_bytes(OLD.read_bytes())
    old, was = version(path), checked(path)
    assert backup(path, before, AT).ok
    book = opened(path)
    book.append(note("since the update"), AT)
    book.close()
    assert version(path) > old
    done = restored(before, path)
    assert (done.events, done.known) == (was.events, was.events + 1)
    assert version(path) == old
    with pytest.raises(LedgerError, match="it ends at event") as caught:
        opened(path)
    assert f"--accept-loss {was.events + 1}" in caught.value.next
    (kept,) = done.kept
    assert checked(Path(kept)).events == was.events + 1


def test_the_log_of_what_was_there_goes_with_it(path: Path, copy: Path) -> None:
    """A log beside another file would be folded into that."""
    book = opened(path)
    book.append(note("only in the log"), AT)
    log = Path(f"{path}-wal").read_bytes()
    main_file = path.read_bytes()
    book.close()
    path.write_bytes(main_file)
    Path(f"{path}-wal").write_bytes(log)
    done = restored(copy, path)
    assert {Path(kept).name for kept in done.kept} == {
        "a.ledger.before-1", "a.ledger.before-1-wal",
    }  # fmt: skip
    assert not Path(f"{path}-wal").exists()
    with closing(sqlite3.connect(done.kept[-1])) as db:
        (body,) = db.execute("SELECT body FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    assert "only in the log" in body


def test_an_older_backup_is_restored_and_the_loss_asked_about_at_the_next_start(
    path: Path, copy: Path
) -> None:
    book = opened(path)
    book.append(note("after the backup"), AT)
    book.close()
    known = read_mark(path)
    done = restored(copy, path)
    assert known is not None
    assert (done.known, read_mark(path)) == (known.seq, known)
    with pytest.raises(LedgerError, match="it ends at event") as caught:
        opened(path)
    assert f"--accept-loss {known.seq}" in caught.value.next
    assert checkpoint_path(path).exists() is False
    opened(path, known.seq).close()
    assert checked(path).ok


def half(copy: Path) -> None:
    copy.write_bytes(copy.read_bytes()[: copy.stat().st_size // 2])


def foreign(copy: Path) -> None:
    other = copy.with_name("other.ledger")
    write(other)
    mark_path(other).unlink()
    other.replace(copy)


def forked(copy: Path) -> None:
    """Of this ledger, and longer, but another event stands where the mark knows one."""
    tamper(copy, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
    with closing(sqlite3.connect(copy, isolation_level=None)) as db:
        db.execute("DELETE FROM node")
        db.execute("DELETE FROM leaf")
    book = opened(copy)
    for number in range(3):
        book.append(note(f"other {number}"), AT)
    book.close()
    mark_path(copy).unlink()


BAD: dict[str, tuple[Callable[[Path], object], str]] = {
    "half written": (half, "is damaged"),
    "tampered": (
        lambda c: tamper(c, "UPDATE event SET at = '2026-12-01T10:00:00.000Z' WHERE seq = 9"),
        "is broken at event 9",
    ),
    "a row changed": (lambda c: tamper(c, "DELETE FROM lot"), "is broken"),
    "foreign": (foreign, "is of another ledger"),
    "another from an event on": (forked, "is of another ledger"),
    "no ledger": (lambda c: c.write_bytes(b"x" * 5000), "is no ledger"),
    "empty": (lambda c: c.write_bytes(b""), "is no ledger"),
    "not there": (Path.unlink, "there is no ledger at"),
}


@pytest.mark.parametrize("how", BAD)
def test_a_backup_that_is_not_good_changes_nothing(path: Path, copy: Path, how: str) -> None:
    spoil, says = BAD[how]
    spoil(copy)
    before = everything(path.parent)
    with pytest.raises(LedgerError, match=says) as caught:
        restored(copy, path)
    assert "repair" not in caught.value.next
    assert everything(path.parent) == before
    path.unlink()
    with pytest.raises(LedgerError, match=says):
        restored(copy, path)
    assert not path.exists()


def test_the_ledger_itself_is_no_backup_and_a_kept_name_is_not_taken(
    path: Path, copy: Path
) -> None:
    with pytest.raises(LedgerError, match="is the ledger itself"):
        restored(path, path)
    kept = path.with_name("a.ledger.before-1")
    kept.write_text("mine")
    before = everything(path.parent)
    with pytest.raises(LedgerError, match="exists already"):
        restored(copy, path)
    assert everything(path.parent) == before


def test_a_running_station_keeps_its_ledger(path: Path, copy: Path) -> None:
    book = opened(path)
    before = path.read_bytes()
    with pytest.raises(LedgerError, match="another station holds"):
        restored(copy, path)
    assert path.read_bytes() == before
    book.close()


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["ledger", "restore", *words])


def test_the_verb_says_what_was_kept_and_what_to_do_next(path: Path, copy: Path) -> None:
    book = opened(path)
    book.append(note(), AT)
    book.close()
    told = run(str(copy), "--ledger", str(path))
    assert told.exit_code == 0, told.stderr
    assert "kept as it was:" in told.stdout
    assert "--accept-loss" in told.stdout
    as_json = json.loads(run(str(copy), "--ledger", str(path), "--json").stdout)
    assert as_json["known"] == checked(copy).events + 1
    copy.write_bytes(b"")
    assert run(str(copy), "--ledger", str(path)).exit_code == 3
