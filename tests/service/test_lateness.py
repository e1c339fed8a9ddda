"""How late a scale is, measured through the real daemon and the command line."""

import asyncio
import json
import sys
from pathlib import Path

import pytest

from drivers.simulator import BenchScale
from station.client import Client
from station.demo.stage import KINDS, Stage


@pytest.mark.timeout(60)
def test_a_weight_set_down_three_times_tells_the_window(tmp_path: Path) -> None:
    """The fine scale of the demo averages half a second; at four times life's speed every figure is
    the demo's own clock's."""
    asyncio.run(_measure(tmp_path))


async def _measure(folder: Path) -> None:
    async with Stage(folder, 4.0, 1) as stage:
        scale: BenchScale = stage.scales["fine"].scale
        words = ["-m", "station", "scale", "lag", "fine", "--socket", str(stage.socket), "--json"]
        asked = await asyncio.create_subprocess_exec(
            sys.executable,
            *words,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.PIPE,
        )
        assert asked.stderr is not None
        assert b"Set a weight" in await asked.stderr.readline()
        while asked.returncode is None and await _still_asks(asked):
            scale.set_down("weight", 200.0)
            await stage.clock.sleep(2.5)
            scale.lift("weight")
            await stage.clock.sleep(2.5)
        assert asked.stdout is not None
        told = json.loads(await asked.stdout.read())
        assert "fine: boxcar, a window of 0." in told["answer"]
        await stage.until(lambda shown: shown.scales["fine"].window_s, "the lag is known")
        window_s = float(stage.shown.scales["fine"].window_s)
        assert KINDS["fine"].window_s - 0.05 < window_s < KINDS["fine"].window_s + 0.3
        with Client(stage.socket) as client:  # it is kept: a new watch is told the same
            assert client.call("state")["scales"]["fine"]["lag_since"] is not None


async def _still_asks(process: asyncio.subprocess.Process) -> bool:
    try:
        await asyncio.wait_for(process.wait(), 0.01)
    except TimeoutError:
        return True
    return False
