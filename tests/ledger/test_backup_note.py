"""How old the last good backup is."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from station.doctor.examining import _backup
from station.ledger.backup import backup, last_backup, note_path
from station.ledger.book import LedgerError
from tests.ledger.ledgers import AT, checked, tamper

THEN = datetime(2026, 11, 30, 10, tzinfo=UTC)


def test_a_good_backup_is_noted_beside_the_ledger(path: Path, tmp_path: Path) -> None:
    assert last_backup(path) is None
    assert backup(path, tmp_path / "copy", AT).ok
    last, verdict = last_backup(path), checked(path)
    assert last is not None
    assert (last.at, last.events, last.head) == (AT, verdict.events, verdict.head)
    assert last.file == str((tmp_path / "copy").resolve())


def test_a_backup_that_is_broken_or_failed_is_not_noted(path: Path, tmp_path: Path) -> None:
    backup(path, tmp_path / "copy", AT)
    with pytest.raises(LedgerError):
        backup(path, tmp_path / "copy", "2026-12-01T10:00:00.000Z")
    tamper(path, "DELETE FROM lot")
    assert not backup(path, tmp_path / "broken", "2026-12-01T10:00:00.000Z").ok
    last = last_backup(path)
    assert last is not None and last.at == AT


@pytest.mark.parametrize(
    ("most", "hours", "well"),
    [(7, 7 * 24, True), (7, 7 * 24 + 1, False), (1, 25, False), (None, 9000, True), (7, -5, True)],
)
def test_it_is_too_old_once_it_is_older_than_is_allowed(
    path: Path, tmp_path: Path, most: int | None, hours: int, well: bool
) -> None:
    backup(path, tmp_path / "copy", AT)
    found = _backup(path, most, THEN + timedelta(hours=hours))
    assert found.well is well
    assert f"{max(hours, 0) / 24:.1f} days old" in found.seen


NO_NOTES = [
    None,
    b"",
    b"{}",
    b"\xff",
    b'{"at":"x","events":1}',
    b'{"at":"x","events":1,"head":"","file":""}',
    b'{"at":"2026-11-30T10:00:00","events":1,"head":"","file":""}',
]


@pytest.mark.parametrize("content", NO_NOTES)
@pytest.mark.parametrize("most", [None, 7])
def test_where_none_is_noted_it_is_asked_for_only_if_it_is_wanted(
    path: Path, content: bytes | None, most: int | None
) -> None:
    if content is not None:
        note_path(path).write_bytes(content)
    found = _backup(path, most, THEN)
    assert (found.well, "no good backup" in found.seen) == (most is None, True)
