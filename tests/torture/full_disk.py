"""The disk has so many blocks left and no more, whatever is written with the last of them.

    python tests/torture/full_disk.py [--step BLOCKS]

A small disk in memory where a mount is to be had (as root), else a limit on the size of files. For
each number of free blocks the ledger's thread works as in `faults.py`, from an open ledger on; once
it was refused somebody makes room. Nothing acknowledged may be missing or there twice.
"""

import argparse
import contextlib
import json
import logging
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.torture.faults import NAME, Told, Work, fresh, judge, worked

BLOCK = 4096
MOST = 40
"""Blocks: more than the work takes."""


class Room(Protocol):
    """What is left, in blocks."""

    def leave(self, blocks: int) -> None: ...
    def make(self) -> None: ...


class SmallDisk:
    """A disk of its own, and a file on it that takes all but what is to be left."""

    def __init__(self, place: Path) -> None:
        self._ballast = place / "ballast"

    def leave(self, blocks: int) -> None:
        free = os.statvfs(self._ballast.parent).f_bavail
        with self._ballast.open("wb") as file:
            os.posix_fallocate(file.fileno(), 0, max(free - blocks, 1) * BLOCK)

    def make(self) -> None:
        self._ballast.unlink(missing_ok=True)


class Limit:
    """No file may be longer than the log is now and what is to be left."""

    def __init__(self, log: Path) -> None:
        self._log = log
        self._was = resource.getrlimit(resource.RLIMIT_FSIZE)

    def leave(self, blocks: int) -> None:
        most = self._log.stat().st_size + blocks * BLOCK
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, self._was[1]))

    def make(self) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, self._was)


@contextlib.contextmanager
def small_disk(place: Path) -> Iterator[bool]:
    """Whether there is one at `place`."""
    words = ["mount", "-t", "tmpfs", "-o", "size=2m", "none", str(place)]
    there = subprocess.run(words, capture_output=True, check=False).returncode == 0
    try:
        yield there
    finally:
        if there:
            subprocess.run(["umount", "-l", str(place)], check=True)


def one(folder: Path, room: Room, blocks: int) -> tuple[str, Told]:
    """One run on a fresh ledger, with so many blocks from its opening on."""
    fresh(folder)
    work = Work(folder / NAME, room.make, lambda: room.leave(blocks))
    told = worked(work)
    room.make()
    return judge(folder / NAME, told), told


def run(place: Path, step: int, mount: bool) -> dict[str, Any]:
    """How many runs were refused something, all sentences, and what was wrong."""
    logging.getLogger("station").setLevel(logging.CRITICAL)
    refused, sentences, wrong = 0, set(), []
    with small_disk(place) if mount else contextlib.nullcontext(False) as own:
        folder = place / "ledger"
        room = SmallDisk(place) if own else Limit(folder / f"{NAME}-wal")
        for blocks in range(0, MOST, step):
            found, told = one(folder, room, blocks)
            refused += bool(told.refused)
            sentences |= {sentence for sentence, _ in told.sentences}
            if found:
                wrong.append(f"{blocks} blocks: {found}")
    disk = "a small disk" if own else "a limit on the size of files"
    return {"disk": disk, "runs": len(range(0, MOST, step)), "refused": refused,
            "sentences": sorted(sentences), "wrong": wrong}  # fmt: skip


def alone(words: list[str]) -> dict[str, Any]:
    """The same in a process of its own, which a full disk may end (SIGBUS)."""
    done = subprocess.run(words, stdout=subprocess.PIPE, check=False)
    assert done.returncode in (0, 1), done.returncode
    return dict(json.loads(done.stdout))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--step", type=int, default=1)
    options.add_argument("--no-mount", action="store_true", help="limit the size of files instead")
    asked = options.parse_args()
    with tempfile.TemporaryDirectory() as name:
        found = run(Path(name), asked.step, not asked.no_mount)
    print(json.dumps(found, indent=1))
    sys.exit(bool(found["wrong"]))


if __name__ == "__main__":
    main()
