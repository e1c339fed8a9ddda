"""One thread owns the book: a durable commit never holds up the event loop."""

import asyncio
import logging
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

from station.batch.events import Event, LedgerBorn
from station.batch.state import Station
from station.ledger.book import Book, Recorded
from station.ledger.chain import head_text
from station.ledger.errors import LedgerError
from station.ledger.mark import Mark
from station.service.behind import Behind

log = logging.getLogger("station")

T = TypeVar("T")


class Writer:
    """The book behind its thread. After a failed write `reopen` closes, opens and folds anew."""

    def __init__(
        self,
        path: Path,
        born: LedgerBorn,
        accept_loss: int | None = None,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """`accept_loss`: as `Book.open` takes it, for the first opening alone."""
        self._path = path
        self._born = born
        self._accept_loss = accept_loss
        self._monotonic = monotonic
        self._since_s: float | None = None
        self._known: Mark | None = None
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="ledger")
        self._book: Book | None = None
        self._behind: Behind | None = None
        self._broken: LedgerError | None = None
        self.station = Station()
        self.simulated = born.simulated
        self.head, self.seq = b"", 0
        self.took_s = 0.0
        """Seconds of the last append, from its start on the thread to its durable end."""

    @property
    def path(self) -> Path:
        return self._path

    @property
    def book(self) -> Book:
        """The open book. Raises `RuntimeError` while there is none."""
        if self._book is None:
            raise RuntimeError("the ledger is not open")
        return self._book

    async def open(self, at: str) -> None:
        """Open or make the ledger. Raises `LedgerError`."""
        if self._broken is not None:  # nothing mends it while the station runs
            raise self._broken
        accept, self._accept_loss = self._accept_loss, None
        self._book = await self._run(
            lambda: Book.open(self._path, self._born, at, self._known, accept)
        )
        if (start := self._book.start) is not None:
            self._behind = Behind(self._path, start)
        self._note()

    async def append(self, events: Sequence[tuple[str | None, Event]], at: str) -> list[Recorded]:
        """Record durably. Raises `LedgerError`."""

        def timed() -> tuple[list[Recorded], float]:
            begin_s = self._monotonic()
            return self._whole().append(events, at), self._monotonic() - begin_s

        records, self.took_s = await self._run(timed)
        self._note()
        return records

    async def reopen(self, at: str) -> None:
        """Close and open again; the lock is let go for that moment. Raises `LedgerError`, and
        leaves open what would be lost by closing."""
        await self._run(self._save_and_close)
        await self.open(at)

    @property
    def unverified(self) -> int:
        """How many events are still to be verified behind the start."""
        return 0 if self._behind is None else self._behind.unverified

    @property
    def waiting_s(self) -> float:
        """For how long the ledger's thread has been at its task, in seconds; 0 where it has none.
        What is asked of the ledger meanwhile waits so long at least, and is not recorded yet."""
        since_s = self._since_s
        return 0.0 if since_s is None else self._monotonic() - since_s

    async def probe(self) -> None:
        """Return once the thread has turned: it hangs where a disk does."""
        await asyncio.get_running_loop().run_in_executor(self._thread, lambda: None)

    async def tend(self) -> None:
        """Once a second: see that the ledger is still there, and keep its log short. Raises
        `LedgerError`."""
        if await self._run(lambda: self._whole().tend(self._monotonic())):
            log.info("the ledger has %d events, head %s", self.seq, head_text(self.head))

    async def checkpoint(self) -> None:
        """Fold the log into the file. Raises `LedgerError`."""
        await self._run(lambda: self.book.checkpoint())

    async def close(self) -> None:
        """Close cleanly; nothing can be recorded afterwards."""
        try:
            await self._run(self._close)
        finally:
            self._thread.shutdown()

    def _note(self) -> None:
        """What is recorded, for readers on other threads: kept while the book is reopened."""
        book = self.book
        self.station, self.simulated = book.station, book.simulated
        self.head, self.seq, self._known = book.head, book.seq, book.mark

    def _whole(self) -> Book:
        """The open book, while nothing was found broken behind the start. Raises `LedgerError`."""
        if self._behind is not None and self._behind.broken is not None:
            self._broken = self._behind.broken
            self.book.doubt()
            raise self._broken
        return self.book

    def _save_and_close(self) -> None:
        if self._book is not None:
            self._book.save()
        self._close()

    def _close(self) -> None:
        if self._behind is not None:
            self._behind.stop()
            self._behind = None
        if self._book is not None:
            book, self._book = self._book, None
            book.close()

    async def _run(self, work: Callable[[], T]) -> T:
        """Do `work` on the thread; callers take turns."""
        self._since_s = self._monotonic()
        try:
            return await asyncio.get_running_loop().run_in_executor(self._thread, work)
        finally:
            self._since_s = None
