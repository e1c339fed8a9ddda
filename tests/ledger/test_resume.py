"""A verification that was interrupted goes on, and says what it left to the run before."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import msgspec
import pytest

from station.ledger import progress as progresses
from station.ledger import walk as walks
from station.ledger.book import Book, LedgerError
from station.ledger.checkpoint import encode
from station.ledger.progress import Progress, progress_path
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify
from tests.bench.years import years
from tests.ledger.ledgers import AT, BORN, note, opened, tamper
from tests.service.daemons import ROOT, station


class Interrupted(Exception):
    """Somebody pressed Ctrl-C."""


@pytest.fixture(autouse=True)
def often(monkeypatch: pytest.MonkeyPatch) -> None:
    """Progress every five events, written each time."""
    monkeypatch.setattr(walks, "STEP", 5)
    monkeypatch.setattr(progresses, "SAVES_S", 0.0)


@pytest.fixture
def long(tmp_path: Path) -> Path:
    """A ledger of some batches, one of them parked for good."""
    path = tmp_path / "long.ledger"
    book = Book.open(path, BORN, AT)
    years(book, 20, 3)
    book.close()
    return path


def run(path: Path, stop_at: int | None = None) -> tuple[Verdict, Progress]:
    """A run, interrupted once it is so far."""

    def seen(seq: int) -> None:
        if stop_at is not None and seq > stop_at:
            raise Interrupted

    progress = Progress(path, lambda: AT)
    with open_reader(path) as db:
        return verify(db, seen, progress), progress


def interrupted(path: Path, at: int) -> int:
    """The event up to which an interrupted run had come."""
    with pytest.raises(Interrupted):
        run(path, at)
    found = Progress(path, lambda: AT).read()
    assert found is not None and 0 < found.here.seq <= at
    return found.here.seq


@pytest.mark.parametrize("at", [5, 23, 60, 101])
def test_it_goes_on_where_it_was_and_finds_what_a_whole_run_finds(long: Path, at: int) -> None:
    with open_reader(long) as db:
        whole = verify(db)
    kept = interrupted(long, at)
    verdict, progress = run(long)
    assert (verdict, progress.since) == (whole, kept)
    assert progress.not_checked() == [
        f"events 1 to {kept} and what they make: an earlier run found them whole at {AT}"
    ]
    assert not progress_path(long).exists()
    again, fresh = run(long)
    assert (again, fresh.since, fresh.not_checked()) == (whole, None, [])


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET at = '2027-01-01T10:00:00.000Z' WHERE seq = 90",
        "UPDATE addition SET lot = 'X' WHERE batch = (SELECT max(batch) FROM batch)",
        "DELETE FROM addition WHERE batch = (SELECT min(batch) FROM batch)",
        "DELETE FROM node WHERE place = 0",
        "UPDATE leaf SET digest = zeroblob(32) WHERE place = 1",
    ],
)
def test_what_is_wrong_afterwards_or_in_number_is_found_all_the_same(
    long: Path, statement: str
) -> None:
    interrupted(long, 50)
    tamper(long, statement)
    verdict, progress = run(long)
    assert progress.since is not None and not verdict.ok
    assert not progress_path(long).exists()


def test_what_the_run_before_had_checked_is_not_looked_at_again_and_that_is_said(
    long: Path,
) -> None:
    interrupted(long, 50)
    tamper(long, "UPDATE event SET at = '2027-01-01T10:00:00.000Z' WHERE seq = 3")
    verdict, progress = run(long)
    assert verdict.ok and progress.not_checked()
    verdict, _ = run(long)
    assert verdict.first_broken == 3


@pytest.mark.parametrize("how", ["event", "code", "ledger", "rotten"])
def test_a_note_that_does_not_fit_is_left_aside(long: Path, how: str) -> None:
    kept = interrupted(long, 50)
    file = progress_path(long)
    if how == "event":
        tamper(long, f"UPDATE event SET hash = zeroblob(32) WHERE seq = {kept}")
    elif how == "rotten":
        file.write_bytes(file.read_bytes()[:-1])
    else:
        found = Progress(long, lambda: AT).read()
        assert found is not None
        here = msgspec.structs.replace(found.here, **{how: bytes(32)})
        file.write_bytes(encode(msgspec.structs.replace(found, here=here)))
    verdict, progress = run(long)
    assert progress.since is None
    assert verdict.first_broken == (kept if how == "event" else None)


def test_events_that_came_meanwhile_are_verified_too(long: Path) -> None:
    interrupted(long, 50)
    book = opened(long)
    book.append(note(), AT)
    book.close()
    verdict, progress = run(long)
    assert (verdict.ok, verdict.events, progress.since is not None) == (True, book.seq, True)


def test_a_difference_that_was_seen_is_not_left_behind(long: Path) -> None:
    """The first batch's rows are wrong: nothing after them is noted as found whole."""
    tamper(long, "UPDATE addition SET lot = 'X' WHERE batch = (SELECT min(batch) FROM batch)")
    with pytest.raises(Interrupted):
        run(long, 100)
    verdict, _ = run(long)
    assert "lot is 'X'" in str(verdict.reason)


def test_it_is_written_now_and_then_and_not_all_the_time(
    long: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(progresses, "SAVES_S", 10.0)
    now_s, there = 0.0, []
    progress = Progress(long, lambda: AT, lambda: now_s)

    def seen(seq: int) -> None:
        nonlocal now_s
        there.append((now_s, progress_path(long).exists()))
        now_s += 5.0

    with open_reader(long) as db:
        verify(db, seen, progress)
    assert there[:3] == [(0.0, False), (5.0, False), (10.0, True)]


def test_a_folder_that_takes_no_note_is_told_at_once(long: Path) -> None:
    progress_path(long).with_name("long.ledger.proven.new").mkdir()
    with pytest.raises(LedgerError, match="cannot be written") as caught:
        run(long)
    assert caught.value.next == "verify without --resume"


def test_a_note_that_cannot_be_written_on_the_way_ends_no_verification(long: Path) -> None:
    progress_path(long).mkdir()
    assert run(long)[0].ok


_SLOW = """
import sys, time
from station.ledger import progress, walk
walk.STEP, progress.SAVES_S = 5, 0.0
plain = progress.Progress.note
progress.Progress.note = lambda self, *given: (plain(self, *given), time.sleep(0.02))
from station.cli import main
main(sys.argv[1:])
"""


def test_a_verification_that_is_killed_goes_on_by_the_command(long: Path) -> None:
    words = ("ledger", "verify", "--resume", "--ledger", str(long))
    process = subprocess.Popen([sys.executable, "-c", _SLOW, *words], cwd=ROOT)
    while not progress_path(long).exists():
        assert process.poll() is None
        time.sleep(0.005)
    process.kill()
    assert process.wait() == -signal.SIGKILL
    done = station(*words)
    assert done.returncode == 0
    assert "is whole as far as it was checked" in done.stdout
    assert "NOT checked: events 1 to " in done.stdout
    again = station(*words)
    assert (again.returncode, "NOT checked" in again.stdout) == (0, False)
