"""Questions change nothing and hold up nobody; what a glance at the ledger finds wrong is told."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from station.batch import events as ev
from station.ledger import asking
from station.ledger.asking import ALWAYS, Period, asked
from station.ledger.book import Book
from station.ledger.mark import mark_path
from station.ledger.schema import VERSION, version_of
from tests.audit.asking import ask, told
from tests.ledger.ledgers import AT, copied, note, opened, tamper

OLD = Path(__file__).parents[1] / "ledger" / "old"
QUESTIONS = (
    *(("list",), ("lot", "P-41"), ("line", "salt"), ("day", "2026-11-30")),
    *(("open",), ("warnings",), ("concessions",), ("stock",), ("pours",)),
    *(("recall", "P-41"), ("origin", "261130-1"), ("formula", "test ring")),
    *(("person", "Ansel"), ("scale", "fine")),
)


@pytest.fixture
def path(kept: Path, tmp_path: Path) -> Path:
    return copied(kept, tmp_path)


@pytest.mark.parametrize("words", QUESTIONS)
def test_no_question_changes_the_ledger(path: Path, words: tuple[str, ...]) -> None:
    before = path.read_bytes()
    for form in ((), ("--json",), ("--csv",)):
        assert ask(path, *words, *form).exit_code == 0
    assert path.read_bytes() == before


@pytest.mark.parametrize("words", QUESTIONS)
def test_every_answer_says_that_it_is_not_verified_and_is_stamped(
    kept: Path, words: tuple[str, ...]
) -> None:
    found = told(kept, *words)
    assert (found["verified"], found["broken"], found["simulated"]) == (False, None, True)
    assert found["events"] == 166
    text = " ".join(ask(kept, *words).stdout.split())
    assert "SIMULATED" in text and f"166 events, head {found['head']}" in text
    assert "not verified: station ledger verify does that" in text


def test_a_station_goes_on_writing_while_it_is_asked_and_the_answer_is_of_one_state(
    path: Path,
) -> None:
    book = opened(path)
    try:
        with asked(path) as ledger:
            before = ledger.verdict.events
            book.append([("261204-7", ev.Abandoned("meanwhile", "Ansel"))], AT)
            assert [row["state"] for row in ledger.batches()][-1] == "additions"
            assert ledger.verdict.events == before
        with asked(path) as ledger:
            assert [row["state"] for row in ledger.batches()][-1] == "abandoned"
    finally:
        book.close()


def test_what_is_written_as_the_ledger_is_opened_is_not_taken_for_lost(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The mark is read before the state is held: it may be behind that, never ahead."""
    book = opened(path)

    def busy(db: Any) -> int:
        book.append(note(), AT)
        return version_of(db)

    def busier(where: Path) -> Any:
        found = read(where)
        book.append(note(), AT)
        return found

    read = asking.read_mark
    monkeypatch.setattr(asking, "version_of", busy)
    monkeypatch.setattr(asking, "read_mark", busier)
    try:
        with asked(path) as ledger:
            assert (ledger.verdict.ok, ledger.verdict.events) == (True, 168)
    finally:
        book.close()


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("DROP TRIGGER lot_only_projected_DELETE", "trigger lot_only_projected_DELETE is missing"),
        ("DROP INDEX lot_lot", "index lot_lot is missing"),
        ("UPDATE projection SET writing = 1", "stand open for writing"),
    ],
)
def test_what_a_glance_finds_wrong_is_told_with_every_answer(
    path: Path, statement: str, says: str
) -> None:
    tamper(path, statement, drop=False)
    for words in QUESTIONS:
        found = told(path, *words, status=1)
        assert says in found["broken"]
        result = ask(path, *words)
        text = " ".join(result.stdout.split())
        assert (result.exit_code, "THE LEDGER IS BROKEN, do not trust this" in text) == (1, True)
        result = ask(path, *words, "--csv")
        assert (result.exit_code, "THE LEDGER IS BROKEN" in result.stderr) == (1, True)


def test_a_ledger_that_comes_back_shorter_is_told(kept: Path, tmp_path: Path) -> None:
    path = copied(kept, tmp_path)
    book = opened(path)
    book.append(note(), AT)
    book.close()
    shutil.copy(kept, path)  # the older file, beside the newer mark
    found = told(path, "list", status=1)
    assert found["broken"] == "it ends at event 166, and event 167 stood in it"
    mark_path(path).unlink()
    assert told(path, "list")["broken"] is None


@pytest.mark.parametrize("version", [1, 2, 3, 4, 5])
def test_an_older_ledger_is_answered_from_its_events_and_stays_as_it_is(
    tmp_path: Path, version: int
) -> None:
    old = Path(shutil.copy(OLD / f"v{version}.sqlite", tmp_path / "old.ledger"))
    before = old.read_bytes()
    asked_of_old = {words: told(old, *words) for words in (("list",), ("line", "salt"))}
    assert old.read_bytes() == before
    Book.open(old, ev.LedgerBorn("test", True, "0"), AT).close()  # now it is of this version
    with closing(sqlite3.connect(old)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (VERSION,)
    for words, found in asked_of_old.items():
        assert told(old, *words) == found
    assert asked_of_old[("list",)]["batches"]
    assert ask(old, "list").stderr == ""


def test_who_asks_an_older_ledger_is_told_why_it_takes_a_while(tmp_path: Path) -> None:
    old = Path(shutil.copy(OLD / "v3.sqlite", tmp_path / "old.ledger"))
    result = ask(old, "list", "--json")
    assert "an older ledger: its tables are made from its events first" in result.stderr
    assert "next: wait, or start the station on it once" in result.stderr


def test_an_older_ledger_that_is_broken_is_told(tmp_path: Path) -> None:
    old = Path(shutil.copy(OLD / "v3.sqlite", tmp_path / "old.ledger"))
    tamper(old, "UPDATE event SET body = replace(body, '216.00', '210.00') WHERE seq > 9")
    found = told(old, "list", status=1)
    assert "was changed" in found["broken"]


def test_no_ledger_ends_in_a_sentence(tmp_path: Path) -> None:
    for words in QUESTIONS:
        result = ask(tmp_path / "none.ledger", *words)
        assert (result.exit_code, "there is no ledger at" in result.stderr) == (3, True)


def test_a_batch_of_events_that_are_none_ends_in_a_sentence(path: Path) -> None:
    tamper(path, "UPDATE event SET body = '{}' WHERE batch = '261130-1'")
    result = ask(path, "day", "2026-11-30")
    assert (result.exit_code, "the ledger is broken" in result.stderr) == (3, True)


def test_a_period_has_its_beginning_and_not_its_end() -> None:
    span = Period("2026-11-30T00:00:00.000Z", "2026-12-01T00:00:00.000Z")
    assert "2026-11-30T00:00:00.000Z" in span
    assert "2026-12-01T00:00:00.000Z" not in span
    assert "2026-11-29T23:59:59.999Z" not in span
    assert "2026-11-30T10:00:00.000Z" in ALWAYS


def test_a_batch_opened_at_a_midnight_belongs_to_the_day_that_begins(kept: Path) -> None:
    with asked(kept) as ledger:
        at = "2026-11-30T08:00:01.000Z"
        assert ledger.batches(Period(at, "~"))[0]["batch"] == "261130-1"
        assert ledger.batches(Period("", at)) == []
        assert ledger.busy(Period(at, f"{at[:-5]}.001Z")) == ["261130-1"]
        assert ledger.busy(Period("", at)) == []
        salt = ledger.line("salt")[0]["at"]
        assert ledger.line("salt", Period(salt, "~"))[0]["at"] == salt
        assert ledger.line("salt", Period("", salt)) == []


@pytest.mark.parametrize(
    ("ask_it", "index"),
    [
        (lambda ledger: ledger.batches(Period("2026", "2027")), "batch_opened"),
        (lambda ledger: ledger.lot("P-41"), "lot_lot"),
        (lambda ledger: ledger.line("salt"), "addition_name"),
        (lambda ledger: ledger.busy(Period("2026-11", "2026-12")), "event_at"),
        (lambda ledger: list(ledger.events_of("261130-1")), "event_batch"),
        (lambda ledger: list(ledger.outside()), "event_batch"),
        (lambda ledger: list(ledger.events_in(Period("2026-11", "2026-12"), {"x"})), "event_at"),
    ],
)
def test_every_question_is_answered_by_an_index(kept: Path, ask_it: Any, index: str) -> None:
    with asked(kept) as ledger:
        said: list[str] = []
        ledger._tables.conn.set_trace_callback(said.append)
        ask_it(ledger)
        ledger._tables.conn.set_trace_callback(None)
        plans = [
            str(row[3])
            for query in said
            for row in ledger._tables.execute(f"EXPLAIN QUERY PLAN {query}")
        ]
    assert any(f"INDEX {index} (" in plan for plan in plans), plans
    assert not any(plan.startswith("SCAN") and "INDEX" not in plan for plan in plans), plans
