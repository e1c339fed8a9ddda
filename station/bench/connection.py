"""The display's connection to the station: follows it, calls it, notices when it goes silent."""

import asyncio
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from station.client import ClientError, refused
from station.wire import Change, read_change

SILENT_S = 1.0
"""With nothing heard for so long the station is asked; as long again, and it is lost."""
RETRY_S = 0.5
LONGEST_LINE = 1 << 20

Taken = Callable[[Change], None]
Lost = Callable[[str, str], None]


class Connection:
    """Keeps one connection for ever. `on_change` gets snapshots, `on_lost` why there are
    none, and the next step where the station told one."""

    def __init__(self, path: Path, on_change: Taken, on_lost: Lost) -> None:
        self._path = path
        self._on_change = on_change
        self._on_lost = on_lost
        self._writer: asyncio.StreamWriter | None = None
        self._answers: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self._ident = 0
        self._heard_s = 0.0

    async def run(self) -> None:
        """Connect, follow, and connect again when lost."""
        while True:
            try:
                await self._follow()
                self._on_lost("the station went away", "")
            except ClientError as error:
                self._on_lost(error.sentence, error.next)
            except (OSError, ValueError, TimeoutError) as error:
                reason = "it does not answer" if isinstance(error, TimeoutError) else str(error)
                if isinstance(error, OSError) and error.strerror:
                    reason = error.strerror
                self._on_lost(f"no station at {self._path}: {reason}", "")
            finally:
                self._drop()
            await asyncio.sleep(RETRY_S)

    async def call(self, method: str, params: dict[str, Any]) -> dict[str, Any]:
        """The result of a method. Raises `ClientError`."""
        answer = asyncio.get_running_loop().create_future()
        self._ident += 1
        ident = self._ident
        self._answers[ident] = answer
        try:
            self._send(ident, method, params)
            reply: dict[str, Any] = await asyncio.wait_for(answer, 10)
        except TimeoutError:
            raise _gone("the station does not answer") from None
        finally:
            self._answers.pop(ident, None)
        if "error" in reply:
            raise refused(reply["error"])
        result: dict[str, Any] = reply["result"]
        return result

    def _send(self, ident: int, method: str, params: dict[str, Any]) -> None:
        if self._writer is None:
            raise _gone("no station is there")
        request = {"jsonrpc": "2.0", "id": ident, "method": method, "params": params}
        self._writer.write(msgspec.json.encode(request) + b"\n")

    async def _follow(self) -> None:
        reader, self._writer = await asyncio.open_unix_connection(self._path, limit=LONGEST_LINE)
        self._heard_s = time.monotonic()
        self._send(0, "follow", {})
        listening = asyncio.ensure_future(self._listen(reader))
        try:
            while not listening.done():
                await asyncio.wait([listening], timeout=SILENT_S / 4)
                silent_s = time.monotonic() - self._heard_s
                if silent_s > 2 * SILENT_S:
                    raise TimeoutError
                if silent_s > SILENT_S:  # nothing changes, or nobody is there: ask which
                    self._send(-1, "state", {})
            listening.result()
        finally:
            listening.cancel()

    async def _listen(self, reader: asyncio.StreamReader) -> None:
        while (line := await reader.readline()).endswith(b"\n"):
            self._heard_s = time.monotonic()
            self._take(msgspec.json.decode(line))

    def _take(self, message: dict[str, Any]) -> None:
        if message.get("method") == "change":
            self._on_change(read_change(message["params"]))
        elif message.get("id") in (0, -1):
            if "result" in message:
                self._on_change(read_change(message["result"]))
        elif message.get("id") is None and "error" in message:  # of the connection itself
            raise refused(message["error"])
        else:
            answer = self._answers.get(message.get("id", 0))
            if answer is not None and not answer.done():
                answer.set_result(message)

    def _drop(self) -> None:
        if self._writer is not None:
            self._writer.close()
            self._writer = None
        for answer in self._answers.values():
            if not answer.done():
                answer.set_exception(_gone("the station went away: see whether it was recorded"))


def _gone(sentence: str) -> ClientError:
    return ClientError(3, sentence, "see whether it runs", "gone")
