"""The stage: two simulated scales on ptys, the daemon as its own process, eyes on its socket."""

import asyncio
import os
import shutil
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from drivers.simulator import BenchScale, PtyScale, ScaleKind
from station.client import Client, ClientError
from station.resources import packaged
from station.service.clock import Clock
from station.wire import Change, read_change

LEDGER = "demo.ledger"
PATIENCE_S = 60.0
"""Seconds of the demo's clock after which something the story waits for will not come."""

KINDS = {
    "fine": ScaleKind(max_g=600, division_g=0.05, decimals=2, window_s=0.5, print_hz=10),
    "bench": ScaleKind(max_g=15_000, division_g=2, decimals=0, window_s=0.5, print_hz=10),
}

_STATION = """
name = "Fenwether Yard, bench 1"
authority = "us"
people = ["Ansel", "Brida"]
simulated = true
"""
_SCALE = """
[[scale]]
name = "{name}"
port = "{port}"
grammar = "sma-scp-0499"
max = "{max_g} g"
division = "{division_g} g"
class = "{accuracy}"
unit = "g"
sends = "continuous"
"""
_CLASSES = {"fine": "II", "bench": "III"}


class DemoError(RuntimeError):
    """The demo cannot go on; the message says what it waited for."""


class Stage:
    """Everything the demo needs, made in `folder` and taken down again; the ledger stays."""

    def __init__(self, folder: Path, speed: float, seed: int) -> None:
        self.folder = folder
        self.clock = Clock(speed)
        self.ledger = folder / LEDGER
        self.socket = folder / "station.sock"
        self.scales = {
            name: PtyScale(BenchScale(kind, seed + n), folder / f"port-{name}", self.clock)
            for n, (name, kind) in enumerate(KINDS.items())
        }
        self.shown = Change()
        self.command = [sys.executable, "-m", "station"]
        self.inherit: tuple[int, ...] = ()  # descriptors the daemon gets
        self.reads_s = 2.0
        """Seconds of the demo's clock in which somebody reads a caption, unless a key goes on."""
        self._go_on = asyncio.Event()
        self._reads = False
        self.on_change: Callable[[Change], None] = lambda change: None
        self._changed = asyncio.Event()
        self._daemon: asyncio.subprocess.Process | None = None
        self._follower: Client | None = None
        self._tasks: list[asyncio.Task[None]] = []

    async def __aenter__(self) -> "Stage":
        config = self.folder / "config"
        config.mkdir()
        text = _STATION + "".join(
            _SCALE.format(
                name=name,
                port=scale.link,
                max_g=scale.scale.kind.max_g,
                division_g=scale.scale.kind.division_g,
                accuracy=_CLASSES[name],
            )
            for name, scale in self.scales.items()
        )
        (config / "station.toml").write_text(text, encoding="utf-8")
        for scale in self.scales.values():
            scale.plug()
            self._tasks.append(asyncio.create_task(scale.run()))
        try:
            await self.start()
        except BaseException:
            await self.__aexit__()
            raise
        return self

    async def start(self) -> None:
        """Start the daemon and follow it."""
        self.shown = Change()
        with (self.folder / "station.log").open("ab") as log:
            self._daemon = await asyncio.create_subprocess_exec(
                *self.command,
                *("run", "--config", str(self.folder / "config"), "--ledger", str(self.ledger)),
                *("--socket", str(self.socket), "--speed", str(self.clock.speed)),
                stdin=asyncio.subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                env=_environment(),
                pass_fds=self.inherit,
            )
        await self._watch()

    async def kill(self) -> None:
        """SIGKILL: no goodbye, as when the power goes."""
        assert self._daemon is not None
        self._daemon.kill()
        await self._daemon.wait()
        self._follower, self.shown = None, Change()

    async def __aexit__(self, *exc: object) -> None:
        daemon = self._daemon
        if daemon is not None and daemon.returncode is None:
            daemon.send_signal(signal.SIGTERM)
            await daemon.wait()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        shutil.rmtree(self.folder / "config")

    def go_on(self, key: str) -> bool:
        """Whoever reads a caption wants the next thing, by any key; else a key is the display's."""
        self._go_on.set()
        return self._reads

    async def read(self) -> None:
        """Wait until what is on the screen is read."""
        self._go_on.clear()
        self._reads = True
        with suppress(TimeoutError):
            await asyncio.wait_for(self._go_on.wait(), self.reads_s / self.clock.speed)
        self._reads = False

    async def say(self, method: str, **params: Any) -> str:
        """Call a method; the answer. Raises `ClientError` when refused."""

        def call() -> str:
            with Client(self.socket) as client:
                return str(client.call(method, params).get("answer", ""))

        return await asyncio.to_thread(call)

    async def until(
        self, wanted: Callable[[Change], bool], what: str, patience_s: float = PATIENCE_S
    ) -> Change:
        """Wait until the station shows `wanted`. Raises `DemoError`."""
        end = self.clock.monotonic() + patience_s
        while not wanted(self.shown):
            self._changed.clear()
            left = (end - self.clock.monotonic()) / self.clock.speed
            try:
                await asyncio.wait_for(self._changed.wait(), max(left, 0.001))
            except TimeoutError:
                told = f"{self.shown.word} {self.shown.sentence}"
                raise DemoError(f"waited in vain until {what}; the station says: {told}") from None
        return self.shown

    async def _watch(self) -> None:
        """Follow the socket in a thread; the newest snapshot is `shown`."""
        client = None
        for _ in range(200):
            with suppress(ClientError):
                client = Client(self.socket)
                break
            if self._daemon is not None and self._daemon.returncode is not None:
                break
            await asyncio.sleep(0.05)
        if client is None:
            log = (self.folder / "station.log").read_text(encoding="utf-8")
            raise DemoError(f"the station did not start:\n{log}")
        loop = asyncio.get_running_loop()
        follower = client

        self._follower = follower

        def take(change: Change) -> None:
            if self._follower is not follower:
                return  # what a dead station said last comes after its end
            self.shown = change
            self._changed.set()
            self.on_change(change)

        def follow() -> None:
            with suppress(ClientError, RuntimeError):  # the station stopped, or the loop is closed
                for change in follower.changes():
                    loop.call_soon_threadsafe(take, read_change(change))
            follower.close()

        threading.Thread(target=follow, daemon=True).start()
        await self.until(lambda shown: bool(shown.word), "the station shows something")


def _environment() -> dict[str, str]:
    """The daemon's environment: it finds this very package, and nobody's configuration."""
    root = str(Path(__file__).resolve().parents[2])
    path = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
    return {**os.environ, "PYTHONPATH": path, "STATION_CONFIG": str(packaged())}
