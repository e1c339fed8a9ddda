"""Measure an auditor's questions on a big ledger: `python tests/bench/answers.py LEDGER`.

LEDGER is made by `years.py` and only read. Each question is a process of its own, as a person asks
it: seconds from the command to its end, the median of several, and what of it is the start alone
(`--help`). The aim: a recall of the lot that went into most batches in under a second more.
"""

import argparse
import json
import os
import sqlite3
import statistics
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path


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
    )
    at = ("--ledger", str(asked.ledger))
    figures = {
        "batches": count,
        "batches_of_the_lot": batches,
        "start_s": seconds(("recall", "--help"), asked.rounds),
        "answers_s": {" ".join(way): seconds((*way, *at), asked.rounds) for way in ways},
    }
    more = figures["answers_s"][f"recall {lot}"] - figures["start_s"]
    print(json.dumps({**figures, "met": more < 1, "load": os.getloadavg()[0]}, indent=1))


if __name__ == "__main__":
    main()
