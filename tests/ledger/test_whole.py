"""Evidence is never healed: a ledger that is not whole is told, is not written to, and is put aside
as it was found before anything in it is made anew."""

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from station.batch import events as ev
from station.doctor.examining import _ledger
from station.ledger.book import Book, LedgerError, read_events
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.repair import examine, repair
from station.ledger.verify import prove
from tests.ledger.ledgers import AT, checked, note, opened, tamper
from tests.service.daemons import station

DERIVED = {
    "a row changed": "UPDATE addition SET actual_g = 216.0 WHERE name = 'salt'",
    "a row gone": "DELETE FROM batch",
    "a lot's row changed": "UPDATE lot SET actual_text = '2.4' WHERE lot = 'P-41'",
    "a lot's row gone": "DELETE FROM lot",
    "an auditor's index gone": "DROP INDEX event_at",
    "a row too many": "INSERT INTO batch SELECT 'x', formula, 1, '', '', '', 0, '', 0, NULL, NULL,"
    " 0, NULL"
    " FROM batch",
    "open for writing": "UPDATE projection SET writing = 1",
    "the switch gone": "DELETE FROM projection",
    "an index gone": "DROP INDEX event_batch",
    "an index of another kind": "DROP INDEX event_batch; CREATE INDEX event_batch ON event (at)",
    "a view gone": "DROP VIEW audit_lots",
    "a view that leaves a batch out": "DROP VIEW audit_batches; CREATE VIEW audit_batches AS"
    " SELECT * FROM batch WHERE batch <> 'b-1'",
    "a trigger of theirs": "CREATE TRIGGER mine AFTER INSERT ON event BEGIN SELECT 1; END",
    'a trigger of theirs, "quoted"': 'CREATE TRIGGER "a ""b""" AFTER INSERT ON batch'
    " BEGIN SELECT 1; END",
}
BROKEN = {
    "an event changed": "UPDATE event SET at = '2026-12-01T10:00:00.000Z' WHERE seq = 9",
    "an event gone": "DELETE FROM event WHERE seq = 9",
    "blanks in a body": "UPDATE event SET body = replace(body, ',', ', ') WHERE seq = 1",
    "a key twice": "UPDATE event SET body = replace(body, '{', '{\"uid\":null,') WHERE seq = 2",
    "another id": "UPDATE ledger SET id = randomblob(32)",
    "another birth": "UPDATE ledger SET simulated = 0",
    "no id": "DELETE FROM ledger",
    "no event": "DELETE FROM event",
    "a body too deep": "UPDATE event SET body = printf('%.*c', 5000, '[') WHERE seq = 3",
    "a body of bytes": "UPDATE event SET body = CAST(x'ff' AS TEXT) WHERE seq = 3",
    "another table": "ALTER TABLE event ADD COLUMN more TEXT",
    "no version": "PRAGMA user_version = 0",
}


def attack(path: Path, what: str) -> None:
    statement = {**DERIVED, **BROKEN}[what]
    if "CREATE TRIGGER" in statement or what == "no version":
        tamper(path, statement, drop=False)
    else:
        tamper(path, *statement.split("; "))


@pytest.mark.parametrize("what", [*DERIVED, *BROKEN])
def test_a_ledger_that_is_not_whole_is_told_and_not_opened_nor_changed(
    path: Path, what: str
) -> None:
    attack(path, what)
    found = path.read_bytes()
    with pytest.raises(LedgerError, match="is broken:") as caught:
        opened(path)
    assert "station ledger repair --keep-evidence" in caught.value.next
    assert ("makes that anew" in caught.value.next) == (what in DERIVED)
    assert not checked(path).ok
    assert path.read_bytes() == found


@pytest.mark.parametrize("name", ["event_no_update", "batch_only_projected_DELETE"])
@pytest.mark.parametrize("change", ["gone", "toothless"])
def test_a_trigger_that_is_gone_or_does_nothing_is_told(path: Path, name: str, change: str) -> None:
    table = name.split("_", maxsplit=1)[0]
    again = f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} BEGIN SELECT 1; END"
    tamper(path, f"DROP TRIGGER {name}", *([again] if change == "toothless" else []), drop=False)
    assert name in str(checked(path).reason)
    with pytest.raises(LedgerError, match=name):
        opened(path)
    done = repair(path, AT, "kept")
    assert done is not None and done.whole
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as db,
        pytest.raises(sqlite3.IntegrityError),
    ):
        db.execute("UPDATE event SET at = ''" if table == "event" else "DELETE FROM batch")


@pytest.mark.parametrize("what", DERIVED)
def test_what_the_events_make_is_made_anew_once_the_file_is_kept_as_it_was(
    path: Path, what: str
) -> None:
    attack(path, what)
    found, before = path.read_bytes(), checked(path)
    done = repair(path, AT, "kept")
    assert done is not None and done.whole
    (evidence,) = done.evidence
    kept = path.with_name(f"{path.name}.kept")
    assert (evidence.file, kept.read_bytes()) == (str(kept), found)
    assert evidence.sha256 == hashlib.sha256(found).hexdigest()
    assert kept.stat().st_mode & 0o222 == 0
    after = checked(path)
    assert (after.ok, after.events) == (True, before.events + 1)
    with open_reader(path) as db:
        last = list(read_events(db))[-1].event
    assert isinstance(last, ev.LedgerRepaired)
    assert (last.found, last.evidence, last.sha256) == (done.found, kept.name, evidence.sha256)
    book = opened(path)
    book.append(note(), AT)
    book.close()
    assert repair(path, AT, "again") is None


@pytest.mark.parametrize("what", BROKEN)
def test_broken_events_are_nobodys_to_mend_the_ledger_is_put_aside(path: Path, what: str) -> None:
    attack(path, what)
    found = path.read_bytes()
    done = repair(path, AT, "kept")
    assert done is not None and not done.whole
    assert not path.exists()
    assert path.with_name(f"{path.name}.kept").read_bytes() == found
    with pytest.raises(LedgerError, match="it is not there"):
        opened(path)


def test_what_people_add_beside_our_tables_is_their_own(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("CREATE TABLE theirs (x)")
        db.execute("CREATE VIEW reds AS SELECT * FROM addition WHERE verdict = 'over'")
        db.execute("CREATE TRIGGER t AFTER INSERT ON theirs BEGIN SELECT 1; END")
    assert checked(path).ok
    opened(path).close()


def test_the_log_is_kept_too(path: Path) -> None:
    """A ledger as a kill leaves it: its last events stand in the log alone."""
    book = opened(path)
    book.append(note("in the log"), AT)
    left = path.with_name("left.ledger")
    for end in ("", "-wal"):
        shutil.copy(f"{path}{end}", f"{left}{end}")
    shutil.copy(mark_path(path), mark_path(left))
    book.close()
    with closing(sqlite3.connect(f"file:{left}?mode=rw", uri=True, isolation_level=None)) as db:
        db.execute("DROP TRIGGER event_no_update")
        log = Path(f"{left}-wal").read_bytes()
        done = repair(left, AT, "kept")
    assert done is not None and done.whole
    assert [Path(e.file).name for e in done.evidence] == [
        "left.ledger.kept", "left.ledger.kept-wal",
    ]  # fmt: skip
    assert Path(f"{left}.kept-wal").read_bytes() == log


def test_a_running_station_s_ledger_is_not_repaired(book: Book) -> None:
    with pytest.raises(LedgerError, match="another station holds"):
        repair(book.path, AT, "kept")


def test_evidence_is_never_written_over(path: Path) -> None:
    path.with_name(f"{path.name}.kept").write_text("older evidence")
    attack(path, "a row changed")
    with pytest.raises(LedgerError, match="cannot be put aside: File exists"):
        repair(path, AT, "kept")
    assert path.with_name(f"{path.name}.kept").read_text() == "older evidence"
    assert not checked(path).ok


def test_a_file_that_never_was_a_ledger_is_not_put_aside(tmp_path: Path) -> None:
    picture = tmp_path / "picture"
    picture.write_bytes(b"no ledger" * 1000)
    with pytest.raises(LedgerError, match="is no ledger"):
        repair(picture, AT, "kept")
    with pytest.raises(LedgerError, match="no ledger at"):
        repair(tmp_path / "nothing", AT, "kept")
    assert [file.name for file in tmp_path.iterdir()] == ["picture"]


def test_a_ledger_whose_first_page_is_gone_is_put_aside(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(b"\0" * 100)
    done = repair(path, AT, "kept")
    assert done is not None and not done.whole and not path.exists()


def test_a_ledger_whose_first_page_is_no_table_is_told_with_what_to_do(path: Path) -> None:
    with path.open("r+b") as file:
        file.seek(100)
        file.write(b"\0")
    for look in (lambda: checked(path), lambda: opened(path)):
        with pytest.raises(LedgerError, match=r"the file .* is damaged") as caught:
            look()
        assert "puts it aside" in caught.value.next


def test_a_ledger_of_the_first_version_is_repaired_to_this_one(tmp_path: Path) -> None:
    old = Path(shutil.copy(Path(__file__).parent / "old" / "v1.sqlite", tmp_path / "old.ledger"))
    tamper(old, "DELETE FROM addition")
    done = repair(old, AT, "kept")
    assert done is not None and done.whole
    assert checked(old).ok


def test_verify_sees_one_state_of_a_ledger_that_is_written_to(book: Book) -> None:
    """What is added while it reads is of the next state, in events and in tables."""
    with open_reader(book.path) as db:
        plain = db.execute

        def busy(sql: str, *rest: object) -> sqlite3.Cursor:
            if sql == "PRAGMA integrity_check(10)":
                book.append([("b-1", ev.Noted("meanwhile", "Ansel"))], AT)
                book.append([("b-1", ev.Abandoned("meanwhile", "Ansel"))], AT)
            return plain(sql, *rest)

        db.execute = busy  # type: ignore[method-assign,assignment]
        assert prove(db).broken is None


def hide_an_event(path: Path) -> None:
    """In the index by which a batch's events are found."""
    with closing(sqlite3.connect(path)) as db:
        (size,) = db.execute("PRAGMA page_size").fetchone()
        row = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'event_batch'")
        start = (row.fetchone()[0] - 1) * size
    content = path.read_bytes()
    page = content[start : start + size].replace(b"b-1", b"b-9", 1)
    path.write_bytes(content[:start] + page + content[start + size :])


def test_an_index_that_hides_an_event_of_a_batch_is_told_and_made_anew(path: Path) -> None:
    hide_an_event(path)
    assert "index event_batch" in str(checked(path).reason)
    with pytest.raises(LedgerError, match="index event_batch"):
        opened(path)
    done = repair(path, AT, "kept")
    assert done is not None and done.whole
    assert checked(path).ok


def test_what_is_not_whole_after_all_is_put_aside(path: Path) -> None:
    """The index is found first, and behind it what no event makes."""
    tamper(path, "ALTER TABLE event ADD COLUMN more TEXT")
    hide_an_event(path)
    found = path.read_bytes()
    done = repair(path, AT, "kept")
    assert done is not None and not done.whole and not path.exists()
    assert path.with_name(f"{path.name}.kept").read_bytes() == found


def test_a_file_that_sqlite_finds_damaged_where_no_event_stands_is_told(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[36:40] = (7).to_bytes(4)  # the number of its free pages (SQLite file format, 1.3)
    path.write_bytes(content)
    verdict = checked(path)
    assert (verdict.ok, verdict.first_broken) == (False, None)
    assert "the file is damaged" in str(verdict.reason)
    with pytest.raises(LedgerError) as caught:
        opened(path)
    assert "puts it aside" in caught.value.next
    done = repair(path, AT, "kept")
    assert done is not None and not done.whole


def test_a_disk_that_fails_is_no_broken_ledger(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(db: object, **which: object) -> None:
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR | 1 << 8
        raise error

    monkeypatch.setattr("station.ledger.walk.read_events", fails)
    for look in (lambda: checked(path), lambda: opened(path), lambda: examine(path)):
        with pytest.raises(LedgerError, match="the disk of the ledger"):
            look()


def test_the_doctor_misses_a_ledger_that_was_there(path: Path) -> None:
    found, *_ = _ledger(path, None)
    assert found.well and "whole" in found.seen
    attack(path, "a row changed")
    found, *_ = _ledger(path, None)
    assert not found.well and "repair" in found.next
    path.unlink()
    found, *_ = _ledger(path, None)
    assert not found.well
    mark_path(path).unlink()
    found, *_ = _ledger(path, None)
    assert found.well


def test_the_command_tells_keeps_and_repairs(path: Path) -> None:
    attack(path, "a row changed")
    at = ["--ledger", str(path)]
    told = station("ledger", "repair", *at)
    assert (told.returncode, "the events make" in told.stdout) == (1, True)
    assert "--keep-evidence" in told.stdout
    assert not checked(path).ok
    done = station("ledger", "repair", "--keep-evidence", "--json", *at)
    assert done.returncode == 0
    (evidence,) = json.loads(done.stdout)["evidence"]
    digest = hashlib.sha256(Path(evidence["file"]).read_bytes()).hexdigest()
    assert (".evidence-20" in evidence["file"], evidence["sha256"]) == (True, digest)
    again = station("ledger", "repair", "--keep-evidence", *at)
    assert (again.returncode, "is whole" in again.stdout) == (0, True)
    attack(path, "an event changed")
    aside = station("ledger", "repair", "--keep-evidence", *at)
    assert (aside.returncode, "it was put aside" in aside.stdout) == (1, True)
    assert station("ledger", "repair", *at).returncode == 3
