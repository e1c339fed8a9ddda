"""Measure an auditor's questions on a big ledger: `python tests/bench/answers.py LEDGER`.

LEDGER is made by `years.py` and only read. Each question is a process of its own, as a person asks
it: seconds from the command to its end, the median of several, what of it is the start alone
(`--help`), and how many times the floor it is: the sums of every line in bare SQL, on a copy with
an index that covers them, from the same run. The aim: a recall of the lot that went into most
batches in under a second more.
"""

import argparse
import json
import os
import shutil
import sqlite3
import statistics
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory


def seconds(words: tuple[str, ...], rounds: int) -> float:
    """The median of several runs."""
    taken = []
    for _ in range(rounds):
        begin = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "station", "audit", *words],
            stdout=subprocess.DEVNULL,
            check=True,
        )
        taken.append(time.perf_counter() - begin)
    return round(statistics.median(taken), 3)


FLOOR = (
    "SELECT name, count(*), sum(actual_g), min(actual_g), max(actual_g) FROM addition GROUP BY name"
)


def floor_s(ledger: Path, rounds: int) -> float:
    """The median of several runs of bare SQL over all additions, none of them read from its row."""
    with (
        TemporaryDirectory() as folder,
        closing(sqlite3.connect(shutil.copy(ledger, Path(folder) / "copy"))) as db,
    ):
        db.execute("CREATE INDEX covers ON addition (name, actual_g)")
        taken = []
        for _ in range(rounds * 5):
            begin = time.perf_counter()
            db.execute(FLOOR).fetchall()
            taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("ledger", type=Path)
    options.add_argument("--rounds", type=int, default=3)
    asked = options.parse_args()
    with closing(sqlite3.connect(f"file:{asked.ledger}?mode=ro", uri=True)) as db:
        lot, batches = db.execute(
            "SELECT lot, count(DISTINCT batch) FROM lot GROUP BY lot ORDER BY 2 DESC LIMIT 1"
        ).fetchone()
        batch, day = db.execute("SELECT batch, substr(opened_at, 1, 10) FROM batch").fetchone()
        count, formula, year = db.execute(
            "SELECT count(*), max(formula), substr(max(opened_at), 1, 4) - 1 FROM batch"
        ).fetchone()
    days = ("--from", f"{year}-01-01", "--to", f"{year}-12-31")
    ways: tuple[tuple[str, ...], ...] = (
        *(("recall", lot), ("lot", lot), ("origin", batch), ("day", day), ("line", "salt")),
        *(("list",), ("open",), ("stock",), ("warnings",), ("concessions",), ("pours",)),
        *(("person", "Ansel"), ("scale", "fine"), ("formula", formula, *days), ("report", *days)),
        ("report",),
    )
    at = ("--ledger", str(asked.ledger))
    floor, taken = floor_s(asked.ledger, asked.rounds), {}
    for way in ways:
        taken[" ".join(way)] = seconds((*way, *at), asked.rounds)
    figures = {
        "batches": count,
        "batches_of_the_lot": batches,
        "start_s": seconds(("recall", "--help"), asked.rounds),
        "answers_s": taken,
        "floor_s": round(floor, 5),
        "times_the_floor": {way: round(took / floor) for way, took in taken.items()},
    }
    more = figures["answers_s"][f"recall {lot}"] - figures["start_s"]
    print(json.dumps({**figures, "met": more < 1, "load": os.getloadavg()[0]}, indent=1))


if __name__ == "__main__":
    main()
