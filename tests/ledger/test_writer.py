"""The book behind its thread: how long it has been at it, and what outlives a failed opening."""

import asyncio
import shutil
import threading
from pathlib import Path

import pytest

from station.ledger.book import Book, LedgerError
from station.ledger.mark import mark_path
from station.service.writer import Writer
from tests.ledger.ledgers import AT, BORN, checked, note


async def test_how_long_the_ledger_is_at_its_task_is_told_while_it_is(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = 100.0
    writer = Writer(path, BORN, monotonic=lambda: now_s)
    await writer.open(AT)
    assert writer.waiting_s == 0
    held = threading.Event()
    plain = Book.append
    monkeypatch.setattr(Book, "append", lambda *given: held.wait() and plain(*given))
    seq = writer.seq
    asked = asyncio.ensure_future(writer.append(note(), AT))
    await asyncio.sleep(0)
    now_s = 100.75
    probed = asyncio.ensure_future(writer.probe())  # waits in line, and is no task of the ledger's
    await asyncio.sleep(0)
    assert (writer.waiting_s, writer.seq) == (0.75, seq)
    held.set()
    await asyncio.gather(asked, probed)
    assert (writer.waiting_s, writer.seq) == (0, seq + 1)
    await writer.close()


async def test_the_last_copy_of_a_ledger_stays_open_until_it_is_saved(path: Path) -> None:
    writer = Writer(path, BORN)
    await writer.open(AT)
    await writer.append(note("nowhere else"), AT)
    shutil.rmtree(path.parent)
    for _ in range(2):
        with pytest.raises(LedgerError):
            await writer.reopen(AT)
    path.parent.mkdir()
    with pytest.raises(LedgerError, match="a whole copy is saved as"):
        await writer.reopen(AT)
    (copy,) = path.parent.glob("*.rescued-*")
    assert checked(copy).events == writer.seq
    copy.rename(path)
    await writer.reopen(AT)
    await writer.append(note("on and on"), AT)
    await writer.close()
    assert checked(path).events == writer.seq


async def test_a_ledger_put_back_to_an_earlier_day_while_it_is_opened_again_is_told(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the mark of that day: what was acknowledged since is known here alone."""
    earlier = {file: file.read_bytes() for file in (path, mark_path(path))}
    writer = Writer(path, BORN)
    await writer.open(AT)
    await writer.append(note(), AT)
    plain = Book.close

    def close(book: Book) -> None:
        plain(book)
        for file, content in earlier.items():
            file.write_bytes(content)

    monkeypatch.setattr(Book, "close", close)
    with pytest.raises(LedgerError, match="it ends at event"):
        await writer.reopen(AT)
    await writer.close()
