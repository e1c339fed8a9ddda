"""A copy a weekday on another disk: it replaces last week's, and nothing else."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from station.cli.ledger import ledger
from station.ledger import backup as backups
from station.ledger.backup import last_backup, see_folder, weekly
from station.ledger.book import LedgerError
from station.ledger.reading import open_reader
from tests.ledger.ledgers import AT, checked, note, opened, tamper

MONDAY, SUNDAY = AT, "2026-12-06T23:59:59.000Z"
HEADS = "a-heads.txt"


@pytest.fixture
def stick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that counts as another disk."""
    place = tmp_path / "stick"
    place.mkdir()
    monkeypatch.setattr(backups, "device", lambda path: path == place)
    return place


def test_each_weekday_has_its_copy_and_the_next_week_takes_its_place(
    path: Path, stick: Path
) -> None:
    first, verdict = weekly(path, stick, MONDAY)
    assert (first.name, verdict.ok) == ("a-monday.ledger", True)
    assert weekly(path, stick, SUNDAY)[0].name == "a-sunday.ledger"
    book = opened(path)
    book.append(note(), AT)
    book.close()
    again, _ = weekly(path, stick, "2026-12-07T00:00:00.000Z")
    assert again == first
    assert checked(first).events == checked(path).events == verdict.events + 1
    assert {p.name for p in stick.iterdir()} == {"a-monday.ledger", "a-sunday.ledger", HEADS}
    last = last_backup(path)
    assert last is not None and last.file == str(first.resolve())


def test_the_head_of_each_backup_stays_on_the_stick_and_is_found_in_the_ledger(
    path: Path, stick: Path
) -> None:
    """The copy of that day is gone a week later; what was cut off since is noticed by its line."""
    book = opened(path)
    _, first = weekly(path, stick, MONDAY)
    book.append(note(), AT)
    book.close()
    _, second = weekly(path, stick, "2026-12-07T00:00:00.000Z")
    lines = (stick / HEADS).read_text().splitlines()
    assert lines == [
        f"{MONDAY}  {first.events} events  head {first.head}",
        f"2026-12-07T00:00:00.000Z  {second.events} events  head {second.head}",
    ]

    def asked() -> list[int]:
        heads = [line.split("head ")[1] for line in lines]
        words = [["verify", "--head", head, "--ledger", str(path)] for head in heads]
        return [CliRunner().invoke(ledger, each).exit_code for each in words]

    assert asked() == [0, 0]
    path.with_name(f"{path.name}.head").unlink()
    tamper(path, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
    cut = opened(path)
    cut.close()
    assert asked() == [0, 1]


def test_a_list_of_heads_that_cannot_be_written_is_told(path: Path, stick: Path) -> None:
    (stick / HEADS).mkdir()
    with pytest.raises(LedgerError, match="cannot be written: Is a directory"):
        weekly(path, stick, MONDAY)


def test_a_copy_of_the_same_event_is_replaced(path: Path, stick: Path) -> None:
    weekly(path, stick, MONDAY)
    assert weekly(path, stick, MONDAY)[1].ok


def longer(path: Path, copy: Path) -> None:
    """The ledger went back to an earlier day."""
    book = opened(path)
    book.append(note(), AT)
    book.close()
    with open_reader(path) as db:
        backups.copy_whole(db.conn, copy)
    tamper(path, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")


def another(path: Path, copy: Path) -> None:
    book = opened(path.with_name("other"))
    book.close()
    with open_reader(path.with_name("other")) as db:
        backups.copy_whole(db.conn, copy)


def forked(path: Path, copy: Path) -> None:
    """As long, of the same ledger, and another last event."""
    longer(path, copy)
    path.with_name(f"{path.name}.head").unlink()
    book = opened(path)
    book.append(note("another"), AT)
    book.close()


OTHERS = {
    "longer": longer,
    "another": another,
    "forked": forked,
    "no ledger": lambda path, copy: copy.write_text("a letter"),
    "empty": lambda path, copy: copy.touch(),
}


@pytest.mark.parametrize("how", OTHERS)
def test_a_file_that_is_no_earlier_copy_stays_as_it_is(path: Path, stick: Path, how: str) -> None:
    copy = stick / "a-monday.ledger"
    OTHERS[how](path, copy)
    content = copy.read_bytes()
    with pytest.raises(LedgerError, match="no earlier copy of this ledger") as caught:
        weekly(path, stick, MONDAY)
    assert "move it" in caught.value.next
    assert copy.read_bytes() == content
    assert last_backup(path) is None
    assert [p.name for p in stick.iterdir()] == [copy.name]


def test_a_broken_ledger_takes_the_place_of_no_good_copy(path: Path, stick: Path) -> None:
    copy, _ = weekly(path, stick, MONDAY)
    content, note_of = copy.read_bytes(), last_backup(path)
    tamper(path, "DELETE FROM lot")
    assert not weekly(path, stick, MONDAY)[1].ok
    assert (copy.read_bytes(), last_backup(path)) == (content, note_of)
    assert {p.name for p in stick.iterdir()} == {copy.name, HEADS}
    assert len((stick / HEADS).read_text().splitlines()) == 1


def test_what_a_copy_that_was_cut_off_left_is_no_obstacle(path: Path, stick: Path) -> None:
    (stick / "a-monday.ledger.new").write_text("half")
    (stick / "a-monday.ledger.new.part").write_text("half")
    assert weekly(path, stick, MONDAY)[1].ok
    assert {p.name for p in stick.iterdir()} == {"a-monday.ledger", HEADS}


def test_a_place_to_mount_on_that_is_empty_fills_no_disk(path: Path, tmp_path: Path) -> None:
    """The folder is there, the stick is not: it would be the ledger's own disk."""
    place = tmp_path / "mnt"
    with pytest.raises(LedgerError, match="there is no folder") as caught:
        weekly(path, place, MONDAY)
    place.mkdir()
    with pytest.raises(LedgerError, match="on the ledger's own disk") as own:
        weekly(path, place, MONDAY)
    assert caught.value.next == own.value.next == backups.PLUG_IN
    assert not list(place.iterdir())


def test_a_disk_that_gives_no_answer_is_told(
    path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failed(path: Path) -> int:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(backups, "device", failed)
    with pytest.raises(LedgerError, match="cannot be reached"):
        see_folder(path, stick)


def test_a_disk_that_takes_nothing_is_told(
    path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(self: Path, target: Path) -> Path:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(Path, "replace", refused)
    with pytest.raises(LedgerError, match="cannot be written: Read-only"):
        weekly(path, stick, MONDAY)
    assert not list(stick.iterdir())
