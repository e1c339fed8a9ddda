"""A start from a checkpoint: it fits or is left aside, and is held against the events behind it."""

import asyncio
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from station.batch.evolve import evolve
from station.batch.state import Station, Vessel
from station.ledger.book import Book, LedgerError
from station.ledger.checkpoint import (
    Checkpoint,
    checkpoint_path,
    decode,
    encode,
    read_checkpoint,
    write_checkpoint,
)
from station.service import behind
from station.service.behind import Behind
from station.service.writer import Writer
from tests.bench.years import stories, years
from tests.ledger.ledgers import AT, BORN, a_batch, checked, note, opened, tamper

CHANGED = "UPDATE event SET at = '2027-01-01T10:00:00.000Z' WHERE seq = 7"

COLUMNS = "batch, formula, revision, opened_at, who, state, meat_g, meat_text, simulated"


@pytest.fixture
def kept(path: Path) -> Checkpoint:
    """The checkpoint beside a ledger that was opened and closed."""
    opened(path).close()
    kept = read_checkpoint(path)
    assert kept is not None
    return kept


def _same(station: Station) -> None:
    there = Checkpoint(b"l", 1, b"h", b"c", station)
    assert decode(encode(there), Checkpoint) == there


def test_every_state_of_a_batch_and_of_the_years_comes_back_as_it_was() -> None:
    for batch in (a_batch(), *([("b-1", e) for p in s.appends for e in p] for s in stories()[0])):
        station = Station()
        for name, event in batch:
            station = evolve(station, event, AT, name)
            _same(station)


def test_a_start_from_a_checkpoint_stands_where_a_whole_one_does(path: Path) -> None:
    book = opened(path)
    assert book.start is None
    book.checkpoint()
    book.append(note(), AT)
    kept, seq, station = read_checkpoint(path), book.seq, book.station
    book._kept = book.seq  # the power goes before the next checkpoint
    book.close()
    again = opened(path)
    assert kept is not None
    assert again.start == kept
    assert (again.seq, again.station, kept.seq) == (seq, station, seq - 1)
    again.close()


def test_a_ledger_that_is_just_born_stands_where_its_event_says(tmp_path: Path) -> None:
    path = tmp_path / "new.ledger"
    opened(path).close()
    born = read_checkpoint(path)
    assert born is not None
    assert _found(path, born).broken is None


@pytest.mark.parametrize(
    "other",
    [
        lambda k: msgspec.structs.replace(k, code=b"\0" * 32),
        lambda k: msgspec.structs.replace(k, ledger=b"\0" * 32),
        lambda k: msgspec.structs.replace(k, head=b"\0" * 32),
        lambda k: msgspec.structs.replace(k, seq=k.seq - 1),
        lambda k: msgspec.structs.replace(k, seq=k.seq + 1),
        lambda k: msgspec.structs.replace(k, seq=0),
    ],
    ids=["code", "ledger", "head", "before", "after", "none"],
)
def test_a_checkpoint_that_does_not_fit_is_left_aside(
    path: Path, kept: Checkpoint, other: Callable[[Checkpoint], Checkpoint]
) -> None:
    write_checkpoint(path, msgspec.structs.replace(other(kept), station=Station()))
    book = opened(path)
    assert (book.start, book.station) == (None, kept.station)
    book.close()
    assert read_checkpoint(path) == kept


@pytest.mark.parametrize("spoilt", [b"", b"x", b"\0" * 40])
def test_a_rotten_checkpoint_is_left_aside(path: Path, kept: Checkpoint, spoilt: bytes) -> None:
    file = checkpoint_path(path)
    file.write_bytes(file.read_bytes()[:-1] + spoilt)
    book = opened(path)
    assert (book.start, book.station) == (None, kept.station)
    book.close()


def test_the_events_after_a_checkpoint_are_checked_before_the_start(path: Path) -> None:
    book = opened(path)
    for _ in range(3):
        book.append(note(), AT)
    last = book._kept
    book._kept = book.seq
    book.close()
    tamper(path, f"UPDATE event SET body = replace(body, 'note', 'lie') WHERE seq = {book.seq - 1}")
    with pytest.raises(LedgerError, match=f"event {book.seq - 1} was changed"):
        opened(path)
    assert last is not None and last < book.seq - 1


def test_the_event_of_a_checkpoint_must_be_what_its_hash_covers(
    path: Path, kept: Checkpoint
) -> None:
    tamper(path, f"UPDATE event SET at = '2027-01-01T10:00:00.000Z' WHERE seq = {kept.seq}")
    with pytest.raises(LedgerError, match=f"event {kept.seq} was changed"):
        opened(path)


def test_a_checkpoint_that_cannot_be_written_stops_nothing(path: Path) -> None:
    book = opened(path)
    checkpoint_path(path).unlink()
    checkpoint_path(path).mkdir()
    book.append(note(), AT)
    book.close()
    checkpoint_path(path).rmdir()
    assert checked(path).ok


# behind the start


def _found(path: Path, start: Checkpoint) -> Behind:
    """A verification that has come to its end."""
    found = Behind(path, start)
    end = time.monotonic() + 30
    while found.unverified and found.broken is None:
        assert time.monotonic() < end
        time.sleep(0.01)
    found.stop()
    return found


def test_behind_the_start_a_whole_ledger_is_verified_to_its_end(
    path: Path, kept: Checkpoint
) -> None:
    found = _found(path, kept)
    assert (found.unverified, found.broken) == (0, None)


@pytest.mark.parametrize(
    ("statement", "reason"),
    [
        (CHANGED, "event 7 was changed"),
        ("DELETE FROM event WHERE seq = 7", "event 7 is missing"),
        ("UPDATE addition SET lot = 'X' WHERE name = 'salt'", "lot is 'X'"),
        ("DELETE FROM addition WHERE name = 'salt'", "rows of b-1"),
        (f"INSERT INTO batch ({COLUMNS}) SELECT 'x', {COLUMNS[7:]} FROM batch", "has 2 rows"),
        ("UPDATE projection SET writing = 1", "stand open for writing"),
        ("DROP INDEX event_batch", "index event_batch is missing"),
    ],
)
def test_behind_the_start_a_break_is_found(
    path: Path, kept: Checkpoint, statement: str, reason: str
) -> None:
    tamper(path, statement)
    found = _found(path, kept)
    assert found.broken is not None and reason in found.broken.sentence
    assert found.unverified


def test_behind_the_start_the_rows_of_a_batch_long_closed_are_held_against_its_events(
    tmp_path: Path,
) -> None:
    path = tmp_path / "two.ledger"
    book = opened(path)
    years(book, 8, 1)
    book.close()
    kept = read_checkpoint(path)
    assert kept is not None
    first = "(SELECT min(batch) FROM batch)"
    tamper(path, f"UPDATE addition SET lot = 'X' WHERE name = 'salt' AND batch = {first}")
    found = _found(path, kept)
    assert found.broken is not None and "lot is 'X'" in found.broken.sentence


def test_behind_the_start_a_forged_state_is_found(path: Path, kept: Checkpoint) -> None:
    lighter = {**kept.station.vessels}
    cup = lighter["cup 1"]
    lighter["cup 1"] = Vessel(cup.name, cup.empty_g - 10, cup.division_g)
    forged = msgspec.structs.replace(kept, station=replace(kept.station, vessels=lighter))
    found = _found(path, forged)
    assert found.broken is not None
    assert "do not make the state" in found.broken.sentence


def test_a_verification_is_stopped_wherever_it_is(
    path: Path, kept: Checkpoint, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(behind, "PAUSE_S", 60.0)
    found = Behind(path, kept)
    found.stop()
    assert not found._thread.is_alive()
    assert (found.unverified, found.broken) == (kept.seq, None)


def test_a_break_behind_the_start_stops_the_writing_and_the_next_start(
    path: Path, kept: Checkpoint
) -> None:
    tamper(path, CHANGED)

    async def played() -> list[str]:
        writer = Writer(path, BORN)
        await writer.open(AT)
        seen = []
        end = time.monotonic() + 30
        while writer._behind is not None and writer._behind.broken is None:
            assert time.monotonic() < end
            await asyncio.sleep(0.01)
        for work in (writer.append(note(), AT), writer.tend(), writer.reopen(AT), writer.open(AT)):
            with pytest.raises(LedgerError) as error:
                await work
            seen.append(error.value.sentence)
        await writer.close()
        return seen

    told = asyncio.run(played())
    assert told == [f"{path} is broken: event 7 was changed"] * 4
    assert not checkpoint_path(path).exists()
    with pytest.raises(LedgerError, match="event 7 was changed"):
        Book.open(path, BORN, AT)
