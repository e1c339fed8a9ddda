"""The ledger is copied when a batch ends, and the age of the last copy is told."""

import asyncio
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from station.ledger.backup import backup
from station.resources import Config
from station.service import copies
from station.service.copier import Done, copied
from station.service.copies import _copied, told
from station.settings import load_settings
from station.tomlfile import FileMistakes
from tests.ledger.ledgers import AT, checked, tamper, write
from tests.service.daemons import ROOT, Daemon, station

pytestmark = pytest.mark.slow

BUNDLED = ROOT / "config" / "station.toml"
THEN = datetime.fromisoformat(AT)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A folder on another disk than the ledger's."""
    memory = Path("/dev/shm")
    if not memory.is_dir() or memory.stat().st_dev == tmp_path.stat().st_dev:
        pytest.skip("there is no second disk: /dev/shm is the temporary folder's own")
    place = Path(tempfile.mkdtemp(dir=memory))
    yield place
    shutil.rmtree(place)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A ledger of one batch."""
    write(tmp_path / "a.ledger")
    return tmp_path / "a.ledger"


def until(daemon: Daemon, wanted: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    for _ in range(400):
        found: dict[str, Any] = daemon.call("state")["ledger"]["backup"]
        if wanted(found):
            return found
        time.sleep(0.05)
    raise AssertionError((daemon.folder / "log").read_text())


def a_batch(daemon: Daemon) -> None:
    daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")
    daemon.call("abandon", reason="a test")


def test_a_batch_that_ends_is_copied_to_the_other_disk_and_its_age_is_told(
    tmp_path: Path, disk: Path
) -> None:
    daemon = Daemon(tmp_path, f'simulated = true\nbackup_to = "{disk}"\nbackup_days = 7')
    daemon.start()
    try:
        found = until(daemon, lambda told: bool(told["says"]))
        assert (found["at"], found["says"]) == (None, "there is no backup of the ledger yet")
        shown = station("state", "--socket", str(daemon.socket)).stdout
        assert f"backup   | {found['says']} -> {found['next']}" in shown and found["next"]
        a_batch(daemon)
        found = until(daemon, lambda told: told["at"] is not None)
        assert (found["days"], found["says"], found["next"]) == (0, "", "")
        shown = station("state", "--socket", str(daemon.socket)).stdout
        assert f"backup   | the last good one is 0 days old, of {found['at']}" in shown
        (copy,) = disk.glob("*.ledger")
        verdict = checked(copy)
        assert (verdict.ok, verdict.events) == (True, daemon.call("state")["ledger"]["seq"])
    finally:
        assert daemon.stop() == 0


def test_a_disk_that_is_not_there_stops_nothing_and_is_told_until_a_copy_is_made(
    tmp_path: Path, disk: Path
) -> None:
    place = disk / "stick"
    daemon = Daemon(tmp_path, f'simulated = true\nbackup_to = "{place}"').start()
    try:
        until(daemon, lambda told: told["says"] == "")
        a_batch(daemon)
        found = until(daemon, lambda told: bool(told["says"]))
        assert found["says"] == f"no backup was made: there is no folder {place}"
        assert "plug the backup disk in" in found["next"]
        doctor = station("doctor", "--config", str(daemon.config), "--ledger", str(daemon.ledger),
                         "--socket", str(daemon.socket))  # fmt: skip
        assert f"MEND  backup disk: there is no folder {place}" in doctor.stdout
        place.mkdir()
        a_batch(daemon)
        until(daemon, lambda told: told["says"] == "" and told["at"] is not None)
    finally:
        assert daemon.stop() == 0
    assert (daemon.folder / "log").read_text().count("no backup was made") == 1


async def test_a_station_that_stops_while_it_copies_ends_the_copy_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is asked to first, so that it can remove what is half written."""
    program, began = tmp_path / "program", tmp_path / "began"
    program.write_text(
        f"#!/bin/sh\ntrap 'echo cleaned >> {began}; exit' TERM\n"
        f"echo began >> {began}\nsleep 30 >/dev/null 2>&1 & wait\n"
    )
    program.chmod(0o755)
    monkeypatch.setattr(copies.sys, "executable", str(program))
    copying = asyncio.ensure_future(_copied(tmp_path / "a.ledger", str(tmp_path), AT))
    while not began.exists():  # noqa: ASYNC110 - another process makes it
        await asyncio.sleep(0.01)
    copying.cancel()
    await asyncio.gather(copying, return_exceptions=True)
    assert began.read_text() == "began\ncleaned\n"


def test_a_copier_that_is_asked_to_end_leaves_no_half_of_a_file(path: Path, disk: Path) -> None:
    code = (
        "import sys, time; from station.ledger import backup; from station.service import copier\n"
        "def slow(db): print('copied', flush=True); time.sleep(30)\n"
        "backup.verify = slow\n"
        "copier.main()"
    )
    words = [sys.executable, "-c", code, str(path), str(disk), AT]
    with subprocess.Popen(words, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout is not None and process.stdout.readline() == b"copied\n"
        assert list(disk.iterdir())
        process.terminate()
        assert process.wait() == 143
    assert not list(disk.iterdir())


async def test_a_copier_that_is_killed_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "program"
    program.write_text("#!/bin/sh\nkill -9 $$\n")
    program.chmod(0o755)
    monkeypatch.setattr(copies.sys, "executable", str(program))
    done = await _copied(tmp_path / "a.ledger", str(tmp_path), AT)
    assert done.sentence == f"copying to {tmp_path} ended with status -9" and done.next


def test_where_no_folder_is_named_nothing_is_copied(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    try:
        a_batch(daemon)
        assert daemon.call("state")["ledger"]["backup"] == {
            "at": None, "days": None, "says": "", "next": "",
        }  # fmt: skip
        assert "backup" not in station("state", "--socket", str(daemon.socket)).stdout
        where = ("--config", str(daemon.config), "--ledger", str(daemon.ledger))
        refused = station("ledger", "backup", *where)
        assert (refused.returncode, "has no backup_to" in refused.stderr) == (2, True)
    finally:
        daemon.stop()


def test_the_command_without_a_file_copies_to_the_folder_of_the_settings(
    tmp_path: Path, disk: Path
) -> None:
    """What the timer runs."""
    daemon = Daemon(tmp_path, f'simulated = true\nbackup_to = "{disk}"').start()
    daemon.stop()
    where = ("--config", str(daemon.config), "--ledger", str(daemon.ledger))
    done = station("ledger", "backup", *where)
    (copy,) = disk.glob("*.ledger")
    assert (done.returncode, f"{copy} (SIMULATED) is whole" in done.stdout) == (0, True)
    tamper(daemon.ledger, "DELETE FROM node")
    broken = station("ledger", "backup", *where)
    assert broken.returncode == 1
    assert f"{daemon.ledger} (SIMULATED) is BROKEN" in broken.stdout
    assert checked(copy).ok


@pytest.mark.parametrize(
    ("most", "hours", "says"),
    [
        (7, 7 * 24, ""),
        (7, 7 * 24 + 1, "the last backup is 7 days old"),
        (7, 24 * 9.5, "the last backup is 9 days old"),
        (None, 9000, ""),
        (7, -5, ""),
    ],
)
def test_the_display_hears_of_a_backup_that_is_older_than_allowed(
    path: Path, tmp_path: Path, most: int | None, hours: float, says: str
) -> None:
    settings = load_settings(_config(tmp_path, f"backup_days = {most}" if most else ""))
    assert backup(path, tmp_path / "copy", AT).ok
    found = told(path, settings, Done(), THEN + timedelta(hours=hours))
    assert (found.at, found.days) == (AT, max(int(hours / 24), 0))
    assert (found.says, bool(found.next)) == (says, bool(says))


def test_a_copy_that_failed_is_told_before_the_age(path: Path, tmp_path: Path) -> None:
    settings = load_settings(_config(tmp_path, "backup_days = 7"))
    found = told(path, settings, Done(sentence="there is no folder X", next="plug it in"), THEN)
    assert (found.says, found.next) == ("no backup was made: there is no folder X", "plug it in")


def test_a_broken_ledger_is_told_as_one_by_the_copier(
    path: Path, tmp_path: Path, disk: Path
) -> None:
    tamper(path, "DELETE FROM lot")
    done = copied(path, disk, datetime.now(UTC).isoformat())
    assert "is broken" in done.sentence and done.next and not done.file


@pytest.mark.parametrize("folder", ["stick", "./stick", "~/stick"])
def test_a_folder_that_hangs_on_where_the_station_was_started_is_refused(
    tmp_path: Path, folder: str
) -> None:
    with pytest.raises(FileMistakes, match="backup_to"):
        load_settings(_config(tmp_path, f'backup_to = "{folder}"'))


def _config(folder: Path, line: str) -> Config:
    """The packaged bench with a line more."""
    text = BUNDLED.read_text(encoding="utf-8")
    place = folder / "settings"
    place.mkdir()
    (place / "station.toml").write_text(f"{line}\n{text}", encoding="utf-8")
    return Config(place)
