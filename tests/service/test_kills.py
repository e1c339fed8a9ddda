"""SIGKILL at random moments of scripted batches: nothing acknowledged is lost, nothing doubled.

Half of the kills hit while a commit is under way. STATION_KILLS says how many there are.
"""

import asyncio
import os
import random
import sys
import time
from pathlib import Path

import pytest

from station.client import ClientError
from station.demo.stage import Stage
from station.ledger.book import read_events
from station.ledger.reading import open_reader
from station.ledger.verify import verify
from station.wire import Change, Event
from tests.service.robot import Robot, nothing_doubled, nothing_lost

pytestmark = pytest.mark.slow

KILLS = int(os.environ.get("STATION_KILLS", "20"))
SLOW_COMMIT = Path(__file__).with_name("slow_commit.py")


class Killer:
    """Kills the daemon and starts it again. A commit announces itself with "<" and its end with
    ">"; `in_commit` counts the kills after whose "<" no ">" came."""

    def __init__(self, stage: Stage, marks: int, seed: int) -> None:
        self._stage = stage
        self._marks = marks
        self._random = random.Random(seed)
        self.in_commit = 0
        self.kills = 0

    async def run(self, kills: int) -> None:
        """Kill so often, and then on until half of those kills hit a commit under way."""
        while self.kills < kills or self.in_commit < kills // 2:
            last = b""
            if self.kills % 2 or self.kills >= kills:
                self._drain()
                while not last.endswith(b"<"):
                    await asyncio.sleep(0.0005)
                    last = self._drain() or last
                await asyncio.sleep(self._random.uniform(0, 0.006))
            else:
                await asyncio.sleep(self._random.uniform(0.05, 1.0))
            await self._stage.kill()
            last = self._drain() or last
            self.kills += 1
            self.in_commit += last.endswith(b"<")
            await self._stage.start()

    def _drain(self) -> bytes:
        try:
            return os.read(self._marks, 4096)
        except BlockingIOError:
            return b""


@pytest.mark.timeout(60 + 6 * KILLS)
async def test_nothing_acknowledged_is_lost_and_nothing_doubled(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    read, write = os.pipe()
    os.set_blocking(read, False)
    os.set_inheritable(write, True)
    seen: dict[int, Event] = {}
    stage = Stage(tmp_path, speed=20, seed=5)
    stage.command = [sys.executable, str(SLOW_COMMIT), str(write)]
    stage.inherit = (write,)

    def watch(change: Change) -> None:
        seen.update({event.seq: event for event in change.events})

    stage.on_change = watch
    async with stage:
        robot, killer = Robot(stage), Killer(stage, read, seed=11)
        await robot.vessels()
        killing = asyncio.create_task(killer.run(KILLS))
        end = time.monotonic() + 40 + 5 * KILLS
        while not killing.done() or stage.shown.phase != "done":
            assert time.monotonic() < end, f"stuck: {robot.holds} {stage.shown}"
            await robot.step()
        await killing
    os.close(read)
    os.close(write)
    with open_reader(stage.ledger) as db:
        assert verify(db).ok
        records = list(read_events(db))
    assert len(seen) > KILLS
    nothing_lost(records, seen, robot)
    nothing_doubled(records)
    assert killer.in_commit >= KILLS // 2
    with capsys.disabled():
        print(f"{killer.kills} kills, {killer.in_commit} inside a commit")  # noqa: T201 - a figure


def test_the_error_of_a_dead_daemon_says_what_to_do(tmp_path: Path) -> None:
    stage = Stage(tmp_path, speed=1, seed=1)
    with pytest.raises(ClientError) as caught:
        asyncio.run(stage.say("state"))
    assert caught.value.next == "start it: station run"
