"""What the measurements share: a daemon or display as a process, frames, figures."""

import os
import pty
import statistics
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]

FRAME = b"\n 0G  %10sg  \r"
HEAD = """
name = "bench"
authority = "us"
people = ["Ansel"]
simulated = true
"""
SCALE = """
[[scale]]
name = "{name}"
port = "{port}"
grammar = "sma-scp-0499"
max = "15 kg"
division = "2 g"
class = "III"
unit = "g"
"""
FINE = """
[[scale]]
name = "fine"
port = "{port}"
grammar = "sma-scp-0499"
max = "600 g"
division = "0.05 g"
class = "II"
unit = "g"
"""


def figure(name: str, unit: str, value: float, floor: float, aim: float) -> dict[str, Any]:
    return {
        "name": name,
        "unit": unit,
        "value": round(value, 4),
        "floor": round(floor, 4),
        "ratio": round(value / floor, 2),
        "aim": aim,
    }


@contextmanager
def running(*words: str, terminal: bool = False) -> Any:
    """A process; with `terminal`, on a pty whose master is yielded."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "linux", "LANG": "C.UTF-8"}
    environment.pop("LC_ALL", None)
    if not terminal:
        quiet = subprocess.DEVNULL
        process = subprocess.Popen(
            [sys.executable, *words], env=environment, stdout=quiet, stderr=quiet
        )
        master = -1
    else:
        master, slave = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, *words],
            env={**environment, "LINES": "24", "COLUMNS": "80"},
            stdin=slave,
            stdout=slave,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        os.close(slave)
    try:
        yield master
    finally:
        process.kill()
        process.wait()
        if master >= 0:
            os.close(master)


def until_there(path: Path) -> None:
    for _ in range(400):
        if path.exists():
            return
        time.sleep(0.02)
    raise RuntimeError(f"{path} never came")


def spread(times: list[float]) -> tuple[float, float]:
    """p50 and p99 in milliseconds."""
    cuts = statistics.quantiles(times, n=100)
    return cuts[49] * 1000, cuts[98] * 1000
