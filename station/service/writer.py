"""One thread owns the book: a durable commit never holds up the event loop."""

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

from station.batch.events import Event, LedgerBorn
from station.batch.state import Station
from station.ledger.book import Book, Recorded

T = TypeVar("T")


class Writer:
    """The book behind its thread. After a failed write `reopen` closes, opens and folds anew."""

    def __init__(self, path: Path, born: LedgerBorn) -> None:
        self._path = path
        self._born = born
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="ledger")
        self._book: Book | None = None
        self.station = Station()
        self.simulated = born.simulated
        self.head, self.seq = b"", 0

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
        self._book = await self._run(lambda: Book.open(self._path, self._born, at))
        self._note()

    async def append(self, events: Sequence[tuple[str | None, Event]], at: str) -> list[Recorded]:
        """Record durably. Raises `LedgerError`."""
        records = await self._run(lambda: self.book.append(events, at))
        self._note()
        return records

    async def reopen(self, at: str) -> None:
        """Close and open again; the lock is let go for that moment. Raises `LedgerError`."""
        await self._run(self._close)
        await self.open(at)

    async def probe(self) -> None:
        """Return once the thread has turned: it hangs where a disk does."""
        await self._run(lambda: None)

    async def checkpoint(self) -> None:
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
        self.head, self.seq = book.head, book.seq

    def _close(self) -> None:
        if self._book is not None:
            book, self._book = self._book, None
            book.close()

    async def _run(self, work: Callable[[], T]) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)
