"""A cable that is pulled out and put back again and again: STATION_REPLUGS=1000 for a long run."""

import asyncio
import gc
import os
from dataclasses import replace
from pathlib import Path

import pytest

from drivers.link import PortSettings
from station.resources import Config
from station.service.channel import Channel
from station.service.clock import Clock
from station.settings import load_settings
from station.weighing import commands as do
from tests.drivers.test_link import Port
from tests.service.test_showing import a_desk

REPLUGS = int(os.environ.get("STATION_REPLUGS", "60"))
FRAME = b"\n 0G  " + b"     98.45" + b"g  \r"
LEAK = 50
"""So many objects more are no leak of one a replug."""


def descriptors() -> int:
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


def objects() -> int:
    gc.collect()
    return len(gc.get_objects())


async def test_replugs_leave_no_descriptor_no_object_and_the_state_as_it_was(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("CRITICAL", "station")  # what is logged is kept by the test's own handler
    clock = Clock(speed=100)
    desk, writer = await a_desk(tmp_path, clock)
    port = Port(tmp_path / "scale")
    settings = replace(
        load_settings(Config()).scales[0], port=PortSettings(str(port.name), 9600, "8N1")
    )
    channel = Channel(settings, clock, desk)
    await desk.submit(do.Note("before"))
    before = desk.station
    running = [asyncio.create_task(part) for part in (channel.run(), desk.run())]

    def up() -> bool:
        return "link" not in {t.reason for t in desk.sight().pans["fine"].troubles}

    async def until(wanted: bool) -> None:
        for _ in range(2000):
            if up() == wanted:
                return
            await asyncio.sleep(0.002)
        raise AssertionError(f"never {'up' if wanted else 'down'}")

    async def replug(times: int) -> None:
        for _ in range(times):
            port.plug()
            await until(True)
            port.send(FRAME)
            port.pull()
            await until(False)

    try:
        await until(False)
        await replug(max(20, REPLUGS // 5))
        had = descriptors(), objects()
        await replug(REPLUGS)
        assert descriptors() == had[0]
        assert objects() - had[1] < LEAK
        assert desk.station == before
        port.plug()
        await until(True)
        for _ in range(3000):
            port.send(FRAME)
            await asyncio.sleep(0.001)
            if desk.snapshot.scales["fine"].gross_g is not None:
                break
        assert desk.snapshot.scales["fine"].gross_g == "98.45"
    finally:
        for task in running:
            task.cancel()
        await asyncio.gather(*running, return_exceptions=True)
        await writer.close()
