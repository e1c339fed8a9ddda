"""A ledger verified from one event on: what is checked, and that what is not is said."""

import json
from pathlib import Path
from typing import Any

import pytest

from station.ledger.book import LedgerError
from station.ledger.chain import head_text
from station.ledger.reading import open_reader
from station.ledger.since import not_checked, verify_since
from station.ledger.verify import Verdict, verify
from station.ledger.walk import Broken
from tests.ledger.ledgers import checked, tamper
from tests.service.daemons import station

SINCE = 10


def found(path: Path, since: int = SINCE) -> Verdict:
    with open_reader(path) as db:
        return verify_since(db, since)


def left(path: Path, since: int = SINCE) -> list[str]:
    with open_reader(path) as db:
        return not_checked(db, since)


@pytest.mark.parametrize("since", [1, 2, SINCE])
def test_a_whole_ledger_is_whole_from_any_event_on(path: Path, since: int) -> None:
    assert found(path, since) == checked(path)
    last = checked(path).events
    assert found(path, last) == checked(path)


@pytest.mark.parametrize("since", [-1, 0, 10_000])
def test_an_event_that_is_not_there_is_told(path: Path, since: int) -> None:
    with pytest.raises(LedgerError, match=f"there is no event {since}") as caught:
        found(path, since)
    assert caught.value.next
    with pytest.raises(LedgerError):
        found(path, checked(path).events + 1)


AFTER: dict[str, tuple[tuple[str, ...], int, str]] = {
    "changed": (
        ("UPDATE event SET at = '2027-01-01T10:00:00.000Z' WHERE seq = 10",),
        10,
        "changed",
    ),
    "body": (("UPDATE event SET body = replace(body, ':', ': ') WHERE seq = 12",), 12, "canonical"),
    "missing": (("DELETE FROM event WHERE seq = 12",), 12, "is missing"),
    "first gone": (("DELETE FROM event WHERE seq = 10",), 10, "is missing"),
    "before gone": (("DELETE FROM event WHERE seq = 9",), 9, "event 9 is missing"),
    "hash before": (("UPDATE event SET hash = zeroblob(32) WHERE seq = 9",), 10, "follow"),
}


@pytest.mark.parametrize("how", AFTER)
def test_what_is_wrong_from_that_event_on_is_found(path: Path, how: str) -> None:
    statements, seq, reason = AFTER[how]
    tamper(path, *statements)
    verdict = found(path)
    assert (verdict.ok, verdict.first_broken) == (False, seq)
    assert reason in str(verdict.reason)
    assert left(path)[-1].startswith("the tables")


@pytest.mark.parametrize(
    ("statement", "reason"),
    [
        ("DROP TRIGGER event_no_delete", "event_no_delete"),
        ("DROP INDEX event_batch", "event_batch"),
    ],
)
def test_the_ledger_s_own_parts_are_checked_too(path: Path, statement: str, reason: str) -> None:
    tamper(path, statement, drop=False)
    assert reason in str(found(path).reason)


def test_a_tail_that_was_cut_off_is_found_by_the_mark(path: Path) -> None:
    tamper(path, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
    assert "it ends at event" in str(found(path).reason)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET at = '2027-01-01T10:00:00.000Z' WHERE seq = 9",
        "DELETE FROM event WHERE seq = 3",
        "UPDATE addition SET lot = 'X' WHERE name = 'salt'",
        "DELETE FROM node",
    ],
)
def test_what_is_not_checked_is_said(path: Path, statement: str) -> None:
    """It would be found by a whole verification, and is not by this one."""
    tamper(path, statement)
    assert not checked(path).ok
    assert found(path).ok
    with open_reader(path) as db:
        (stands,) = db.execute("SELECT hash FROM event WHERE seq = 9").fetchone()
    assert left(path) == [
        f"events 1 to 9: the last of them, hash {head_text(stands)}, is taken as it stands",
        "the tables, the hash tree and the state that the events make",
    ]
    assert left(path, 2)[0].startswith("event 1: ")
    assert len(left(path, 1)) == 1


def test_an_event_that_nobody_can_read_is_found(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a right hash, and of no kind."""

    def refused(kind: str, body: dict[str, Any]) -> Any:
        raise ValueError("no such kind")

    monkeypatch.setattr("station.ledger.records.from_body", refused)
    assert f"event {SINCE} cannot be read" in str(found(path).reason)


def test_of_the_first_event_too_only_the_hash_is_taken(path: Path) -> None:
    tamper(path, "UPDATE event SET at = '2027-01-01' WHERE seq = 1")
    assert (found(path, 2).ok, found(path, 1).first_broken) == (True, 1)


def test_sqlite_s_own_check_is_made_too(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    damage = Broken(None, "the file is damaged: a page is used twice")
    monkeypatch.setattr("station.ledger.since.file_broken", lambda db: damage)
    assert found(path).reason == damage.reason


def test_how_far_it_is_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("station.ledger.since.STEP", 5)
    seen: list[int] = []
    with open_reader(path) as db:
        verify_since(db, SINCE, seen.append)
        assert verify(db).ok
    assert seen[:2] == [10, 15]


def test_the_command_says_what_it_did_not_check(path: Path) -> None:
    done = station("ledger", "verify", "--since", "10", "--ledger", str(path))
    assert done.returncode == 0
    assert "is whole as far as it was checked" in done.stdout
    assert done.stdout.count("  NOT checked: ") == 2
    told = station("ledger", "verify", "--since", "10", "--ledger", str(path), "--json")
    assert json.loads(told.stdout)["not_checked"] == left(path)
    whole = station("ledger", "verify", "--ledger", str(path), "--json")
    assert "not_checked" not in json.loads(whole.stdout)
    none = station("ledger", "verify", "--since", "999", "--ledger", str(path))
    assert (none.returncode, "there is no event 999" in none.stderr) == (3, True)
    for more in (("--resume",), ("--head", "a65e 8c59 0b1f 77d2")):
        both = station("ledger", "verify", "--since", "10", *more, "--ledger", str(path))
        assert (both.returncode, "leave all but one out" in both.stderr) == (2, True)
