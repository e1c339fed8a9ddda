"""The service manager's watchdog: fed while decisions turn, left alone once one of them hangs."""

import asyncio
import socket
import threading
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from station.service import desk as desks
from station.service.clock import Clock
from station.service.desk import Desk
from station.service.notify import Notifier
from station.service.supervisor import _feed
from station.service.writer import Writer
from station.weighing import commands as do
from tests.service.test_showing import a_desk

HANGS_S = 0.4
FED_EVERY_S = 0.05


class Manager:
    """Counts what a station tells the service manager."""

    def __init__(self, path: Path) -> None:
        self._heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._heard.bind(str(path))
        self._heard.setblocking(False)
        usec = str(int(FED_EVERY_S * 3 * 1_000_000))
        self.notifier = Notifier({"NOTIFY_SOCKET": str(path), "WATCHDOG_USEC": usec})

    def fed(self) -> int:
        """How often it was fed since it was last asked."""
        count = 0
        while True:
            try:
                count += self._heard.recv(99) == b"WATCHDOG=1"
            except BlockingIOError:
                return count

    def close(self) -> None:
        self._heard.close()


@pytest.fixture
async def fed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> AsyncIterator[tuple[Desk, Writer, Manager]]:
    """A running desk whose watchdog is fed; a decision hangs after 0.4 s."""
    monkeypatch.setattr(desks, "HANGS_S", HANGS_S)
    manager = Manager(tmp_path / "n")
    desk, writer = await a_desk(tmp_path, Clock())
    tasks = [asyncio.create_task(desk.run())]
    tasks.append(asyncio.create_task(_feed(manager.notifier, desk, [])))
    await until_fed(manager)
    yield desk, writer, manager
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    await writer.close()
    manager.close()


async def until_fed(manager: Manager) -> None:
    for _ in range(200):
        await asyncio.sleep(FED_EVERY_S)
        if manager.fed():
            return
    raise AssertionError("never fed")


async def until_starved(manager: Manager) -> None:
    for _ in range(40):
        manager.fed()
        await asyncio.sleep(4 * FED_EVERY_S)
        if not manager.fed():
            return
    raise AssertionError("fed all the time")


async def test_a_decision_that_never_ends_starves_the_watchdog_until_it_ends(
    fed: tuple[Desk, Writer, Manager], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The loop, the clock and the ledger's thread all turn; only the lock is never free again."""
    desk, writer, manager = fed
    free = asyncio.Event()
    append = writer.append

    async def hangs(*args: object) -> object:
        await free.wait()
        return await append(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(writer, "append", hangs)
    noting = asyncio.create_task(desk.submit(do.Note("hangs")))
    await until_starved(manager)
    assert not noting.done()
    free.set()
    await noting
    await until_fed(manager)


async def test_a_manager_that_takes_nothing_holds_up_nothing(tmp_path: Path) -> None:
    """Its queue is full after some datagrams; a send that waited would freeze the display."""
    manager = Manager(tmp_path / "n")

    def tell() -> None:
        for _ in range(2000):
            manager.notifier.tell("WATCHDOG=1")

    telling = threading.Thread(target=tell, daemon=True)
    telling.start()
    telling.join(10)
    assert not telling.is_alive()
    assert 0 < manager.fed() < 2000
    manager.close()
