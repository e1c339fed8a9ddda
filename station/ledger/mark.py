"""The mark: the last event of a ledger, kept beside its file, so that a shorter one is noticed.

It is written over in place after each durable commit and not synced by itself: a power cut can
leave it behind the ledger, never ahead of what was acknowledged. Behind costs nothing but the
events in between; ahead would refuse a ledger that is whole. It is synced when it is made, when the
ledger's log is folded into its file, and at the end.
"""

import contextlib
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

import msgspec

from station.ledger.errors import LedgerError

_SIZE = 256
"""Bytes, always the same and less than a sector of any disk: written over whole or not at all."""


@dataclass(frozen=True, slots=True)
class Mark:
    """An event that stood in a ledger. `ledger`: SHA-256 of its id, `head`: hash of event `seq`,
    `root`: of the hash tree over the batches then (empty where no tree was kept), all in hex."""

    ledger: str
    seq: int
    head: str
    root: str = ""


def mark_path(ledger: Path) -> Path:
    """The mark's file beside the ledger's own."""
    real = ledger.resolve()
    return real.with_name(f"{real.name}.head")


def read_mark(ledger: Path) -> Mark | None:
    """The mark beside a ledger, None where there is none. Raises `LedgerError`."""
    path = mark_path(ledger)
    try:
        return msgspec.json.decode(path.read_bytes(), type=Mark)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise LedgerError(f"{path} cannot be read: {error.strerror}", "check its rights") from error
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise LedgerError(
            f"{path} says nothing of the ledger's last event: {error}",
            "compare the ledger with the last sheet on paper, then remove that file",
        ) from error


class MarkFile:
    """The mark beside a ledger that is open for writing."""

    def __init__(self, ledger: Path) -> None:
        """Open the file where it is there; `keep` makes it. Raises `LedgerError`."""
        self.path = mark_path(ledger)
        self._file: int | None = None
        try:
            self._file = os.open(self.path, os.O_RDWR)
        except FileNotFoundError:
            pass
        except OSError as error:
            raise self._failed(error) from error

    def _failed(self, error: OSError) -> LedgerError:
        return LedgerError(
            f"{self.path} cannot be written: {error.strerror}",
            "make room and check its rights; it goes on then",
        )

    def write(self, mark: Mark) -> None:
        """Write it over. A disk that refuses leaves it behind, which `keep` then tells."""
        if self._file is not None:
            with contextlib.suppress(OSError):
                os.pwrite(self._file, _text(mark), 0)

    def keep(self, mark: Mark) -> None:
        """Write it and see it on the disk, in a file that is there. Raises `LedgerError`."""
        try:
            if self._file is None or not self._there(self._file):
                self.close()
                self._file = self._made(mark)
            os.pwrite(self._file, _text(mark), 0)
            os.fsync(self._file)
            folder = os.open(self.path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)  # its name, too
            finally:
                os.close(folder)
        except OSError as error:
            raise self._failed(error) from error

    def _made(self, mark: Mark) -> int:
        """A new file that has its name once it says something: an empty one would refuse the
        ledger. Raises `OSError`."""
        fresh = self.path.with_name(f"{self.path.name}.new")
        file = os.open(fresh, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o660)
        try:
            os.pwrite(file, _text(mark), 0)
            os.fsync(file)
            fresh.rename(self.path)
        except BaseException:
            os.close(file)
            raise
        return file

    def _there(self, file: int) -> bool:
        try:
            return os.path.samestat(self.path.stat(), os.fstat(file))
        except FileNotFoundError:
            return False

    def close(self) -> None:
        if self._file is not None:
            file, self._file = self._file, None
            os.close(file)


def _text(mark: Mark) -> bytes:
    return json.dumps(asdict(mark)).encode().ljust(_SIZE - 1) + b"\n"
