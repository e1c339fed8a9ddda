"""Many scales on one bench: what a reading among 32 of them costs, and how late `state` answers."""

import os
import pty
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import Callable
from pathlib import Path
from typing import Any

from harness import FINE, FRAME, HEAD, ROOT, SCALE, figure, spread, until_there

from station.client import Client


class Crowd:
    """Scales on ptys, each sending ten times a second, not all at one moment."""

    def __init__(self, count: int) -> None:
        self.lines = []
        names = []
        for _ in range(count):
            line, slave = pty.openpty()
            tty.setraw(slave)
            os.set_blocking(line, False)
            self.lines.append(line)
            names.append(os.ttyname(slave))
        scales = [SCALE.format(name=f"s{n}", port=port) for n, port in enumerate(names[1:], 1)]
        scales[0] = scales[0].replace('"s1"', '"bench"')
        self.settings = HEAD + FINE.format(port=names[0]) + "".join(scales)
        self.shows = {0: "0.00"}  # the fine scale has decimals, or it would be another device

    def send(self, seconds: float, ask: Callable[[], None] = lambda: None) -> None:
        """Let time pass; `ask` is called twenty times a second."""
        begin = time.perf_counter()
        ticks = round(seconds * 10)
        for tick in range(ticks):
            for n, line in enumerate(self.lines):
                if n % (len(self.lines) // 2 or 1) == 0:
                    ask()
                due = begin + (tick + n / len(self.lines)) / 10
                time.sleep(max(due - time.perf_counter(), 0))
                os.write(line, FRAME % self.shows.get(n, "0").encode())


def _crowd(count: int, seconds: float, pouring: bool) -> tuple[float, float]:
    """(CPU seconds of the daemon for a reading, beyond what it takes while none comes; 99th
    percentile of `state` in seconds)."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        crowd = Crowd(count)
        config, sock = folder / "config", folder / "s.sock"
        config.mkdir()
        (config / "station.toml").write_text(crowd.settings)
        words = ("--config", str(config), "--ledger", str(folder / "l.ledger"))
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        daemon = subprocess.Popen(
            [sys.executable, "-m", "station", "run", *words, "--socket", str(sock)],
            env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            until_there(sock)
            time.sleep(1)
            before = _cpu_s(daemon.pid)
            time.sleep(seconds / 2)
            silent = (_cpu_s(daemon.pid) - before) * 2
            with Client(sock) as client:
                if pouring:
                    _to_the_salt(crowd, client)
                crowd.send(1.0)
                times: list[float] = []
                grams = [0.0]

                def pour() -> None:
                    """Without end: the flow is watched and nothing is accepted."""
                    grams[0] = (grams[0] + 0.4) % 150
                    crowd.shows[0] = f"{131.2 + grams[0]:.2f}"

                def ask() -> None:
                    if pouring:
                        pour()
                    begin = time.perf_counter()
                    client.call("state")
                    times.append(time.perf_counter() - begin)

                before = _cpu_s(daemon.pid)
                crowd.send(seconds, pour if pouring else lambda: None)
                used = _cpu_s(daemon.pid) - before
                crowd.send(seconds, ask)
        finally:
            daemon.kill()
            daemon.wait()
            for line in crowd.lines:
                os.close(line)
    return (used - silent) / (seconds * 10 * count), spread(times)[1] / 1000


def _to_the_salt(crowd: Crowd, client: Client) -> None:
    """A batch with its meat weighed and a cup for the salt on the fine scale."""

    def settle(scale: int, grams: str) -> None:
        crowd.shows[scale] = grams
        crowd.send(1.2)

    settle(0, "131.20")
    client.call("vessel", {"name": "cup", "scale": "fine"})
    settle(0, "0.00")
    settle(1, "1200")
    client.call("vessel", {"name": "tub", "scale": "bench"})
    client.call("open", {"formula": "herb-link", "meat": "12 kg", "who": "Ansel"})
    client.call("use", {"vessel": "tub"})
    settle(1, "13200")
    client.call("accept", {"line": "pork shoulder"})
    settle(1, "0")
    settle(1, "1200")
    settle(1, "0")
    client.call("end", {"line": "pork shoulder"})
    settle(0, "131.20")
    shown = client.call("state")
    if shown["line"] != "salt" or shown["net_g"] is None:
        raise RuntimeError(f"the salt is not being weighed: {shown['sentence']}")


def _cpu_s(pid: int) -> float:
    """Seconds of a core that a process has used so far, all of its threads."""
    threads = Path(f"/proc/{pid}/task").glob("*/schedstat")
    return sum(int(thread.read_text().split()[0]) for thread in threads) / 1e9


def crowded(seconds: float = 20.0) -> list[dict[str, Any]]:
    """A reading among 32 scales beside one among two, its readings all seen, `state` asked
    meanwhile; idle, and with a pour under way."""
    found = []
    for what, pouring in (("no batch", False), ("a pour", True)):
        few, _ = _crowd(2, seconds, pouring)
        many, late = _crowd(32, seconds, pouring)
        found += [
            figure(f"CPU a reading, 32 scales, {what}", "us", many * 1e6, few * 1e6, 1.3),
            figure(f"share of a core, 32 scales, {what}", "%", many * 320 * 100, 5.0, 1),
            figure(f"state at 32 scales, {what}, p99", "ms", late * 1000, 50.0, 1),
        ]
    return found
