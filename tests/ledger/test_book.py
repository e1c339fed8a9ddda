"""The ledger: only ever added to, one writer, whole or not at all."""

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from decimal import Decimal
from pathlib import Path

import pytest

from station.batch import events as ev
from station.ledger import chain
from station.ledger.backup import backup
from station.ledger.book import Book, LedgerError, read_events
from station.ledger.reading import open_reader
from tests.ledger.ledgers import AT, BORN, checked, tamper


def test_a_whole_ledger_verifies_and_folds_to_the_same_state(path: Path) -> None:
    verdict = checked(path)
    assert (verdict.ok, verdict.first_broken, verdict.reason) == (True, None, None)
    book = Book.open(path, BORN, AT)
    assert book.seq == verdict.events
    assert book.station.batch is not None and book.station.batch.lines["salt"].actual_g > 215
    book.close()


def test_the_projection_has_a_row_for_each_addition(path: Path) -> None:
    with open_reader(path) as db:
        rows = {row["name"]: row for row in db.query("SELECT * FROM addition")}
    assert set(rows) == {"salt", "premix", "pepper", "garlic"}
    assert (rows["salt"]["actual_text"], rows["salt"]["actual_g"]) == ("215.9", 215.9)
    assert (rows["premix"]["verdict"], rows["premix"]["lot"]) == ("in", "P-41")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET body = '{}' WHERE seq = 3",
        "DELETE FROM event WHERE seq = 3",
        "INSERT OR REPLACE INTO event SELECT * FROM event WHERE seq = 3",
        "UPDATE ledger SET simulated = 0",
        "DELETE FROM ledger",
        "UPDATE addition SET actual_g = 1",
        "INSERT INTO batch SELECT 'x', formula, 1, '', '', '', 0, '', 0, NULL, NULL, 0, NULL"
        " FROM batch",
        "DELETE FROM addition",
        "UPDATE lot SET lot = 'x'",
        "INSERT INTO lot SELECT batch, line, 'x', NULL, '', NULL, 1, '1', NULL, NULL, '', NULL,"
        " NULL FROM lot",
        "DELETE FROM lot",
    ],
)
def test_triggers_refuse_every_change(path: Path, statement: str) -> None:
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as db,
        pytest.raises(sqlite3.IntegrityError, match=r"only ever added to|change nothing here"),
    ):
        db.execute(statement)


@pytest.mark.parametrize(
    ("statement", "broken"),
    [
        (
            "UPDATE event SET body = replace(body, '216.00', '210.00') WHERE body LIKE '%216.00%'",
            True,
        ),
        ("UPDATE event SET at = '2026-12-01T10:00:00.000Z' WHERE seq = 9", 9),
        ("UPDATE event SET batch = 'b-2' WHERE seq = 20", 20),
        ("DELETE FROM event WHERE seq = 9", 9),
        ("UPDATE event SET kind = 'no such kind' WHERE seq = 4", 4),
        ("UPDATE event SET body = 'no json' WHERE seq = 4", 4),
        ("UPDATE event SET hash = zeroblob(32) WHERE seq = 5", 5),
        ("UPDATE ledger SET simulated = 0", 1),
        ("UPDATE addition SET actual_g = 216.0 WHERE name = 'salt'", None),
        ("DELETE FROM addition WHERE name = 'salt'", None),
        ("UPDATE batch SET state = 'closed'", None),
    ],
)
def test_verify_names_what_was_changed(
    path: Path, statement: str, broken: int | bool | None
) -> None:
    tamper(path, statement)
    verdict = checked(path)
    assert not verdict.ok
    assert verdict.reason
    if broken is True:
        assert verdict.first_broken is not None
    else:
        assert verdict.first_broken == broken


def test_a_failed_append_changes_nothing(path: Path) -> None:
    book = Book.open(path, BORN, AT)
    before = (book.seq, book.head, book.station)
    book._db.execute("PRAGMA max_page_count = 1")  # a full disk, as SQLite meets it
    with pytest.raises(LedgerError, match="full") as caught:
        for _ in range(200):
            book.append([(None, ev.Noted("x" * 5000, "Ansel"))], AT)
            before = (book.seq, book.head, book.station)
    assert "make room" in caught.value.next
    assert (book.seq, book.head, book.station) == before
    book.close()
    assert checked(path).ok


def test_a_second_writer_is_refused_and_a_reader_is_not(path: Path) -> None:
    book = Book.open(path, BORN, AT)
    with pytest.raises(LedgerError, match="another station holds"):
        Book.open(path, BORN, AT)
    assert checked(path).ok
    book.close()
    Book.open(path, BORN, AT).close()


def test_a_ledger_of_a_newer_version_is_left_alone(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA user_version = 99")
    content = path.read_bytes()
    for attempt in (lambda: Book.open(path, BORN, AT).close(), lambda: checked(path)):
        with pytest.raises(LedgerError, match="version 99") as caught:
            attempt()
        assert "newer program" in caught.value.next
    assert path.read_bytes() == content


def test_what_a_ledger_was_born_as_never_changes(path: Path) -> None:
    book = Book.open(path, ev.LedgerBorn("test", False, "0"), AT)
    assert book.simulated
    book.close()


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: path.write_bytes(b"this is no database" * 100), "is no ledger"),
        (
            lambda path: sqlite3.connect(path).execute("CREATE TABLE t (x)").connection.close(),
            "is no ledger",
        ),
        (lambda path: None, "no ledger at"),
    ],
)
def test_what_is_no_ledger_is_said(
    tmp_path: Path, make: Callable[[Path], object], says: str
) -> None:
    path = tmp_path / "x"
    make(path)
    with pytest.raises(LedgerError, match=says):
        checked(path)


def test_a_backup_of_a_ledger_in_use_is_whole(path: Path, tmp_path: Path) -> None:
    book = Book.open(path, BORN, AT)
    book.append([(None, ev.Noted("not yet in the file itself", "Ansel"))], AT)
    copy = tmp_path / "copy.ledger"
    verdict = backup(path, copy, AT)
    assert verdict.ok and verdict.events == book.seq
    book.close()
    copy.chmod(0o400)
    copy.parent.chmod(0o500)  # a medium that cannot be written
    try:
        assert checked(copy) == verdict
    finally:
        copy.parent.chmod(0o700)
    with pytest.raises(LedgerError, match="exists already"):
        backup(path, copy, AT)


def test_the_file_stays_one_after_a_clean_close(path: Path) -> None:
    Book.open(path, BORN, AT).close()
    assert not Path(f"{path}-wal").exists()
    assert path.stat().st_size > 0


@pytest.mark.parametrize("value", [1.5, Decimal("1.5"), b"x", 2**53, {1: "x"}, {"a": [0.1]}])
def test_a_body_holds_only_plain_values(value: object) -> None:
    with pytest.raises(chain.BodyError):
        chain.canonical_body({"value": value})


def test_canonical_json_is_that_of_rfc_8785() -> None:
    """RFC 8785, section 3.2.3: names sorted by UTF-16 code units; section 3.2.2.2: escapes."""
    body = {"\u20ac": "Euro Sign", "\r": "Carriage Return", "\U0001f600": "Emoji", "1": "One",
            "\ufb33": "Hebrew", "\u00f6": "o", "\u0080": "Control"}  # fmt: skip
    text = chain.canonical_body(body)
    order = ["Carriage", "One", "Control", '"o"', "Euro", "Emoji", "Hebrew"]
    places = [text.index(name) for name in order]
    assert places == sorted(places)
    assert chain.canonical_body({"b": '\x0f\n"\\/'}) == '{"b":"\\u000f\\n\\"\\\\/"}'


def test_masses_are_plain_text_in_the_events(path: Path) -> None:
    with open_reader(path) as db:
        accepted = [r for r in read_events(db, "b-1") if r.kind == "load-weighed"]
    assert accepted[0].body["net_g"] == "216.00"
    assert bytes.fromhex(accepted[0].body["raw"]) == b"347.20"
    assert bytes.fromhex(accepted[0].body["tare_raw"]) == b"131.20"


def test_a_broken_ledger_is_not_written_to(path: Path) -> None:
    tamper(
        path, "UPDATE event SET body = replace(body, '216.00', '210.00') WHERE body LIKE '%216.00%'"
    )
    with pytest.raises(LedgerError, match="is broken: event") as caught:
        Book.open(path, BORN, AT)
    assert "ledger repair" in caught.value.next


def of_version(version: int, folder: Path, events: int) -> Path:
    """A ledger as that version left it, whole, and as it was once it was read."""
    kept = Path(__file__).parent / "old" / f"v{version}.sqlite"
    old = Path(shutil.copy(kept, folder / "old.ledger"))
    before = checked(old)  # not migrated by reading
    assert (before.ok, before.events) == (True, events)
    return old


def brought_up(version: int, folder: Path, events: int) -> Path:
    """The same, opened by this version, and whole."""
    old = of_version(version, folder, events)
    Book.open(old, BORN, AT).close()
    assert checked(old).ok
    return old


def test_a_ledger_of_the_first_version_is_read_verified_and_written_on(tmp_path: Path) -> None:
    old = of_version(1, tmp_path, 44)
    book = Book.open(old, BORN, AT)
    book.append([(None, ev.PersonCame(who="Brida"))], AT)
    book.close()
    after = checked(old)
    assert (after.ok, after.events) == (True, 45)


def test_an_older_ledger_keeps_what_was_weighed_beside_more_that_nobody_weighed(
    tmp_path: Path,
) -> None:
    """Version 2 had no figure at all for salt of which more went in than was weighed."""
    with closing(sqlite3.connect(brought_up(2, tmp_path, 23))) as db:
        salt = db.execute(
            "SELECT actual_text, who, scale, unknown_more FROM addition WHERE name = 'salt'"
        ).fetchone()
    assert salt == ("215.9", "Ansel", "fine", "Ansel, 2026-11-30T10:00:00.000Z")


def test_a_ledger_of_the_third_version_gets_lots_salt_and_differences_in_its_tables(
    tmp_path: Path,
) -> None:
    with closing(sqlite3.connect(brought_up(3, tmp_path, 166))) as db:
        lots = db.execute("SELECT batch, line, actual_text FROM lot WHERE lot = 'G-118'").fetchall()
        salt = db.execute("SELECT salt_pct, salt_at_least FROM batch ORDER BY batch").fetchall()
        (off,) = db.execute(
            "SELECT difference_pct FROM addition WHERE name = 'salt' AND batch = '261130-2'"
        ).fetchone()
    assert lots == [("261130-1", "garlic", "59.9"), ("261130-1", "pepper", "35.9")]
    assert salt[:3] == [("1.9859", 0), ("1.9942", 0), ("1.9859", 1)]
    assert off == "0.42"


def test_a_ledger_of_the_fourth_version_gets_its_views_and_keeps_its_rows(tmp_path: Path) -> None:
    with closing(sqlite3.connect(of_version(4, tmp_path, 166))) as db:
        before = db.execute("SELECT * FROM addition").fetchall()
    old = tmp_path / "old.ledger"
    Book.open(old, BORN, AT).close()
    with closing(sqlite3.connect(old)) as db:
        assert db.execute("SELECT * FROM addition").fetchall() == before
        assert db.execute("SELECT count(*) FROM audit_additions").fetchone() == (28,)
