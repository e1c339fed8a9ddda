"""The disk fails at any of the calls that reach it: EIO on a read, a write, a sync or a truncation,
no room on a write; once, or until somebody mended it.

    python tests/torture/faults.py [--each N] [--kinds rwst] [--seed S]

The ledger's thread of the daemon opens a ledger, records notes, folds its log, closes and opens
again; whatever is refused is told by a sentence with the next step, and mended as the daemon mends
it, by opening again. Nothing acknowledged may be missing or there twice, nothing refused may be
there, and the ledger verifies. Without --each at every call; with it at so many of each kind, by
chance.
"""

import argparse
import asyncio
import contextlib
import errno
import json
import logging
import random
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from station.batch import events as ev
from station.ledger.errors import LedgerError
from station.ledger.reading import open_reader
from station.ledger.records import read_events
from station.ledger.verify import verify
from station.service.writer import Writer
from tests.torture.disk import Disk, build, environment

AT = "2026-11-30T10:00:00.000Z"
BORN = ev.LedgerBorn("Fenwether Yard, bench 1", True, "0")
NAME = "t.ledger"
KINDS = (
    ("r", errno.EIO),
    ("w", errno.EIO),
    ("w", errno.ENOSPC),
    ("s", errno.EIO),
    ("t", errno.EIO),
)
CALLS = "rwst"
TRIES = 5
LASTS = 10**9
"""Times: until it is mended."""


@dataclass
class Told:
    """What one run was told. `crash`: what ended in no sentence."""

    acknowledged: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    sentences: list[tuple[str, str]] = field(default_factory=list)
    failed: int = 0
    crash: str = ""


class Work:
    """The ledger's thread at its work, on a disk that fails from `broken` on until `mended`."""

    def __init__(
        self, path: Path, mended: Callable[[], None], broken: Callable[[], None] = lambda: None
    ) -> None:
        self.told = Told()
        self._path = path
        self._mended = mended
        self._broken = broken
        self._now_s = 0.0
        self._writer = self._new()

    def _new(self) -> Writer:
        return Writer(self._path, BORN, monotonic=lambda: self._now_s)

    async def run(self) -> None:
        for half in ("first", "second"):
            await self._start()
            self._broken()
            for number in range(3):
                await self._note(f"{half} {number}")
                self._now_s += 40.0  # the log is folded every second time
                await self._tried(self._writer.tend())
            await self._tried(self._writer.checkpoint())
            await self._note(f"{half} last")
            try:
                await self._writer.close()
            except LedgerError as error:
                self._say(error)
            self._writer = self._new()

    async def _start(self) -> None:
        """As whoever reads why it did not start does: mend the disk, and start it again."""
        for _ in range(TRIES):
            try:
                await self._writer.open(AT)
            except LedgerError as error:
                self._say(error)
                self._mended()
                self._writer = self._new()
            else:
                return
        raise RuntimeError("it never started again")

    async def _note(self, text: str) -> None:
        if await self._tried(self._writer.append([(None, ev.Noted(text, "Ansel"))], AT)):
            self.told.acknowledged.append(text)
        else:
            self.told.refused.append(text)

    async def _tried(self, asked: Awaitable[Any]) -> bool:
        try:
            await asked
        except LedgerError as error:
            self._say(error)
        else:
            return True
        for _ in range(TRIES):
            try:
                await self._writer.reopen(AT)
                await self._writer.append([(None, ev.LedgerRecovered(AT, "it failed"))], AT)
            except LedgerError as error:
                self._say(error)
                self._mended()
            else:
                return False
        if "stop the station" not in self.told.sentences[-1][1]:
            raise RuntimeError("it never was well again")
        with contextlib.suppress(LedgerError):
            await self._writer.close()
        self._writer = self._new()
        await self._start()
        return False

    def _say(self, error: LedgerError) -> None:
        self.told.sentences.append((error.sentence, error.next))


def worked(work: Work) -> Told:
    """What came of one run; a crash is told, too."""
    try:
        asyncio.run(work.run())
    except Exception as error:  # noqa: BLE001 - it is what is looked for
        last = traceback.extract_tb(error.__traceback__)[-1]
        work.told.crash = f"{error!r}, {last.filename}:{last.lineno}"
    return work.told


def judge(path: Path, told: Told) -> str:
    """What is wrong with the ledger, or with what was told of it; empty where nothing is."""
    if told.crash:
        return f"{told.crash}, after {told.sentences}"
    if any(not sentence or not step for sentence, step in told.sentences):
        return f"a sentence without a next step: {told.sentences}"
    with open_reader(path) as db:
        verdict = verify(db)
        texts = [record.body["text"] for record in read_events(db) if record.kind == "noted"]
    if not verdict.ok:
        return f"broken: {verdict.reason}"
    if texts != told.acknowledged:
        return f"it holds {texts}, acknowledged was {told.acknowledged}"
    if told.refused and not told.sentences:
        return "refused without a sentence"
    return ""


def one(folder: Path, disk: Disk, kind: str, number: int, at: int, times: int) -> tuple[str, Told]:
    """One run on a fresh ledger. The disk of this process fails while it runs."""
    told = Told()

    def mended() -> None:
        """Somebody takes another cable, or makes room."""
        told.failed += disk.failed
        disk.fail("-", 0, 1, 0)

    fresh(folder)
    disk.fail(kind, number, at, times)
    work = Work(folder / NAME, mended)
    work.told = told
    worked(work)
    mended()
    return judge(folder / NAME, told), told


def fresh(folder: Path) -> None:
    """A folder with nothing in it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()


def run(folder: Path, each: int | None, seed: int, kinds: str) -> dict[str, Any]:
    """All of them, in this process, which has such a disk."""
    logging.getLogger("station").setLevel(logging.CRITICAL)
    disk, chance = Disk(), random.Random(seed)
    counts: Counter[str] = Counter()
    wrong, sentences = [], set()
    for kind, number in [(kind, number) for kind, number in KINDS if kind in kinds]:
        name = f"{kind} {errno.errorcode[number]}"
        fresh(folder)
        disk.fail(kind, number, LASTS, 0)  # it counts the calls
        asyncio.run(Work(folder / NAME, lambda: None).run())
        places = range(1, disk.seen + 1)
        for at in places if each is None else sorted(chance.sample(places, min(each, len(places)))):
            for times in (1, LASTS):
                found, told = one(folder, disk, kind, number, at, times)
                counts[name] += told.failed > 0
                sentences |= {sentence for sentence, _ in told.sentences}
                if found:
                    wrong.append(f"{name} at {at}, {'once' if times == 1 else 'lasting'}: {found}")
    return {"seed": seed, "failed": counts, "sentences": sorted(sentences), "wrong": wrong}


def tortured(folder: Path, each: int | None, seed: int, kinds: str = CALLS) -> dict[str, Any]:
    """The same in a process of its own. Raises `NoCompiler`."""
    words = [sys.executable, str(Path(__file__)), "--inside", str(folder), "--seed", str(seed)]
    words += ["--kinds", kinds]
    words += [] if each is None else ["--each", str(each)]
    env = environment(build(), folder)
    done = subprocess.run(words, env=env, stdout=subprocess.PIPE, check=True)
    return dict(json.loads(done.stdout))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--each", type=int)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--kinds", default=CALLS, help="r, w, s: sync, t: truncate")
    options.add_argument("--inside", type=Path, help=argparse.SUPPRESS)
    asked = options.parse_args()
    if asked.inside:
        print(json.dumps(run(asked.inside / "ledger", asked.each, asked.seed, asked.kinds)))
        return
    with tempfile.TemporaryDirectory() as name:
        found = tortured(Path(name), asked.each, asked.seed, asked.kinds)
    print(json.dumps(found, indent=1))
    sys.exit(bool(found["wrong"]))


if __name__ == "__main__":
    main()
