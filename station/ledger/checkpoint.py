"""Checkpoints: the state at an event, kept beside the ledger so that a start need not fold it all.

A checkpoint is derived and never evidence. It is bound to the ledger, to an event and its hash, and
to the code that folds. One that does not fit in any of them is left aside, and the ledger folded
from its first event. One that fits is held against the events behind the start, too
(`station/service/behind.py`). Its SHA-256 tells a rotten file, not a forged one.
"""

import contextlib
import hashlib
import os
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from station import __version__
from station.batch.state import Station
from station.ledger.errors import LedgerError

T = TypeVar("T", bound=msgspec.Struct)

_PACKAGE = Path(__file__).parents[1]
_FOLDING = ("batch", "formula", "metrology", "units.py")
"""What decides the state that events make, under the package's folder."""


class Checkpoint(msgspec.Struct, frozen=True):
    """The state after event `seq`, whose hash is `head`. `ledger`: SHA-256 of the ledger's id,
    `code`: what folded it."""

    ledger: bytes
    seq: int
    head: bytes
    code: bytes
    station: Station


def checkpoint_path(ledger: Path) -> Path:
    """The checkpoint's file beside the ledger's own."""
    real = ledger.resolve()
    return real.with_name(f"{real.name}.state")


@cache
def code_digest() -> bytes:
    """SHA-256 over the program's version and the text of all that folds."""
    digest = hashlib.sha256(f"{__version__} msgspec {msgspec.__version__}".encode())
    for path in _sources():
        digest.update(path.relative_to(_PACKAGE).as_posix().encode() + b"\0")
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.digest()


def _sources() -> Iterator[Path]:
    for name in _FOLDING:
        place = _PACKAGE / name
        yield from sorted(place.rglob("*.py")) if place.is_dir() else [place]


def encode(kept: msgspec.Struct) -> bytes:
    """A checkpoint, or what holds one, as a file has it: a SHA-256, then MessagePack."""
    body = msgspec.msgpack.encode(kept, enc_hook=_fraction_out)
    return hashlib.sha256(body).digest() + body


def decode(data: bytes, kind: type[T]) -> T:
    """Raises `ValueError` (`msgspec.ValidationError` is one) for what is none of that kind."""
    body = data[32:]
    if hashlib.sha256(body).digest() != data[:32]:
        raise ValueError("it is not as it was written")
    return msgspec.msgpack.decode(body, type=kind, dec_hook=_fraction_in)


def _fraction_out(value: Any) -> Any:
    if isinstance(value, Fraction):
        return str(value)
    raise NotImplementedError(f"{type(value).__name__} is not for a checkpoint")


def _fraction_in(kind: type, value: Any) -> Any:
    if kind is Fraction:
        return Fraction(value)
    raise NotImplementedError(f"{kind.__name__} is not for a checkpoint")


def read_checkpoint(ledger: Path) -> Checkpoint | None:
    """The checkpoint beside a ledger, made by this code; None where there is none to be used."""
    try:
        found = decode(checkpoint_path(ledger).read_bytes(), Checkpoint)
    except (OSError, ValueError, msgspec.MsgspecError):
        return None
    return found if found.code == code_digest() else None


def write_checkpoint(ledger: Path, checkpoint: Checkpoint) -> None:
    """Put it in the place of the last one, on the disk first. Raises `LedgerError`."""
    path = checkpoint_path(ledger)
    fresh = path.with_name(f"{path.name}.new")
    try:
        with fresh.open("wb") as file:
            file.write(encode(checkpoint))
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise LedgerError(
            f"{path} cannot be written: {error.strerror}", "make room and check its rights"
        ) from error


def forget_checkpoint(ledger: Path) -> None:
    """Leave no checkpoint to begin from. Raises `LedgerError`."""
    try:
        checkpoint_path(ledger).unlink(missing_ok=True)
    except OSError as error:
        raise LedgerError(
            f"{checkpoint_path(ledger)} cannot be removed: {error.strerror}", "remove it by hand"
        ) from error
