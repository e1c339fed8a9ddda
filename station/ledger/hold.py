"""One daemon a ledger: its file held by a lock, and watched for whatever else happens to it."""

import fcntl
import os
import shutil
from pathlib import Path

from station.ledger.errors import LedgerError

LEAST_FREE = 1 << 17
"""Bytes that must be free to open a ledger: its log's index and a first event take half of them."""


class Held:
    """A ledger's file under this process's lock, and how it looked after our last write to it.

    The lock is on the file itself, so that it holds whatever name the file is reached by. It is an
    flock, which SQLite's own locks (fcntl) do not meet; but closing any descriptor of a file drops
    a process's fcntl locks on it, so `release` comes after SQLite's connection is closed.
    """

    def __init__(self, path: Path, file: int) -> None:
        self.path = path
        self.real = path.resolve()
        self._file = file
        self._log = self.real.with_name(f"{self.real.name}-wal")
        self._size = 0
        self._written_ns = 0
        self._log_seen: os.stat_result | None = None
        self._index: int | None = None

    @classmethod
    def take(cls, path: Path) -> "Held":
        """Lock the file at `path`, made empty if it is not there. Raises `LedgerError`; the kernel
        frees the lock whatever becomes of this process."""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if shutil.disk_usage(path.parent).free < LEAST_FREE:
                raise LedgerError(f"the disk of {path} is full", "make room; it goes on then")
            file = os.open(path, os.O_RDWR | os.O_CREAT, 0o660)
        except OSError as error:
            raise LedgerError(
                f"{path} cannot be opened: {error.strerror}", "check the folder and its rights"
            ) from error
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(file)
            raise LedgerError(
                f"another station holds {path}", "stop it first, or give --ledger another file"
            ) from None
        if os.fstat(file).st_nlink > 1:
            os.close(file)
            raise LedgerError(
                f"{path} has a second name (a hard link), and its log stands beside one of them",
                "remove the other name: find its folder with find -samefile",
            )
        return cls(path, file)

    @property
    def unlinked(self) -> bool:
        """Whether the file has no name left: what it holds goes when it is closed."""
        return os.fstat(self._file).st_nlink == 0

    def fasten(self) -> None:
        """Give the log's index, which SQLite writes through memory, room on the disk: with blocks
        smaller than a page part of it has none yet, and a full disk would end the process (SIGBUS).

        Once the log is in use. Raises `LedgerError`.
        """
        path = self.real.with_name(f"{self.real.name}-shm")
        try:
            self._index = os.open(path, os.O_RDWR)
            os.posix_fallocate(self._index, 0, os.fstat(self._index).st_size)
        except OSError as error:
            raise LedgerError(
                f"{path} cannot be written: {error.strerror}", "make room on its disk"
            ) from error

    def release(self) -> None:
        """Let go; SQLite's connection is closed by now."""
        if self._index is not None:
            os.close(self._index)
        os.close(self._file)

    def look(self) -> None:
        """Note how the file looks now that we wrote to it. Raises `LedgerError` if it is gone."""
        there = self._stat()
        self._size, self._written_ns = there.st_size, there.st_mtime_ns
        self._log_seen = self._log.stat() if self._log.exists() else None

    def check(self) -> None:
        """Raise `LedgerError` unless the file is where it was and only we wrote to it."""
        there = self._stat()
        if there.st_size < self._size:
            raise self._lost("was cut short")
        if there.st_mtime_ns != self._written_ns:
            raise LedgerError(
                f"another program wrote to {self.path}", "close it; the ledger is then read anew"
            )
        if self._log_seen is None:
            return
        try:
            log = self._log.stat()
        except FileNotFoundError:
            raise self._lost("has lost its log, the file that ends in -wal") from None
        if not os.path.samestat(log, self._log_seen) or log.st_size < self._log_seen.st_size:
            raise self._lost("has another log than it had, the file that ends in -wal")

    def _stat(self) -> os.stat_result:
        """What stands at the path. Raises `LedgerError` unless it is the file that we hold."""
        try:
            there = self.real.stat()
        except (FileNotFoundError, NotADirectoryError):
            raise self._lost("is no longer there") from None
        except OSError as error:
            raise LedgerError(
                f"{self.path} cannot be reached: {error.strerror}", "check its disk and folder"
            ) from error
        if not os.path.samestat(there, os.fstat(self._file)):
            raise self._lost("was replaced by another file")
        return there

    def _lost(self, what: str) -> LedgerError:
        return LedgerError(
            f"the ledger {self.path} {what}", "put it back as it was; the station goes on then"
        )
