"""Measure, each figure beside its floor from the same run: `python tests/bench/run.py [--json]`.

A floor is the least that any program could take for the job, written plainly beside it; the ratio
of the two is what can be compared between machines. Aim: twice the floor or better, `--help` within
one and a half, memory flat. Of the figures on 32 scales the floor is the same reading among two, or
the aim itself.
"""

import argparse
import asyncio
import json
import os
import pty
import re
import resource
import select
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import Callable
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec

sys.path.insert(0, str(Path(__file__).parents[2]))

from crowd import crowded
from harness import FRAME, HEAD, ROOT, SCALE, figure, running, spread, until_there

from drivers.grammar import compile_grammar
from drivers.parser import Parser
from station.batch.events import LedgerBorn
from station.client import Client
from station.ledger.chain import canonical_body
from station.opening import opening
from station.resources import Config
from station.service.channel import Channel
from station.service.clock import Clock
from station.service.desk import Desk
from station.service.writer import Writer
from station.settings import load_settings
from station.weighing import commands as do

SETTINGS = HEAD + SCALE.replace("{name}", "bench")


class Plain(msgspec.Struct, frozen=True):
    """What a parser can do least: keep the number and the words."""

    value: Decimal
    unit: bytes
    status: bytes
    time_s: float


def best(work: Callable[[], object], times: int, rounds: int = 7) -> float:
    """Seconds of one call, the best of several rounds: what the machine does when left alone."""
    found = []
    for _ in range(rounds):
        begin = time.perf_counter()
        for _ in range(times):
            work()
        found.append((time.perf_counter() - begin) / times)
    return min(found)


def parse() -> dict[str, Any]:
    text, name = Config().read("scales/sma-scp-0499.toml")
    parser = Parser(compile_grammar(text, name))
    frames = (FRAME % b"231.20", FRAME % b"231.25")  # one like the last is not read again
    plain = re.compile(rb"\n(.)(.)(.)(.).([-+ 0-9.]{10})(.{3})\r")

    def least(frame: bytes) -> Plain:
        match = plain.fullmatch(frame)
        assert match is not None
        return Plain(Decimal(match[5].decode("ascii").strip()), match[6], match[1], 1.0)

    ours = best(lambda: [list(parser.feed(frame, 1.0)) for frame in frames], 10_000) / 2
    floor = best(lambda: [least(frame) for frame in frames], 10_000) / 2
    return figure("parse a frame", "us", ours * 1e6, floor * 1e6, 2)


# from the pty to the screen


def _drain(screen: int, quiet_s: float) -> None:
    """Read until the screen has been quiet for so long, a second at most."""
    end = time.monotonic() + 1
    while time.monotonic() < end and select.select([screen], [], [], quiet_s)[0]:
        os.read(screen, 65536)


def _latencies(line: int, screen: int, count: int) -> list[float]:
    """Seconds from a frame's last byte on the line to the first byte on the screen."""
    found = []
    for n in range(count):
        _drain(screen, 0.04)
        frame = FRAME % str(3400 + 2 * (n % 50) + 200 * (n % 2)).encode()
        begin = time.perf_counter()
        os.write(line, frame)
        if not select.select([screen], [], [], 1.0)[0]:
            raise RuntimeError("a frame never reached the screen")
        found.append(time.perf_counter() - begin)
    return found


def _ours(folder: Path, count: int) -> list[float]:
    line, slave = pty.openpty()
    tty.setraw(slave)
    config, sock = folder / "config", folder / "s.sock"
    config.mkdir()
    (config / "station.toml").write_text(SETTINGS.format(port=os.ttyname(slave)))
    words = ("--config", str(config), "--ledger", str(folder / "l.ledger"), "--socket", str(sock))
    with running("-m", "station", "run", *words):
        until_there(sock)
        with Client(sock) as client:
            _feed(line, 1200, 2.0)
            client.call("vessel", {"name": "tub", "scale": "bench"})
            client.call("open", {"formula": "garlic-ring", "meat": "12 kg", "who": "Ansel"})
            client.call("use", {"vessel": "tub"})
        _feed(line, 3200, 1.0)
        display = ("-m", "station", "bench", "--socket", str(sock))
        with running(*display, terminal=True) as screen:
            for _ in range(20):  # let it come up, with a scale that goes on sending
                _feed(line, 3200, 0.1)
                _drain(screen, 0.02)
            return _latencies(line, screen, count)


def _feed(line: int, grams: int, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        os.write(line, FRAME % str(grams).encode())
        time.sleep(0.1)


def _floor(folder: Path, count: int) -> list[float]:
    line, slave = pty.openpty()
    tty.setraw(slave)
    sock, plain = folder / "plain.sock", str(Path(__file__).parent / "plain.py")
    with running(plain, "station", os.ttyname(slave), str(sock)):
        until_there(sock)
        with running(plain, "display", str(sock), terminal=True) as screen:
            time.sleep(0.3)
            return _latencies(line, screen, count)


def to_the_screen(count: int = 300) -> list[dict[str, Any]]:
    with tempfile.TemporaryDirectory() as name:
        floor = spread(_floor(Path(name), count))
        ours = spread(_ours(Path(name), count))
    return [
        figure("byte on the pty to the screen, p50", "ms", ours[0], floor[0], 2),
        figure("byte on the pty to the screen, p99", "ms", ours[1], floor[1], 2),
    ]


# a durable decision


async def _desk(folder: Path) -> tuple[Desk, Writer]:
    config = folder / "config"
    config.mkdir()
    (config / "station.toml").write_text(SETTINGS.format(port=folder / "nothing"))
    settings = load_settings(Config(config))
    writer = Writer(folder / "l.ledger", LedgerBorn("bench", True, "0"))
    await writer.open("2026-11-30T10:00:00.000Z")
    desk = Desk(writer, Clock(), tuple(scale.scale for scale in settings.scales))
    opened, words = opening(
        Config(config), settings, True, "garlic-ring", {"meat": "12 kg"}, "Ansel"
    )
    await desk.submit(do.Open("261130-1", opened, words))
    return desk, writer


async def _decisions(folder: Path, count: int) -> tuple[float, float]:
    """Median seconds of a decision, and of a bare commit of the same rows, in turn."""
    desk, writer = await _desk(folder)
    rows = {
        table: list(writer.book._db.query(f"SELECT * FROM {table}"))
        for table in ("batch", "addition")
    }
    ours, floor = [], []
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as bare:
        for pragma in ("journal_mode = WAL", "synchronous = FULL"):
            bare.execute(f"PRAGMA {pragma}")
        columns = "seq INTEGER PRIMARY KEY, at, batch, kind, body, prev, hash"
        bare.execute(f"CREATE TABLE event ({columns})")
        for table, kept in rows.items():
            bare.execute(f"CREATE TABLE {table} ({', '.join(kept[0])})")
        body = canonical_body({"text": "the belly was very fat", "who": "Ansel", "uid": None})
        for n in range(count):
            begin = time.perf_counter()
            await desk.submit(do.Note("the belly was very fat"))
            ours.append(time.perf_counter() - begin)
            begin = time.perf_counter()
            _bare_commit(bare, n, body, rows)
            floor.append(time.perf_counter() - begin)
    await writer.close()
    return statistics.median(ours), statistics.median(floor)


def _bare_commit(bare: sqlite3.Connection, n: int, body: str, rows: Any) -> None:
    bare.execute("BEGIN IMMEDIATE")
    event = (n + 1, "2026-11-30T10:00:00.000Z", "261130-1", "noted", body, bytes(32), bytes(32))
    bare.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", event)
    for table, kept in rows.items():
        bare.execute(f"DELETE FROM {table}")
        marks = ", ".join("?" * len(kept[0]))
        for row in kept:
            bare.execute(f"INSERT INTO {table} VALUES ({marks})", list(row.values()))
    bare.execute("COMMIT")


def decision() -> dict[str, Any]:
    with tempfile.TemporaryDirectory(dir=ROOT / "tests") as name:  # a disk, not memory
        ours, floor = asyncio.run(_decisions(Path(name), 400))
    return figure("durable decision", "ms", ours * 1000, floor * 1000, 2)


# the command line and memory


def help_text() -> dict[str, Any]:
    hello = "import click\n@click.command()\ndef main(): 'Hello.'\nmain(['--help'])"

    def run(*words: str) -> None:
        subprocess.run([sys.executable, *words], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)

    ours = best(lambda: run("-m", "station", "--help"), 1, 9)
    floor = best(lambda: run("-c", hello), 1, 9)
    return figure("station --help", "ms", ours * 1000, floor * 1000, 1.5)


async def _million(folder: Path, count: int) -> tuple[int, int]:
    """Resident kB after a tenth of the readings, and after all of them."""
    desk, writer = await _desk(folder)
    settings = load_settings(Config(folder / "config"))
    channel = Channel(settings.scales[0], Clock(), desk)
    parser = Parser(compile_grammar(*Config().read("scales/sma-scp-0499.toml")))
    desk.link("bench", True, "", "")
    early = 0
    for n in range(count):
        frame = FRAME % str(2 * (n % 5000)).encode()
        channel.take(list(parser.feed(frame, n * 0.1)), n * 0.1)
        if n % 100 == 0:
            await desk.look()
        if n == count // 10:
            early = _resident_kb()
    late = _resident_kb()
    await writer.close()
    return early, late


def _resident_kb() -> int:
    with Path("/proc/self/statm").open() as statm:
        return int(statm.read().split()[1]) * resource.getpagesize() // 1024


def memory(count: int) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as name:
        early, late = asyncio.run(_million(Path(name), count))
    return figure(f"resident after {count} readings", "kB", late, early, 1.05)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--json", action="store_true", help="print one object")
    options.add_argument("--readings", type=int, default=1_000_000, help="for the memory figure")
    asked = options.parse_args()
    figures = [parse(), *to_the_screen(), *crowded(), decision(), help_text()]
    figures.append(memory(asked.readings))
    if asked.json:
        print(json.dumps({"figures": figures}))
        return
    print(f"{'figure':<40}{'value':>12}{'floor':>12}  unit{'ratio':>8}{'aim':>7}")
    for row in figures:
        print(
            f"{row['name']:<40}{row['value']:>12}{row['floor']:>12}  {row['unit']:<4}"
            f"{row['ratio']:>8}{row['aim']:>7}{'' if row['ratio'] <= row['aim'] else '  MISSED'}"
        )


if __name__ == "__main__":
    main()
