"""Measure on a big ledger beside an empty one, in one run: `python tests/bench/scale.py LEDGER`.

LEDGER is made by `years.py`; it is copied, never written to. The daemon is started on either, once
before it counts, until it answers `state`: the median of several starts. Then the sheet of the last
batch of either is asked for, decisions are appended to either, in turn, and the big one is verified
beside the bare hashing of the same bytes.
"""

import argparse
import hashlib
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from harness import HEAD, SCALE, running
from years import RING, plain

from station.batch import events as ev
from station.client import Client, ClientError
from station.ledger import chain
from station.ledger.book import Book
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.records import chain_break, read_events
from station.ledger.verify import verify

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


def sheets(ledgers: dict[str, Path], rounds: int) -> dict[str, Any]:
    """Median milliseconds of `station audit batch`, its start included, and whether the two are
    within 100 ms of each other."""
    taken: dict[str, list[float]] = {name: [] for name in ledgers}
    batches = {name: _last_batch(ledger) for name, ledger in ledgers.items()}
    for _ in range(rounds):
        for name, ledger in ledgers.items():
            words = ("audit", "batch", batches[name], "--ledger", str(ledger), "--json")
            begin = time.perf_counter()
            done = subprocess.run(
                [sys.executable, "-m", "station", *words], capture_output=True, check=True
            )
            taken[name].append((time.perf_counter() - begin) * 1000)
            assert json.loads(done.stdout)["proof"]["of"] == "batch"
    medians = {name: statistics.median(found) for name, found in taken.items()}
    apart = medians["years"] - medians["empty"]
    return {"sheet_ms": medians, "apart_ms": apart, "sheet_met": apart <= 100}


def _last_batch(ledger: Path) -> str:
    with open_reader(ledger) as db:
        query = "SELECT batch FROM event WHERE batch IS NOT NULL ORDER BY seq DESC LIMIT 1"
        return str(db.execute(query).fetchone()[0])


def verifying(ledger: Path) -> dict[str, Any]:
    """Seconds of processor time: SHA-256 of the canonical bytes as they stand in the file, the
    chain and canonical form of every event, and all that `station ledger verify` checks."""
    with open_reader(ledger) as db:
        begin = time.process_time()
        rows = db.conn.execute("SELECT seq, at, batch, kind, body, prev FROM event ORDER BY seq")
        for *words, body, prev in rows:
            start = json.dumps(words, ensure_ascii=False, separators=(",", ":"))[:-1]
            hashlib.sha256(prev + f"{start},{body}]".encode()).digest()
        bare = time.process_time() - begin
        begin = time.process_time()
        (ident,) = db.execute("SELECT id FROM ledger").fetchone()
        seq, head = 0, chain.first_prev(ident)
        for record in read_events(db):
            assert chain_break(record, seq, head) is None
            seq, head = record.seq, record.hash
        linked = time.process_time() - begin
        begin = time.process_time()
        assert verify(db).ok
        whole = time.process_time() - begin
    figures = {"bare_s": bare, "chain_s": linked, "verify_s": whole}
    return {**figures, "chain_ratio": linked / bare, "verify_ratio": whole / bare, "aim": 4}


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
        shutil.copy(mark_path(asked.ledger), mark_path(ledgers["years"]))
        figures = starts(folder, ledgers, asked.rounds)
        begun = Book.open(ledgers["empty"], BORN, AT)
        for events in plain(RING, "9000").appends:
            begun.append([("b-1", event) for event in events], AT)
        begun.close()
        figures |= sheets(ledgers, 2 * asked.rounds)
        figures |= verifying(ledgers["years"])
        figures["append_ms"] = appends(ledgers, 40 * asked.rounds)
        figures["load"] = os.getloadavg()[0]
    print(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()
