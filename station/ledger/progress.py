"""How far a verification came, kept beside the ledger, so that one that was interrupted goes on.

It holds what the check had made of the events by then: the state, the leaves of the hash tree and
the number of rows. Like a checkpoint it is bound to the ledger, an event and the code that folds;
one that does not fit is left aside. Whoever could change it could have the check begin from
another state, so that the answer says what was checked by an earlier run.
"""

import contextlib
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

from station.ledger import tree
from station.ledger.checkpoint import Checkpoint, code_digest, decode, encode
from station.ledger.errors import LedgerError
from station.ledger.rows import Rows
from station.ledger.walk import Walk

SAVES_S = 10.0
"""Seconds of checking between two writings."""


class Proven(msgspec.Struct, frozen=True):
    """All up to `here` was found whole at the time `at` (RFC 3339, UTC). `leaves`: batch, events,
    digest; `made`: rows by table."""

    here: Checkpoint
    at: str
    leaves: tuple[tuple[str, int, bytes], ...]
    made: dict[str, int]


def progress_path(ledger: Path) -> Path:
    """Its file beside the ledger's own."""
    real = ledger.resolve()
    return real.with_name(f"{real.name}.proven")


class Progress:
    """Reads the file once, writes it now and then, and removes it at the end. `since`: the event
    after which this run went on, and `at`, when all up to it was proven; None where it began."""

    def __init__(
        self, ledger: Path, now: Callable[[], str], monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        self.path = progress_path(ledger)
        self._fresh = self.path.with_name(f"{self.path.name}.new")
        self._now = now
        self._monotonic = monotonic
        self._saved_s = monotonic()
        self.since: int | None = None
        self.at: str | None = None

    def read(self) -> Proven | None:
        """None where there is none that this code made. Raises `LedgerError` where none can be
        written: nobody is to wait for hours for what is not kept."""
        try:
            self._fresh.touch()
            self._fresh.unlink()
        except OSError as error:
            raise LedgerError(
                f"{self.path} cannot be written: {error.strerror}", "verify without --resume"
            ) from error
        try:
            found = decode(self.path.read_bytes(), Proven)
        except (OSError, ValueError, msgspec.MsgspecError):
            return None
        return found if found.here.code == code_digest() else None

    def go_on(self, found: Proven, walk: Walk, rows: Rows) -> None:
        """Stand where it stood; whether the ledger still has that event was looked at."""
        walk.stand_on(found.here.station, found.here.seq, found.here.head)
        walk.leaves = tree.Leaves(found.leaves)
        rows.made.update(found.made)
        self.since, self.at = found.here.seq, found.at

    def note(self, walk: Walk, rows: Rows) -> None:
        """Write it, if it is time; a disk that refuses leaves the one before."""
        if self._monotonic() - self._saved_s < SAVES_S or rows.difference is not None:
            return
        here = Checkpoint(walk.first, walk.seq, walk.head, code_digest(), walk.station)
        leaves = tuple((batch, events, digest) for _, batch, events, digest in walk.leaves.rows())
        with contextlib.suppress(OSError):
            self._fresh.write_bytes(encode(Proven(here, self._now(), leaves, dict(rows.made))))
            self._fresh.replace(self.path)
        self._saved_s = self._monotonic()

    def forget(self) -> None:
        """It came to its end."""
        with contextlib.suppress(OSError):
            self.path.unlink(missing_ok=True)

    def not_checked(self) -> list[str]:
        """What this run left to an earlier one, for people."""
        if self.since is None:
            return []
        found = f"an earlier run found them whole at {self.at}"
        return [f"events 1 to {self.since} and what they make: {found}"]
