"""The power goes in the middle of a write: what stands on the disk then must open as a ledger that
was acknowledged, or as the one after it.

    python tests/torture/power_cut.py [--decisions N] [--cuts N] [--seed S]

A process records decisions, as the daemon's ledger thread does: with its log folded in between, at
the end of each batch, and closed and opened again half way. Every write, truncation, sync, removal
and renaming of the ledger, its log and the files beside it is remembered in its order. Then the
ledger is put together again as it stood at each of those moments: after it, in the middle of it,
and with a part of what was not synced yet lost or torn, as chance has it. Without --cuts at every
moment; with it at so many, by chance.
"""

import argparse
import json
import logging
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from station.batch import events as ev
from station.ledger.book import Book
from station.ledger.errors import LedgerError
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.verify import verify
from tests.bench.years import stories
from tests.torture.disk import SECTOR, Disk, Files, Op, build, environment, lossy, read_ops

AT = "2026-11-30T10:00:00.000Z"
BORN = ev.LedgerBorn("Fenwether Yard, bench 1", True, "0")
NAME = "t.ledger"
HOW = ("whole", "torn", "lossy")


@dataclass(frozen=True, slots=True)
class Cut:
    """A moment, and how much of what was done until then is on the disk: `whole`, `torn` (of the
    last write a part), `lossy` (of what was not synced some)."""

    ops: int
    how: str
    seed: int


def decisions(count: int) -> Iterator[tuple[str, list[ev.Event], bool]]:
    """So many of whole batches: the batch, what is recorded, and whether that ends it."""
    made = 0
    for number, story in enumerate(stories()[0] * count, 1):
        for part in story.appends:
            if made == count:
                return
            made += 1
            yield f"b-{number}", part, part is story.appends[-1]


def write(folder: Path, remembered: Path, count: int, careless: bool) -> None:
    """What the process does. `careless`: without waiting for the disk, as no station does."""
    disk = Disk()
    disk.record(remembered)
    book = Book.open(folder / NAME, BORN, AT)
    disk.mark(book.seq)
    if careless:
        book._db.execute("PRAGMA synchronous = OFF")
    for number, (batch, part, ends) in enumerate(decisions(count)):
        book.append([(batch, event) for event in part], AT)
        disk.mark(book.seq)
        book.tend(10.0 * number)
        if ends:
            book.checkpoint()
        if number == count // 2:
            book.close()
            book = Book.open(folder / NAME, BORN, AT)
    book.close()


def remember(
    folder: Path, count: int, careless: bool = False, ledger: Path | None = None
) -> list[Op]:
    """Have it done on a disk that remembers, to a copy of `ledger` or to a new one. Raises
    `NoCompiler`."""
    place, remembered = folder / "written", folder / "remembered"
    place.mkdir()
    if ledger is not None:
        shutil.copy(ledger, place / NAME)
        shutil.copy(mark_path(ledger), mark_path(place / NAME))
    words = [sys.executable, str(Path(__file__)), "--write", str(place), str(remembered)]
    words += ["--careless"] if careless else []
    env = environment(build(), place)
    subprocess.run([*words, "--decisions", str(count)], env=env, check=True)
    return read_ops(remembered)


def cuts(ops: list[Op], count: int | None, seed: int) -> list[Cut]:
    """Every one, or so many of them."""
    found = []
    for place, op in enumerate(ops, 1):
        found += [Cut(place, "whole", 0), Cut(place, "lossy", seed + place)]
        if op.kind == "w" and len(op.data) > SECTOR:
            found += [Cut(place, "torn", seed + place), Cut(place, "torn", -seed - place)]
    return found if count is None else random.Random(seed).sample(found, min(count, len(found)))


def standing(ops: list[Op], cut: Cut) -> Files:
    """What is on the disk then."""
    if cut.how == "lossy":
        return lossy(ops[: cut.ops], cut.seed)
    files = Files()
    for op in ops[: cut.ops - 1]:
        files.do(op)
    last = ops[cut.ops - 1]
    files.do(
        last, random.Random(cut.seed).randrange(1, len(last.data)) if cut.how == "torn" else None
    )
    return files


def judge(folder: Path, source: Path, ops: list[Op], cut: Cut, heads: dict[int, bytes]) -> str:
    """Open it as the next start does: `acknowledged`, `next`, or what is wrong."""
    acknowledged = max([op.at for op in ops[: cut.ops] if op.kind == "A"], default=0)
    after = min([op.at for op in ops[cut.ops :] if op.kind == "A"], default=acknowledged)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    standing(ops, cut).put(source, folder)
    path = folder / NAME
    try:
        book = Book.open(path, BORN, AT)
    except LedgerError as error:
        return f"it does not open: {error.sentence}"
    seq, head = book.seq, book.head
    try:
        if acknowledged and seq not in (acknowledged, after):
            return f"it ends at event {seq}, not at {acknowledged} or {after}"
        if acknowledged and head != heads[seq]:
            return f"event {seq} is another one"
        book.append([(None, ev.Noted("it goes on", "Ansel"))], AT)
    except LedgerError as error:
        return f"it takes no event: {error.sentence}"
    finally:
        book.close()
    with open_reader(path) as db:
        verdict = verify(db)
    if not verdict.ok or verdict.events != seq + 1:
        return f"it is not whole afterwards: {verdict.reason}"
    return "acknowledged" if seq == acknowledged else "next"


def run(
    folder: Path, count: int, most: int | None, seed: int, careless: bool = False
) -> tuple[Counter[str], list[str]]:
    """How often which came out, and each cut at which something was wrong. Raises `NoCompiler`."""
    ops = remember(folder, count, careless)
    source = folder / "written"
    with open_reader(source / NAME) as db:
        heads = dict(db.execute("SELECT seq, hash FROM event").fetchall())
    told: Counter[str] = Counter()
    wrong = []
    for cut in cuts(ops, most, seed):
        found = judge(folder / "opened", source, ops, cut, heads)
        if found in ("acknowledged", "next"):
            told[f"{cut.how}, {found}"] += 1
        else:
            wrong.append(f"{cut}: {found}")
    told["moments"] = len(ops)
    return told, wrong


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--decisions", type=int, default=300)
    options.add_argument("--cuts", type=int)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--write", nargs=2, type=Path, help=argparse.SUPPRESS)
    options.add_argument("--careless", action="store_true", help=argparse.SUPPRESS)
    asked = options.parse_args()
    if asked.write:
        write(*asked.write, asked.decisions, asked.careless)
        return
    logging.getLogger("station").setLevel(logging.ERROR)  # a mark that is not there yet
    memory = Path("/dev/shm")  # what is put together again need not wait for a disk
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as name:
        told, wrong = run(Path(name), asked.decisions, asked.cuts, asked.seed)
    print(json.dumps({"seed": asked.seed, **told, "wrong": wrong}, indent=1))
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
