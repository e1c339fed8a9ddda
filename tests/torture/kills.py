"""SIGKILL again and again while a process records: what was acknowledged stands, nothing twice.

    python tests/torture/kills.py [--kills N] [--seed S]

A process opens the ledger, and records whole batches as the daemon's ledger thread does, with the
log folded in on the way; before and after each commit it says so on a pipe. It is killed: mostly
at some moment of a commit, sometimes while it opens or folds. Then the file must end with what was
acknowledged last, or with all of the one decision that was under way; and the next process goes on
from there. Every so often, and at the end, the whole ledger is verified, and held against all that
was to be recorded. (`tests/service/test_kills.py` does it to the whole daemon, and slower.)
"""

import argparse
import json
import logging
import os
import random
import signal
import struct
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from station.batch import events as ev
from station.batch.codec import to_body
from station.ledger.book import Book
from station.ledger.reading import open_reader
from station.ledger.records import read_events
from station.ledger.verify import verify
from tests.torture.power_cut import AT, BORN, NAME, decisions

SAID = struct.Struct("<cQ32s")
"""What the process says: of which kind, and its last event's number and hash."""
OPENED, BEGUN, DONE, FOLDING = b"o", b"<", b">", b"f"
Said = tuple[bytes, int, bytes]
Plan = Sequence[tuple[str | None, Sequence[ev.Event], bool]]
"""Decisions: of which batch, what is recorded, and whether that ends it."""
EACH = 8
"""Decisions that a process is let record, at most."""
WHOLE = 500
"""Kills between two verifications of the whole ledger."""


@dataclass(slots=True)
class Stands:
    """What is on record for sure: the last acknowledged event, and how many decisions."""

    seq: int = 0
    head: bytes = b""
    done: int = 0


def record(path: Path, plan: Plan, done: int, pipe: int) -> None:
    """What the process does until it is killed."""

    def say(kind: bytes, book: Book) -> None:
        os.write(pipe, SAID.pack(kind, book.seq, book.head))

    book = Book.open(path, BORN, AT)
    say(OPENED, book)
    for number, (batch, events, ends) in enumerate(plan[done:], done):
        say(BEGUN, book)
        book.append([(batch, event) for event in events], AT)
        say(DONE, book)
        book.tend(10.0 * number)
        if ends:
            say(FOLDING, book)
            book.checkpoint()
    time.sleep(60)  # more was recorded than there is to record: the kill is late


def forked(path: Path, plan: Plan, done: int) -> tuple[int, int]:
    """The process, and the pipe that it speaks on."""
    read, write = os.pipe()
    child = os.fork()
    if child:
        os.close(write)
        return child, read
    try:
        record(path, plan, done, write)
    finally:  # it must not go on as its parent does
        traceback.print_exc()
        os._exit(1)


def killed(child: int, pipe: int, chance: random.Random) -> list[Said] | None:
    """Kill it at some moment; all that it said, or None where it had ended by itself."""
    said: list[Said] = []
    if chance.random() < 0.1:
        time.sleep(chance.uniform(0, 0.08))  # while it opens
    else:
        most, kind = chance.randrange(EACH), BEGUN if chance.random() < 0.9 else FOLDING
        seen = 0
        while raw := os.read(pipe, SAID.size):
            said.append(SAID.unpack(raw))
            if said[-1][0] == kind and (seen := seen + 1) > (most if kind == BEGUN else 0):
                break
        time.sleep(chance.uniform(0, 0.004))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while raw := os.read(pipe, SAID.size):
        said.append(SAID.unpack(raw))
    os.close(pipe)
    return said if os.WIFSIGNALED(status) else None


def judge(
    path: Path, said: list[Said], part: Sequence[ev.Event], before: Stands
) -> tuple[Stands, str | None]:
    """What stands after a kill, and what is wrong with it. `part`: the decision after the last one
    that was acknowledged."""
    for kind, seq, _ in said:
        if kind == OPENED and before.seq and seq != before.seq:
            return before, f"it opened with event {seq}, and {before.seq} stood there"
    acknowledged = [(seq, head) for kind, seq, head in said if kind in (OPENED, DONE)]
    seq, head = acknowledged[-1] if acknowledged else (before.seq, before.head)
    done = before.done + sum(kind == DONE for kind, _, _ in said)
    if not seq:
        return before, None  # it was never born
    with open_reader(path) as db:
        found = dict(db.execute("SELECT seq, hash FROM event WHERE seq >= ?", [seq]).fetchall())
    if found.get(seq) != head:
        return before, f"event {seq} was acknowledged and is lost, or another one"
    last = max(found)
    if last == seq:
        return Stands(seq, head, done), None
    if last == seq + len(part) and said and said[-1][0] == BEGUN:
        return Stands(last, found[last], done + 1), None
    return before, f"it ends at event {last}, and {seq} was acknowledged"


def whole(path: Path, plan: Plan, stands: Stands) -> str | None:
    """What is wrong with the ledger, held against all that was to be recorded."""
    with open_reader(path) as db:
        verdict = verify(db)
        found = [(one.batch, one.kind, one.body) for one in read_events(db, after=1)]
    wanted = [(batch, *to_body(event)) for batch, part, _ in plan[: stands.done] for event in part]
    if not verdict.ok:
        return f"it is not whole: {verdict.reason}"
    return None if found == wanted else "what stands in it is not what was recorded, once each"


def run(folder: Path, kills: int, seed: int) -> tuple[Counter[str], list[str]]:
    """How often a kill hit what, and what was wrong; the first wrong thing ends it."""
    chance, path = random.Random(seed), folder / NAME
    plan = list(decisions(kills * EACH))
    stands, told = Stands(), Counter[str]()
    names = {BEGUN: "in a commit", FOLDING: "while folding", DONE: "between", OPENED: "between"}
    for number in range(1, kills + 1):
        said = killed(*forked(path, plan, stands.done), chance)
        if said is None:
            return told, [f"kill {number}: the process had ended by itself"]
        done = stands.done + sum(kind == DONE for kind, _, _ in said)
        stands, wrong = judge(path, said, plan[done][1], stands)
        last = "while opening" if not said else names[said[-1][0]] if wrong is None else "wrong"
        told[last] += 1
        if wrong is None and stands.done > done:
            told["of them, committed all the same"] += 1
        if wrong is None and stands.seq and (number % WHOLE == 0 or number == kills):
            wrong = whole(path, plan, stands)
        if wrong is not None:
            return told, [f"kill {number}: {wrong}"]
    told["events"] = stands.seq
    return told, []


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--kills", type=int, default=1000)
    options.add_argument("--seed", type=int, default=1)
    asked = options.parse_args()
    logging.getLogger("station").setLevel(logging.ERROR)  # a mark that is not there yet
    begin = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        told, wrong = run(Path(name), asked.kills, asked.seed)
    seconds = round(time.monotonic() - begin)
    print(json.dumps({"seed": asked.seed, "seconds": seconds, **told, "wrong": wrong}, indent=1))
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
