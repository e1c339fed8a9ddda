"""The other end of `disk.c`: build it, put it before a process, read back what it remembers, and
play a part of that again as a power cut would have left it."""

import ctypes
import os
import random
import shutil
import struct
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
_HEAD = struct.Struct("=4Q")
SECTOR = 512
"""Bytes that a disk writes whole or not at all."""


class NoCompiler(RuntimeError):
    """There is nothing to build the disk with; the message is the reason a test is skipped for."""


def build() -> Path:
    """The library. Raises `NoCompiler`."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        raise NoCompiler("there is no C compiler (cc) on this machine")
    library = Path(tempfile.mkdtemp(prefix="disk-")) / "disk.so"
    words = [compiler, "-O1", "-shared", "-fPIC", "-o", str(library), str(HERE / "disk.c"), "-ldl"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode:
        raise NoCompiler(f"the disk cannot be built: {done.stderr.strip()[-200:]}")
    return library


def environment(library: Path, folder: Path) -> dict[str, str]:
    """What a process needs to have this disk under `folder`."""
    root = str(HERE.parents[1])
    return {**os.environ, "LD_PRELOAD": str(library), "DISK_UNDER": str(folder),
            "PYTHONPATH": root}  # fmt: skip


class Disk:
    """The disk of this very process, which was started with `environment`."""

    def __init__(self) -> None:
        self._calls = ctypes.CDLL(None)
        self._calls.disk_mark.argtypes = [ctypes.c_uint64]
        self._calls.disk_fail.argtypes = [ctypes.c_char, ctypes.c_int, ctypes.c_long, ctypes.c_long]
        self._calls.disk_failed.restype = self._calls.disk_seen.restype = ctypes.c_long

    def record(self, file: Path) -> None:
        """Remember from now on, in `file`."""
        self._calls.disk_record(os.fsencode(file))

    def mark(self, number: int) -> None:
        """Remember that so much was acknowledged by now."""
        self._calls.disk_mark(number)

    def fail(self, kind: str, number: int, at: int, times: int) -> None:
        """From now on the calls of `kind` (r, w, s: fsync, t: truncate) fail with the errno
        `number`, from the one `at` on, so many `times`."""
        self._calls.disk_fail(kind.encode(), number, at, times)

    @property
    def seen(self) -> int:
        """How many calls of that kind there were since."""
        return int(self._calls.disk_seen())

    @property
    def failed(self) -> int:
        """How many of them failed."""
        return int(self._calls.disk_failed())


@dataclass(frozen=True, slots=True)
class Op:
    """One thing that was done to a file. `kind`: w rite, t runcate, s ync, u nlink, m ove to
    `data`, A cknowledged up to `at`."""

    kind: str
    path: str
    at: int
    data: bytes


def read_ops(file: Path) -> list[Op]:
    """All that was remembered, in its order."""
    text, at, found = file.read_bytes(), 0, []
    while at < len(text):
        kind, name, offset, size = _HEAD.unpack_from(text, at)
        at += _HEAD.size
        path, data = text[at : at + name], text[at + name : at + name + size]
        at += name + size
        found.append(Op(chr(kind), os.fsdecode(path), offset, data))
    return found


class Files:
    """The files as they stand on the disk after some of what was done."""

    def __init__(self) -> None:
        self._files: dict[str, bytearray] = {}

    @property
    def content(self) -> dict[str, bytes]:
        """What is in each."""
        return {path: bytes(data) for path, data in self._files.items()}

    def do(self, op: Op, most: int | None = None) -> None:
        """One thing more; of a write the first `most` bytes alone."""
        if op.kind == "w":
            file, data = self._files.setdefault(op.path, bytearray()), op.data[:most]
            if len(file) < op.at:
                file.extend(bytes(op.at - len(file)))
            file[op.at : op.at + len(data)] = data
        elif op.kind == "t":
            file = self._files.setdefault(op.path, bytearray())
            del file[op.at :]
            file.extend(bytes(op.at - len(file)))
        elif op.kind == "u":
            self._files.pop(op.path, None)
        elif op.kind == "m" and op.path in self._files:
            self._files[os.fsdecode(op.data)] = self._files.pop(op.path)

    def put(self, source: Path, folder: Path) -> None:
        """Write them into `folder`, as they were under `source`."""
        for path, data in self._files.items():
            target = folder / Path(path).relative_to(source)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)


def unsynced(ops: Sequence[Op]) -> Iterator[int]:
    """The places of those that no sync has seen to the disk: of a file by its own, of a name by its
    folder's."""
    files: dict[str, list[int]] = {}
    names: list[int] = []
    for place, op in enumerate(ops):
        if op.kind in "wt":
            files.setdefault(op.path, []).append(place)
        elif op.kind in "um":
            names.append(place)
        elif op.kind == "s":
            files.pop(op.path, None)
            names = [n for n in names if os.path.dirname(ops[n].path) != op.path]  # noqa: PTH120
    yield from sorted([*(place for places in files.values() for place in places), *names])


def lossy(ops: Sequence[Op], seed: int) -> Files:
    """The files where some of what was not synced got lost, and some was torn, by chance: a disk
    writes in the order it likes until it is told to sync."""
    chance = random.Random(seed)
    lost = {place for place in unsynced(ops) if chance.random() < 0.5}
    files = Files()
    for place, op in enumerate(ops):
        if place not in lost:
            files.do(op)
        elif op.kind == "w" and len(op.data) > SECTOR and chance.random() < 0.5:
            files.do(op, chance.randrange(SECTOR, len(op.data), SECTOR))
    return files
