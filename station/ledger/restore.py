"""A backup put in the place of a ledger: verified first, and nothing of what was there is lost."""

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from sqlite_utils.db import Database

from station.ledger import chain
from station.ledger.checkpoint import checkpoint_path
from station.ledger.copying import copy_whole
from station.ledger.errors import PUT_ASIDE, LedgerError
from station.ledger.hold import Held
from station.ledger.mark import Mark, read_mark
from station.ledger.reading import open_reader
from station.ledger.verify import Verdict, verify

ANOTHER = "nothing was changed; take another backup"


@dataclass(frozen=True, slots=True)
class Restored:
    """What stands at the ledger's place now. `kept`: what stood there, under its new names;
    `known`: the last event that was known of the ledger, where the backup does not reach it."""

    events: int
    head: str
    kept: tuple[str, ...]
    known: int | None


def restore(backup: Path, ledger: Path, name: str) -> Restored:
    """Put a copy of `backup` at `ledger`; what is there is renamed to end in `name`.

    The mark stays: where the backup is behind it, the next start asks before anything is lost.
    Raises `LedgerError`, and has changed nothing then.
    """
    if backup.exists() and ledger.exists() and backup.samefile(ledger):
        raise LedgerError(f"{backup} is the ledger itself", "name a backup of it")
    mark = read_mark(ledger)
    with _backup(backup) as db:
        verdict = verify(db)
        _refused(db, backup, verdict, mark)
        was_there = ledger.exists()
        held = Held.take(ledger)
        try:
            fresh = _free(held.real, "restored")
            copy_whole(db.conn, fresh)
            try:
                with open_reader(fresh) as copy:
                    _same(verify(copy), verdict, fresh)
                kept = _swapped(held, fresh, name if was_there else None)
            except BaseException:
                with contextlib.suppress(OSError):
                    fresh.unlink()
                raise
        except OSError as error:
            raise LedgerError(
                f"{ledger} cannot be replaced: {error.strerror}", "check the folder's rights"
            ) from error
        finally:
            if not was_there and held.real.exists() and held.real.stat().st_size == 0:
                held.real.unlink()
            held.release()
    behind = mark is not None and mark.seq > verdict.events
    return Restored(verdict.events, verdict.head, kept, mark.seq if mark and behind else None)


@contextlib.contextmanager
def _backup(path: Path) -> Iterator[Database]:
    """The backup, open; what is to be done about a damaged one is another thing than for a ledger.
    Raises `LedgerError`."""
    try:
        with open_reader(path) as db:
            yield db
    except LedgerError as error:
        if error.next != PUT_ASIDE:
            raise
        raise LedgerError(error.sentence, ANOTHER) from error


def _refused(db: Database, backup: Path, verdict: Verdict, mark: Mark | None) -> None:
    """Raise `LedgerError` for a backup that is broken, or of another ledger."""
    if not verdict.ok:
        where = f" at event {verdict.first_broken}" if verdict.first_broken else ""
        raise LedgerError(f"{backup} is broken{where}: {verdict.reason}", ANOTHER)
    if mark is None:
        return
    (ident,) = db.execute("SELECT id FROM ledger").fetchone()
    another = chain.first_prev(ident).hex() != mark.ledger
    if not another and mark.seq <= verdict.events:
        (digest,) = db.execute("SELECT hash FROM event WHERE seq = ?", [mark.seq]).fetchone()
        another = digest.hex() != mark.head
    if another:
        raise LedgerError(
            f"{backup} is of another ledger than the one that was here, of {mark.seq} events",
            "nothing was changed; give --ledger a new name for it",
        )


def _same(copy: Verdict, source: Verdict, path: Path) -> None:
    if copy != source:
        raise LedgerError(
            f"{path} is not as it was copied: {copy.reason}", "nothing was changed; check the disk"
        )


def _free(ledger: Path, end: str) -> Path:
    """A name beside the ledger that nothing has."""
    names = (ledger.with_name(f"{ledger.name}.{end}-{number}") for number in count(1))
    return next(name for name in names if not name.exists())


def _swapped(held: Held, fresh: Path, name: str | None) -> tuple[str, ...]:
    """Rename what is there, then the copy."""
    real = held.real
    kept: tuple[str, ...] = ()
    if name is not None:
        there = real.stat()
        fresh.chmod(there.st_mode & 0o777)
        with contextlib.suppress(PermissionError):  # only root gives files away
            os.chown(fresh, there.st_uid, there.st_gid)
        kept = _renamed(real, name)
    Path(f"{real}-shm").unlink(missing_ok=True)
    checkpoint_path(real).unlink(missing_ok=True)  # of what was there: all is checked at the start
    fresh.rename(real)
    folder = os.open(real.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return kept


def _renamed(real: Path, name: str) -> tuple[str, ...]:
    """The log first: alone it would meet the next ledger. Raises `LedgerError` before the first."""
    moves = {
        Path(f"{real}{end}"): real.with_name(f"{real.name}.{name}{end}") for end in ("-wal", "")
    }
    for target in moves.values():
        if target.exists():
            raise LedgerError(f"{target} exists already", "wait a second, then again")
    log = next(iter(moves))
    if not log.exists() or log.stat().st_size == 0:
        log.unlink(missing_ok=True)  # looking alone leaves an empty one
        del moves[log]
    for source, target in moves.items():
        source.rename(target)
    return tuple(str(target) for target in moves.values())
