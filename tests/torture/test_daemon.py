"""The running daemon: held up, stopped, its clock set, its file replaced. Nothing acknowledged is
lost or doubled, nothing refused is there, and each case has a sentence with the next step.

STATION_TORTURE_S says for how many seconds a lock is held and the daemon is stopped.
"""

import asyncio
import os
import random
import shutil
import signal
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from station.client import ClientError
from station.demo.stage import Stage
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.records import read_events
from station.wire import Change, Event
from tests.ledger.ledgers import checked
from tests.service.daemons import Daemon, station
from tests.service.robot import Robot, nothing_doubled, nothing_lost

SECONDS = float(os.environ.get("STATION_TORTURE_S", "3"))
SEED = int(os.environ.get("STATION_SEED", "1"))

pytestmark = [pytest.mark.slow, pytest.mark.timeout(120 + 12 * SECONDS)]


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    daemon = Daemon(tmp_path).start()
    yield daemon
    daemon.stop()


class Notes:
    """Notes that are told to the station, and what it answered."""

    def __init__(self, daemon: Daemon) -> None:
        self._daemon = daemon
        self.acknowledged: list[str] = []
        self.refused: list[ClientError] = []

    def tell(self, text: str) -> None:
        try:
            self._daemon.call("note", text=text)
        except ClientError as error:
            self.refused.append(error)
        else:
            self.acknowledged.append(text)

    def tell_until_taken(self, text: str) -> None:
        """As a person does: again, as long as it is refused."""
        end = time.monotonic() + 20
        while text not in self.acknowledged:
            assert time.monotonic() < end, self.refused[-1].sentence
            self.tell(text)
            time.sleep(0.1)

    def judge(self) -> None:
        """Stop the station, and hold its ledger against what was answered."""
        assert self._daemon.stop() == 0
        assert checked(self._daemon.ledger).ok
        with open_reader(self._daemon.ledger) as db:
            texts = [r.body["text"] for r in read_events(db) if r.kind == "noted"]
        assert texts == self.acknowledged
        for error in self.refused:
            assert error.reason == "blocked-ledger" and str(error) and error.next


def test_a_lock_that_another_program_holds_for_long_blocks_and_costs_nothing_else(
    daemon: Daemon,
) -> None:
    notes = Notes(daemon)
    notes.tell("before")
    with closing(sqlite3.connect(daemon.ledger, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        end = time.monotonic() + SECONDS
        while time.monotonic() < end:
            notes.tell(f"meanwhile {len(notes.refused)}")
            assert daemon.call("state")["blocked"][:1] == ["ledger"]
    notes.tell_until_taken("afterwards")
    assert notes.acknowledged == ["before", "afterwards"]
    assert "another program holds the ledger" in notes.refused[0].sentence
    notes.judge()


async def test_a_daemon_that_is_stopped_and_goes_on_takes_no_weight_twice_and_none_that_was_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As by a debugger, or a machine that sleeps: the robot pours, lifts and tips meanwhile."""
    seen: dict[int, Event] = {}
    stage, chance = Stage(tmp_path, speed=20, seed=5), random.Random(SEED)

    def watch(change: Change) -> None:
        seen.update({event.seq: event for event in change.events})

    stage.on_change = watch
    stops = 0
    async with stage:
        robot = Robot(stage)
        await robot.vessels()

        async def stopping() -> None:
            nonlocal stops
            assert stage._daemon is not None
            while stops < 6:
                await asyncio.sleep(chance.uniform(0.3, 1.5))
                stage._daemon.send_signal(signal.SIGSTOP)
                await asyncio.sleep(SECONDS / 6 if SECONDS < 30 else SECONDS)
                stage._daemon.send_signal(signal.SIGCONT)
                stops += 1

        task = asyncio.create_task(stopping())
        end = time.monotonic() + 60 + 8 * SECONDS
        while not task.done() or stage.shown.phase != "done":
            assert time.monotonic() < end, f"stuck: {robot.holds} {stage.shown}"
            await robot.step()
        await task
    assert checked(stage.ledger).ok
    with open_reader(stage.ledger) as db:
        records = list(read_events(db))
    nothing_lost(records, seen, robot)
    nothing_doubled(records)
    with capsys.disabled():
        print(f"seed {SEED}: stopped {stops} times, {len(records)} events")


def test_a_clock_that_jumps_by_years_and_a_zone_that_changes_leave_order_and_record_whole(
    tmp_path: Path,
) -> None:
    off, daemon = tmp_path / "off", Daemon(tmp_path)
    daemon.command = [sys.executable, str(Path(__file__).with_name("set_clock.py")), str(off)]
    notes, told = Notes(daemon), []

    def set_clock(days: int) -> None:
        fresh = off.with_name("fresh")
        fresh.write_text(str(days))
        fresh.rename(off)  # the daemon looks at any moment

    for zone, days in (
        ("Pacific/Kiritimati", 3650), ("America/Adak", -9000), ("Asia/Kathmandu", 0)
    ):  # fmt: skip
        daemon.environment = {"TZ": zone}
        set_clock(0)
        daemon.start()
        batch = daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")["batch"]
        set_clock(days)
        notes.tell(f"{days} days off")
        told.append(datetime.now(UTC) + timedelta(days=days))
        assert daemon.call("state")["batch"] == batch
        daemon.call("abandon", reason="the clock was wrong")
        assert daemon.stop() == 0
    assert station("audit", "batch", batch, "--ledger", str(daemon.ledger)).returncode == 0
    notes.judge()
    assert not notes.refused
    with open_reader(daemon.ledger) as db:
        records = list(read_events(db))
    assert [record.seq for record in records] == list(range(1, len(records) + 1))
    noted = [record.at for record in records if record.kind == "noted"]
    for at, then in zip(noted, told, strict=True):
        assert at.endswith("Z")
        assert abs((datetime.fromisoformat(at) - then).total_seconds()) < 30
    batches = [record.batch for record in records if record.kind == "batch-opened"]
    assert len(batches) == len(set(batches)) == 3


def over(daemon: Daemon, other: Path) -> None:
    """Another ledger is put in its place, as `mv` does."""
    shutil.copy(other, daemon.folder / "copy")
    (daemon.folder / "copy").rename(daemon.ledger)


def into(daemon: Daemon, other: Path) -> None:
    """It is written over with another ledger, as `cp` does."""
    daemon.ledger.write_bytes(other.read_bytes())


def log_gone(daemon: Daemon, other: Path) -> None:
    """Somebody cleans up."""
    Path(f"{daemon.ledger}-wal").unlink()


REPLACED: dict[str, tuple[Callable[[Daemon, Path], None], str]] = {
    "moved over": (over, "was replaced by another file; a whole copy is saved as"),
    "copied into": (into, ""),  # shorter, or written to: whichever is seen first
    "log removed": (log_gone, "has lost its log"),
}


@pytest.mark.parametrize("how", REPLACED)
def test_a_file_replaced_under_the_daemon_takes_no_more_and_what_it_held_comes_back(
    tmp_path: Path, how: str
) -> None:
    (tmp_path / "other").mkdir()
    other = Daemon(tmp_path / "other").start()
    other.stop()
    daemon = Daemon(tmp_path).start()
    notes = Notes(daemon)
    for number in range(5):
        notes.tell(f"before {number}")
    if how == "copied into":  # nothing can be saved of that file: a copy of yesterday is at hand
        assert daemon.stop() == 0
        kept = {p: p.read_bytes() for p in (daemon.ledger, mark_path(daemon.ledger))}
        daemon.start()
    go, says = REPLACED[how]
    go(daemon, other.ledger)
    notes.tell("into nothing")
    assert "into nothing" not in notes.acknowledged
    shown: dict[str, Any] = daemon.call("state")
    assert shown["blocked"][:1] == ["ledger"] and says in notes.refused[0].sentence
    assert shown["next"]
    if how == "moved over":
        (copy,) = tmp_path.glob("*.rescued-*")
        copy.rename(daemon.ledger)
    elif how == "copied into":
        daemon.stop()
        for path, content in kept.items():
            path.write_bytes(content)
        for end in ("-wal", "-shm"):
            Path(f"{daemon.ledger}{end}").unlink(missing_ok=True)
        daemon.start()
    notes.tell_until_taken("afterwards")
    notes.judge()
