"""One batch is proved alone: what was changed, taken out, put in or renamed in it is found."""

import random
import shutil
import sqlite3
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest
from sqlite_utils.db import Database

from station.ledger import chain, paths, tree
from station.ledger.mark import read_mark
from station.ledger.paths import Alone, read_alone
from station.ledger.reading import open_reader
from station.ledger.repair import repair
from tests.ledger.ledgers import AT, checked, note, opened, tamper


def alone(path: Path, batch: str = "b-1") -> Alone:
    mark = read_mark(path)
    with open_reader(path) as db:
        return read_alone(db, batch, mark)


def of_batch(path: Path, which: int) -> int:
    with open_reader(path) as db:
        rows = db.execute("SELECT seq FROM event WHERE batch = 'b-1' ORDER BY seq").fetchall()
    return int(rows[which][0])


@pytest.fixture
def longer(path: Path) -> Path:
    """With another batch's event and one of none after the batch, so that its tail is inside."""
    book = opened(path)
    book.append([("b-2", note()[0][1])], AT)
    book.append(note(), AT)
    book.close()
    return path


def test_a_batch_is_proved_with_all_its_events_and_the_last_one(longer: Path) -> None:
    found = alone(longer)
    assert found.broken is None
    with open_reader(longer) as db:
        wanted = db.execute("SELECT seq FROM event WHERE batch IS NOT 'b-2' ORDER BY seq")
        assert [record.seq for record in found.records] == [row[0] for row in wanted]


@pytest.mark.parametrize("which", [0, 5, -1])
def test_a_changed_event_is_found(longer: Path, which: int) -> None:
    seq = of_batch(longer, which)
    tamper(longer, f"UPDATE event SET at = '2026-11-30T10:00:00.001Z' WHERE seq = {seq}")
    assert alone(longer).broken == f"event {seq} was changed"


@pytest.mark.parametrize("which", [0, 5, -1])
def test_an_event_taken_out_is_found(longer: Path, which: int) -> None:
    tamper(longer, f"DELETE FROM event WHERE seq = {of_batch(longer, which)}")
    assert alone(longer).broken == "the events of batch b-1 are not those that the ledger had"


def forge(path: Path, seq: int, batch: str | None) -> None:
    """The event under another batch's name, with a hash that is right for it."""
    with closing(sqlite3.connect(path)) as db:
        row = db.execute("SELECT prev, at, kind, body FROM event WHERE seq = ?", [seq]).fetchone()
    digest = chain.event_hash(row[0], seq, row[1], batch, row[2], row[3])
    name = "NULL" if batch is None else f"'{batch}'"
    tamper(path, f"UPDATE event SET batch = {name}, hash = x'{digest.hex()}' WHERE seq = {seq}")


@pytest.mark.parametrize("to", ["b-2", None])
def test_the_last_event_given_to_another_batch_is_found(longer: Path, to: str | None) -> None:
    forge(longer, of_batch(longer, -1), to)
    assert alone(longer).broken == "the events of batch b-1 are not those that the ledger had"


def test_an_event_put_in_is_found(longer: Path) -> None:
    forge(longer, of_batch(longer, -1) + 1, "b-1")
    assert alone(longer).broken == "the events of batch b-1 are not those that the ledger had"


def test_an_event_of_no_batch_that_is_gone_is_found(longer: Path) -> None:
    tamper(longer, "DELETE FROM event WHERE seq = 1")
    assert alone(longer).broken == "the events of no batch are not those that the ledger had"


def test_a_ledger_cut_after_the_batch_is_found(longer: Path) -> None:
    tamper(longer, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
    assert "does not end at event" in str(alone(longer).broken)


def test_a_tree_made_to_fit_what_was_changed_has_another_root(longer: Path) -> None:
    forge(longer, of_batch(longer, -1), "b-2")
    with closing(sqlite3.connect(longer, isolation_level=None)) as connection:
        db = Database(connection, execute_plugins=False)
        tree.rebuild(db)
    assert alone(longer).broken == "the events of batch b-1 are not those that the ledger had"


def test_without_a_root_elsewhere_nothing_is_proved(longer: Path) -> None:
    with open_reader(longer) as db:
        assert "no root" in str(read_alone(db, "b-1", None).broken)


def test_a_batch_that_is_not_there_is_not_proved(longer: Path) -> None:
    assert "has no leaf" in str(alone(longer, "b-9").broken)


@pytest.mark.parametrize(
    "knife", ["DELETE FROM node", "DELETE FROM leaf", "UPDATE leaf SET digest = zeroblob(32)"]
)
def test_a_wrong_tree_is_told_by_verify_and_made_anew_by_a_start_that_checks_all(
    longer: Path, knife: str
) -> None:
    tamper(longer, knife)
    assert checked(longer).reason == tree.OTHER
    longer.with_name(f"{longer.name}.state").unlink(missing_ok=True)
    opened(longer).close()
    assert checked(longer).ok and alone(longer).broken is None


def test_a_wrong_tree_is_mended_by_repair(longer: Path) -> None:
    tamper(longer, "DELETE FROM node")
    done = repair(longer, AT, "evidence")
    assert done is not None and done.whole and checked(longer).ok


@pytest.mark.parametrize("batches", [1, 2, 15, 16, 17, 255, 256, 257, 300])
def test_a_tree_grown_event_by_event_is_the_one_made_at_once(path: Path, batches: int) -> None:
    seed = random.Random(batches)
    events = [(f"b-{n}", sha256(f"{n}".encode()).digest()) for n in range(batches)]
    events += [(seed.choice(events)[0], seed.randbytes(32)) for _ in range(40)]
    made = tree.Leaves()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        db = Database(connection, execute_plugins=False)
        db.execute("DELETE FROM leaf")
        db.execute("DELETE FROM node")
        for batch, digest in events:
            tree.grow(db, [(batch, digest)])
            made.take(batch, digest)
        assert tree.difference(db, made) is None
        root = tree.stored_root(db)
        for _, name, count, digest in made.rows():
            found = tree.path_of(db, name)
            assert found is not None
            assert found.root(tree.Leaf(name, count, digest)) == root
            assert found.root(tree.Leaf(name, count + 1, digest)) != root


@pytest.mark.parametrize("version", [1, 4, 5])
def test_a_ledger_from_before_the_tree_gets_it_at_its_next_start(
    tmp_path: Path, version: int
) -> None:
    kept = Path(__file__).parent / "old" / f"v{version}.sqlite"
    old = Path(shutil.copy(kept, tmp_path / "old.ledger"))
    assert checked(old).ok and "no root" in str(alone(old).broken)
    opened(old).close()
    assert checked(old).ok
    mark = read_mark(old)
    with open_reader(old) as db:
        (name,) = db.execute("SELECT batch FROM event WHERE batch IS NOT NULL").fetchone()
        assert mark is not None and read_alone(db, name, mark).broken is None


def test_an_event_written_between_mark_and_ledger_is_no_doubt(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sheet that is asked for while the station weighs is not a verification of ten years."""
    before = read_mark(path)
    book = opened(path)
    book.append(note(), AT)
    after = book.mark
    marks = [before, before, after]
    monkeypatch.setattr(paths, "read_mark", lambda ledger: marks.pop(0))
    assert paths.read_settled(path, "b-1").broken is None
    book.close()
    monkeypatch.setattr(paths, "read_mark", lambda ledger: before)
    assert "does not end at event" in str(paths.read_settled(path, "b-1").broken)
