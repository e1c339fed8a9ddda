"""A small run of `kills.py`, and that it would see what it looks for.

STATION_SEED chooses the moments; it is printed.
"""

import os
from pathlib import Path

import pytest

from station.batch import events as ev
from station.ledger.book import Book
from tests.torture import kills
from tests.torture.kills import BEGUN, DONE, OPENED, Said, Stands, judge
from tests.torture.power_cut import AT, BORN, NAME

pytestmark = pytest.mark.slow

SEED = int(os.environ.get("STATION_SEED", "1"))
PART: list[ev.Event] = [ev.Noted("one", "Ansel"), ev.Noted("two", "Ansel")]


@pytest.mark.timeout(120)
def test_a_process_that_is_killed_while_it_records_loses_and_doubles_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told, wrong = kills.run(tmp_path, 24, SEED)
    assert not wrong
    assert told["in a commit"] >= 12 and told["events"] > 24
    with capsys.disabled():
        print(f"seed {SEED}: {dict(told)}")


@pytest.fixture(name="book")
def _book(tmp_path: Path) -> Book:
    """A ledger with one event beside its first, closed."""
    book = Book.open(tmp_path / NAME, BORN, AT)
    book.append([(None, PART[0])], AT)
    book.close()
    return book


def judged(book: Book, *said: Said) -> tuple[Stands, str | None]:
    """With event 2 acknowledged before."""
    return judge(book.path, list(said), PART, Stands(book.seq, book.head, 1))


def test_a_kill_that_leaves_what_was_acknowledged_is_no_fault(book: Book) -> None:
    same = (OPENED, book.seq, book.head)
    assert judged(book, same, (BEGUN, book.seq, book.head)) == (Stands(2, book.head, 1), None)


def test_what_was_acknowledged_and_is_lost_is_found(book: Book) -> None:
    _, wrong = judged(book, (OPENED, book.seq, book.head), (DONE, 4, b"4" * 32))
    assert wrong == "event 4 was acknowledged and is lost, or another one"


def test_another_event_than_the_acknowledged_one_is_found(book: Book) -> None:
    _, wrong = judged(book, (OPENED, book.seq, b"2" * 32))
    assert wrong == "event 2 was acknowledged and is lost, or another one"


@pytest.mark.parametrize(("done", "wrong"), [(1, True), (2, False)])
def test_half_a_decision_is_found_and_a_whole_one_under_way_is_not(
    book: Book, done: int, wrong: bool
) -> None:
    before = Stands(book.seq, book.head, 1)
    with_more = Book.open(book.path, BORN, AT)
    with_more.append([(None, event) for event in PART[:done]], AT)
    with_more.close()
    said = [(OPENED, before.seq, before.head), (BEGUN, before.seq, before.head)]
    stands, found = judge(book.path, said, PART, before)
    assert found == ("it ends at event 3, and 2 was acknowledged" if wrong else None)
    assert stands.done == (1 if wrong else 2)


def test_what_stands_there_with_no_commit_under_way_is_found(book: Book) -> None:
    _, wrong = judge(book.path, [], PART, Stands(1, b"", 0))
    assert wrong == "event 1 was acknowledged and is lost, or another one"
    with_more = Book.open(book.path, BORN, AT)
    with_more.append([(None, event) for event in PART], AT)
    with_more.close()
    _, wrong = judge(book.path, [], PART, Stands(book.seq, book.head, 1))
    assert wrong == "it ends at event 4, and 2 was acknowledged"


def test_a_start_that_goes_back_is_found(book: Book) -> None:
    _, wrong = judged(book, (OPENED, 1, b"1" * 32))
    assert wrong == "it opened with event 1, and 2 stood there"


@pytest.mark.parametrize(("part", "wrong"), [(PART[:1], False), (PART, True), (PART[1:], True)])
def test_a_ledger_with_more_or_other_than_was_to_be_recorded_is_found(
    book: Book, part: list[ev.Event], wrong: bool
) -> None:
    found = kills.whole(book.path, [(None, part, False)], Stands(2, b"", 1))
    assert found == ("what stands in it is not what was recorded, once each" if wrong else None)
