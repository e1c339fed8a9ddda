"""The list of batches says of each what its sheet says."""

import csv
import io
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from station.cli.period import one_day
from station.ledger.book import Book
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import BATCHES
from tests.ledger.ledgers import AT, BORN

NAMES = [batch for batch, *_ in BATCHES]


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Sets the bench's time zone."""

    def into(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield into  # type: ignore[misc]
    monkeypatch.undo()
    time.tzset()


def names(ledger: Path, *words: str) -> list[str]:
    return [row["batch"] for row in told(ledger, "list", *words)["batches"]]


def test_every_batch_is_listed_in_the_order_in_which_it_was_opened(kept: Path) -> None:
    assert names(kept) == NAMES


@pytest.mark.parametrize("batch", NAMES)
def test_a_listed_batch_says_what_its_sheet_says(kept: Path, batch: str) -> None:
    sheet = told(kept, "batch", batch)
    (row,) = [row for row in told(kept, "list")["batches"] if row["batch"] == batch]
    for key in ("formula", "revision", "opened_at", "state", "meat_g", "hold"):
        assert row[key] == sheet[key], key
    assert row["who"] == sheet["opened_by"]
    assert (row["salt_pct"], row["salt_at_least"]) == (
        sheet["salt_percent"]["actual"],
        sheet["salt_percent"]["at_least"],
    )


def test_states_holds_revisions_and_what_nobody_knows_are_on_the_list(kept: Path) -> None:
    rows = {row["batch"]: row for row in told(kept, "list")["batches"]}
    assert [rows[name]["state"] for name in NAMES] == [
        "closed", "closed", "abandoned", "abandoned", "closed", "closed", "additions",
    ]  # fmt: skip
    assert rows["261201-3"]["hold"] == ["nobody knows how much premix is in the mix"]
    assert [rows[name]["salt_at_least"] for name in NAMES] == [False] * 2 + [True] + [False] * 4
    assert [rows[name]["revision"] for name in NAMES] == [1] * 5 + [2] * 2
    assert [rows[name]["by_hand"] for name in NAMES] == [None, "garlic", *[None] * 5]


def test_the_text_says_at_least_by_hand_and_why_on_hold(kept: Path) -> None:
    text = ask(kept, "list").stdout
    assert "7 batches  SIMULATED" in text
    assert "at least 1.9859" in text
    assert "261201-3 ON HOLD: nobody knows how much premix is in the mix" in text
    assert "not \nverified" in text or "not verified" in text


def test_days_are_those_of_the_bench_and_the_last_one_is_whole(
    kept: Path, zone: Callable[[str], None]
) -> None:
    """261203-6 was opened at 23:00:01 UTC: at a bench two hours east of it, on the fourth."""
    zone("Etc/GMT-2")
    assert names(kept, "--from", "2026-12-03", "--to", "2026-12-03") == []
    assert names(kept, "--from", "2026-12-04", "--to", "2026-12-04") == ["261203-6", "261204-7"]
    zone("Etc/UTC")
    assert names(kept, "--from", "2026-12-03", "--to", "2026-12-03") == ["261203-6"]
    assert names(kept, "--from", "2026-12-04") == ["261204-7"]
    assert names(kept, "--to", "2026-11-30") == ["261130-1", "261130-2"]


def test_a_day_on_which_the_clock_is_set_is_as_long_as_it_was(zone: Callable[[str], None]) -> None:
    """Middle European time: 25 October 2026 has 25 hours, 29 March 23."""
    zone("CET-1CEST,M3.5.0,M10.5.0/3")
    day, span = one_day("2026-10-25")
    assert (span.begin, span.end) == ("2026-10-24T22:00:00.000Z", "2026-10-25T23:00:00.000Z")
    assert day == "2026-10-25"
    _, span = one_day("2026-03-29")
    assert (span.begin, span.end) == ("2026-03-28T23:00:00.000Z", "2026-03-29T22:00:00.000Z")


def test_days_without_a_batch_say_which_days_there_are(kept: Path) -> None:
    found = told(kept, "list", "--from", "2030-01-01")
    assert found["batches"] == []
    assert found["answer"] == "no batch was opened from 2030-01-01"
    assert found["next"].startswith("7 batches are on record, opened from 2026-1")
    text = ask(kept, "list", "--from", "2030-01-01")
    assert (text.exit_code, "next: 7 batches are on record" in text.stdout) == (0, True)


def test_a_ledger_without_a_batch_says_how_to_begin_one(tmp_path: Path) -> None:
    path = tmp_path / "new.ledger"
    Book.open(path, BORN, AT).close()
    found = told(path, "list")
    assert (found["batches"], found["answer"]) == ([], "no batch was opened")
    assert found["next"] == "no batch is on record yet: station open begins one"
    assert told(path, "day", "2026-11-30")["next"] == found["next"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--from", "30.11.2026"), "--from: found '30.11.2026', expected a day"),
        (("--to", "2026-02-30"), "--to: found '2026-02-30', expected a day"),
        (("--from", "2026-12-02", "--to", "2026-12-01"), "--from 2026-12-02 is after --to"),
        (("--to", "9999-12-31"), "is no day of a ledger"),
        (("--from", "0001-01-01"), "is no day of a ledger"),
        (("--json", "--csv"), "two forms of one answer"),
    ],
)
def test_a_question_that_is_none_ends_in_a_sentence(
    kept: Path, words: tuple[str, ...], says: str
) -> None:
    result = ask(kept, "list", *words)
    assert (result.exit_code, says in result.stderr, "next:" in result.stderr) == (2, True, True)


def test_one_day_from_and_to_is_no_mistake(kept: Path) -> None:
    assert ask(kept, "list", "--from", "2026-12-01", "--to", "2026-12-01").exit_code == 0


def test_csv_has_a_row_a_batch_stamped_and_with_the_time_at_the_bench(
    kept: Path, zone: Callable[[str], None]
) -> None:
    zone("Etc/GMT-2")
    rows = list(csv.DictReader(io.StringIO(ask(kept, "list", "--csv").stdout)))
    assert [row["batch"] for row in rows] == NAMES
    assert rows[0]["opened_at"] == "2026-11-30 10:00:01+02:00"
    assert rows[2]["hold"] == "nobody knows how much premix is in the mix"
    assert (rows[0]["by_hand"], rows[1]["by_hand"]) == ("", "garlic")
    assert {row["simulated"] for row in rows} == {"SIMULATED"}
