"""A socket that shows what a test wants, and a terminal around the real display.

The snapshots are those of the real watches and the real decider; only the daemon is left out, so
that a screen does not hang on a moment.
"""

import json
import os
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pexpect
import pyte
from msgspec.structs import replace

from station.service.snapshot import snapshot
from station.weighing import commands as do
from station.wire import Backup, Change, Ledger, changed
from tests.benchside import CUPS, Bench
from tests.service.daemons import ROOT


def shown(bench: Bench) -> Change:
    """What the daemon would send for a bench."""
    return changed(snapshot(bench.floor.sight(), bench.told, bytes(32), 1, True))


def pouring(net: str) -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", net)
    return shown(bench)


def slowing() -> Change:
    """Ten grams a second are more than the band bears: the watch asks for less some 3 s ahead."""
    bench = Bench().begin()
    bench.show("fine", CUPS["cup 3"])
    for net in range(1, 191):
        bench.move("fine", str(Decimal(CUPS["cup 3"]) + net))
    return shown(bench)


def stopping() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "200")
    bench.move("fine", str(Decimal(CUPS["cup 3"]) + 217))
    return shown(bench)


def unplugged() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.floor.link("fine", False, "the scale's cable is out", "plug it in")
    return shown(bench)


def put_back() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "120")
    bench.lift()
    return shown(bench)


def cure_standing() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    return shown(bench)


def cure_missing() -> Change:
    """The cup of the cure comes back lighter."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.lift()
    bench.show("fine", CUPS["cup 2"])
    return shown(bench)


def all_in() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.add("pepper", "cup 1", "36")
    bench.add("garlic", "cup 1", "60")
    return shown(bench)


def lifted() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "120")
    bench.move("fine", "20")
    return shown(bench)


def held() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("premix", more=True))
    return shown(bench)


WORDS: dict[str, Callable[[], Change]] = {
    "POUR": lambda: pouring("132"),
    "SLOWER": slowing,
    "STOP": stopping,
    "IN BAND": lambda: pouring("216"),
    "TAKE OUT": lambda: pouring("231"),
    "READY": lambda: shown(Bench()),
    "SET DOWN": lambda: shown(Bench().begin()),
    "PUT BACK": put_back,
    "TIP": cure_standing,
    "ANSWER": cure_missing,
    "DO": all_in,
    "WAIT": lifted,
    "BLOCKED": unplugged,
    "ON HOLD": held,
}


def aged(change: Change) -> Change:
    """The same with a backup that is too old."""
    backup = Backup(
        "2026-11-21T10:00:00.000Z", 9, "the last backup is 9 days old", "station ledger backup FILE"
    )
    return replace(change, ledger=Ledger(7, "aa", 0, backup))


def standing() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    return shown(bench)


def cure_in_band() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    return shown(bench)


class StandIn:
    """Listens like a station; answers calls, and shows what it is told to show."""

    def __init__(self, path: Path, first: Change | dict[str, Any]) -> None:
        self.path = path
        self.calls: list[tuple[str, dict[str, Any]]] = []
        self.refuse: dict[str, Any] | None = None
        self._shown = first
        self._clients: list[socket.socket] = []
        self._server = socket.socket(socket.AF_UNIX)
        self._server.bind(str(path))
        self._server.listen()
        self._deaf = False
        threading.Thread(target=self._accept, daemon=True).start()

    def show(self, change: Change) -> None:
        self._shown = change
        for client in self._clients:
            self._send(client, {"jsonrpc": "2.0", "method": "change", "params": change})

    def fall_silent(self) -> None:
        """Take what is sent and say nothing, as a program that hangs."""
        self._deaf = True

    def close(self) -> None:
        self._server.close()
        for client in self._clients:
            client.close()

    def wait_call(self, method: str) -> dict[str, Any]:
        """The parameters of the next call of that method."""
        for _ in range(200):
            for name, params in self.calls:
                if name == method:
                    return params
            time.sleep(0.02)
        raise AssertionError(f"no {method} came, only {self.calls}")

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._server.accept()
            except OSError:
                return
            self._clients.append(client)
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        try:
            self._answer(client)
        except ConnectionError:
            return  # the display ended before its answer came, as the end of a test does

    def _answer(self, client: socket.socket) -> None:
        with client.makefile("rb") as lines:
            for line in lines:
                request = json.loads(line)
                if self._deaf:
                    continue
                reply: dict[str, Any] = {"jsonrpc": "2.0", "id": request["id"]}
                if request["method"] in ("follow", "state"):
                    reply["result"] = self._shown
                else:
                    self.calls.append((request["method"], request["params"]))
                    if self.refuse is not None:
                        data = {key: self.refuse[key] for key in self.refuse if key != "message"}
                        message = self.refuse["message"]
                        reply["error"] = {"code": 1, "message": message, "data": data}
                    else:
                        reply["result"] = {"answer": "done", "batch": "b-1"}
                self._send(client, reply)

    def _send(self, client: socket.socket, message: dict[str, Any]) -> None:
        client.sendall(msgspec.json.encode(message) + b"\n")


class Display:
    """`station bench` in a real terminal of a chosen size, read through a terminal emulator."""

    def __init__(
        self,
        path: Path | None,
        columns: int,
        rows: int,
        *,
        lang: str = "C.UTF-8",
        command: tuple[str, ...] = ("bench",),
        folder: Path | None = None,
    ) -> None:
        kept = ("PATH", "HOME", "VIRTUAL_ENV")
        environment = {key: os.environ[key] for key in kept if key in os.environ}
        if folder is not None:
            environment["TMPDIR"] = str(folder)
        if path is not None:
            command = (*command, "--socket", str(path))
        self.child = pexpect.spawn(
            sys.executable,
            ["-m", "station", *command],
            dimensions=(rows, columns),
            env={**environment, "TERM": "linux", "LANG": lang, "LC_ALL": lang},
            cwd=str(ROOT),
            timeout=10,
        )  # fmt: skip
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.bells = 0
        self._pending = b""

    def read(self, seconds: float = 0.0) -> None:
        """Take in what the display has sent, and what it sends in that time."""
        end = time.monotonic() + seconds
        while True:
            more = self._more()
            self._feed(self._pending)
            self._pending = b""
            if not more and time.monotonic() >= end:
                return

    def _more(self) -> bool:
        """Whether something came from the display; it waits in `_pending`."""
        try:
            data = self.child.read_nonblocking(65536, 0.02)
        except (pexpect.TIMEOUT, pexpect.EOF):
            return False
        self._pending += data
        return True

    def _feed(self, data: bytes) -> None:
        self.bells += data.count(b"\a")
        self._stream.feed(data)

    def watch(self, seconds: float) -> list[str]:
        """Every state of the screen on the way, however short, for so long."""
        seen = [self.text]
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self._more()
            while self._step():
                if self.text != seen[-1]:
                    seen.append(self.text)
        return seen

    def _step(self) -> bool:
        """Take in a few bytes: a state that is soon over is seen all the same."""
        self._feed(self._pending[:16])
        self._pending = self._pending[16:]
        return bool(self._pending)

    @property
    def text(self) -> str:
        return "\n".join(line.rstrip() for line in self.screen.display).rstrip() + "\n"

    @property
    def inverse(self) -> bool:
        """Whether every cell of the screen is inverse; it is all or none of them."""
        cells = {
            self.screen.buffer[row][column].reverse
            for row in range(self.screen.lines)
            for column in range(self.screen.columns)
        }
        assert len(cells) == 1, "some cells are inverse and some are not"
        return cells.pop()

    def until(
        self, wanted: Callable[[str], bool], seconds: float = 8.0, *, whole: bool = True
    ) -> str:
        """Read until the screen is as wanted, however shortly; its text, once it is drawn `whole`
        (not where the next moment may draw over it)."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self._more()
            while True:
                more = self._step()
                if wanted(self.text):
                    if whole:
                        self.read(0.1)
                    return self.text
                if not more:
                    break
        raise AssertionError(f"the screen never came to that; it shows\n{self.text}")

    def press(self, keys: str) -> None:
        self.child.send(keys)

    def resize(self, columns: int, rows: int) -> None:
        self.screen.resize(rows, columns)
        self.child.setwinsize(rows, columns)

    def end(self) -> int:
        self.child.sendintr()
        for _ in range(100):  # ten seconds, on a busy machine
            self.read(0.1)
            if not self.child.isalive():
                break
        self.child.close()
        assert self.child.signalstatus is None, "the display was killed"
        return int(self.child.exitstatus)


SIZES = {"80x24": (80, 24), "40x12": (40, 12)}


@contextmanager
def on_screen(
    place: Path, snapshot: Change | dict[str, Any], columns: int = 80, rows: int = 24
) -> Iterator[tuple[StandIn, Display]]:
    """A station that shows this, and the display of it."""
    station = StandIn(place, snapshot)
    display = Display(place, columns, rows)
    try:
        yield station, display
    finally:
        display.end()
        station.close()
