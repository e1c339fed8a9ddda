"""Who follows hears what is so, and then every change, from the first one on."""

import asyncio
from types import SimpleNamespace
from typing import Any

from station.service.session import Session
from station.wire import Snapshot


class StaleDesk:
    """Tells its listeners what waits to be shown as soon as somebody looks."""

    def __init__(self) -> None:
        self.listeners: list[Any] = []

    def listen(self, listener: Any) -> None:
        self.listeners.append(listener)

    @property
    def snapshot(self) -> Snapshot:
        shown = Snapshot(word="READY")
        for listener in self.listeners:
            listener(shown, ())
        return shown


class Wire:
    """A writer that keeps what is written."""

    def __init__(self) -> None:
        self.written: list[bytes] = []
        self.transport = SimpleNamespace(
            get_write_buffer_size=lambda: 0, is_closing=lambda: False, abort=lambda: None
        )

    def get_extra_info(self, name: str) -> None:
        return None

    def write(self, data: bytes) -> None:
        self.written.append(data)


async def test_no_change_goes_out_before_the_snapshot_that_it_follows() -> None:
    """A client leaves out what comes before its answer: the first change would be lost."""
    wire = Wire()
    session = Session(SimpleNamespace(desk=StaleDesk()), asyncio.StreamReader(), wire)  # type: ignore[arg-type]
    answer = await session._dispatch("follow", {})
    assert (answer.seq, wire.written) == (0, [])
    assert session._sender is not None
    session._sender.cancel()
