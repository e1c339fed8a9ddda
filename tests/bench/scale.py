"""Measure on a big ledger beside an empty one, in one run: `python tests/bench/scale.py LEDGER`.

LEDGER is made by `years.py`; it is copied, never written to. The daemon is started on either, once
before it counts, until it answers `state`: the median of several starts. Then decisions are
appended to either, in turn.
"""

import argparse
import json
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from harness import HEAD, SCALE, running

from station.batch import events as ev
from station.client import Client, ClientError
from station.ledger.book import Book

AT = "2026-11-30T10:00:00.000Z"
BORN = ev.LedgerBorn("bench", True, "0")
WAITS_S = 900.0


def start(folder: Path, ledger: Path) -> float:
    """Seconds until a daemon answers `state`."""
    sock = folder / "s.sock"
    sock.unlink(missing_ok=True)
    words = ("--config", str(folder), "--ledger", str(ledger), "--socket", str(sock))
    begin = time.perf_counter()
    with running("-m", "station", "run", *words):
        while time.perf_counter() - begin < WAITS_S:
            try:
                with Client(sock, 5) as client:
                    client.call("state")
                return time.perf_counter() - begin
            except ClientError:
                time.sleep(0.01)
    raise RuntimeError("the daemon never answered")


def starts(folder: Path, ledgers: dict[str, Path], rounds: int) -> dict[str, Any]:
    first = {name: start(folder, ledger) for name, ledger in ledgers.items()}
    taken: dict[str, list[float]] = {name: [] for name in ledgers}
    for _ in range(rounds):
        for name, ledger in ledgers.items():
            taken[name].append(start(folder, ledger))
    medians = {name: statistics.median(found) for name, found in taken.items()}
    aim = 1.5 * medians["empty"] + 0.3
    return {"first_s": first, "start_s": medians, "aim_s": aim, "met": medians["years"] <= aim}


def appends(ledgers: dict[str, Path], rounds: int) -> dict[str, float]:
    """Median milliseconds of an append of one event."""
    books = {name: Book.open(ledger, BORN, AT) for name, ledger in ledgers.items()}
    taken: dict[str, list[float]] = {name: [] for name in books}
    for _ in range(rounds):
        for name, book in books.items():
            begin = time.perf_counter()
            book.append([(None, ev.Noted("the belly was very fat", "Ansel"))], AT)
            taken[name].append(time.perf_counter() - begin)
    for book in books.values():
        book.close()
    return {name: statistics.median(found) * 1000 for name, found in taken.items()}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("ledger", type=Path)
    options.add_argument("--rounds", type=int, default=5)
    asked = options.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.ledger.resolve().parent) as name:
        folder = Path(name)
        settings = HEAD + SCALE.format(name="bench", port=folder / "nothing")
        (folder / "station.toml").write_text(settings)
        ledgers = {"empty": folder / "empty.ledger", "years": folder / "years.ledger"}
        shutil.copy(asked.ledger, ledgers["years"])
        figures = starts(folder, ledgers, asked.rounds)
        figures["append_ms"] = appends(ledgers, 40 * asked.rounds)
        figures["load"] = os.getloadavg()[0]
    print(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()
