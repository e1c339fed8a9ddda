"""The socket: JSON-RPC 2.0, one object a line, one session for each client."""

import asyncio
import errno
import logging
import os
import socket
from pathlib import Path
from typing import Any

import msgspec

from station.service.around import Bench
from station.service.session import RpcError, Session

log = logging.getLogger("station")

LONGEST_LINE = 64 * 1024
MOST_CLIENTS = 64
"""At once; far more than a bench has, far fewer than would slow the station."""
TURNED_AWAY_S = 1.0
"""A client that is turned away has so long to say something."""
TOLD_AGAIN_S = 60.0
"""A shortage that comes and goes is told once in so long."""
_SHORT_OF = frozenset({errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM})


class Server:
    """Listens on a Unix socket that the group may use; its sessions end with it."""

    def __init__(self, bench: Bench, path: Path) -> None:
        self._bench = bench
        self._path = path
        self._sessions: dict[asyncio.Task[Any], asyncio.StreamWriter] = {}
        self._server: asyncio.Server | None = None
        self._served = 0
        self._short = False
        self._short_told_s = -TOLD_AGAIN_S

    async def start(self) -> None:
        """Bind and listen. Raises `OSError`; a socket that answers is another station's."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        with socket.socket(socket.AF_UNIX) as probe:
            if probe.connect_ex(str(self._path)) == 0:
                raise OSError(errno.EADDRINUSE, "another station answers there")
        if self._path.exists():
            if not self._path.is_socket():
                raise OSError(errno.EEXIST, "a file that is no socket is there")
            self._path.unlink()  # left behind by a kill
        asyncio.get_running_loop().set_exception_handler(self._failed)
        before = os.umask(0o117)
        try:
            self._server = await asyncio.start_unix_server(
                self._client, self._path, limit=LONGEST_LINE
            )
        finally:
            os.umask(before)

    async def stop(self) -> None:
        if self._server is not None:
            self._server.close()
        for writer in self._sessions.values():
            writer.transport.abort()  # each session then ends by itself
        await asyncio.gather(*self._sessions, return_exceptions=True)
        self._path.unlink(missing_ok=True)

    async def _client(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._sessions[task] = writer
        if self._short:
            self._short = False
            log.warning("clients can connect again")
        try:
            if self._served >= MOST_CLIENTS:
                await _turn_away(reader, writer)
            else:
                await self._serve(reader, writer)
        finally:
            del self._sessions[task]

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._served += 1
        try:
            await Session(self._bench, reader, writer).run()
        finally:
            self._served -= 1

    def _failed(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        """What the loop could not do: no client could be taken in, or a mistake of ours."""
        error = context.get("exception")
        if (
            "socket" not in context
            or not isinstance(error, OSError)
            or error.errno not in _SHORT_OF
        ):
            loop.default_exception_handler(context)
        elif loop.time() - self._short_told_s >= TOLD_AGAIN_S:
            # the loop tries again each second, and calls this many times each time
            self._short, self._short_told_s = True, loop.time()
            log.error("no more clients can connect: %s; close some of them", error.strerror)


async def _turn_away(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Say why, and close once the client has said something: who still writes into a connection
    that is closed is told of that instead."""
    error = RpcError(
        1,
        f"the station has {MOST_CLIENTS} clients, and takes no more",
        "close a display or a program that follows it, then try again",
        "too-many",
    )
    reply = {"jsonrpc": "2.0", "id": None, "error": error.object}
    try:
        writer.write(msgspec.json.encode(reply) + b"\n")
        await asyncio.wait_for(reader.read(LONGEST_LINE), TURNED_AWAY_S)
    except (ConnectionError, TimeoutError):
        pass  # it is closed all the same
    finally:
        writer.close()
