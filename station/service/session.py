"""One client of the socket: its requests in turn, and its changes if it follows."""

import asyncio
import logging
import socket
import struct
from collections import deque
from collections.abc import Sequence
from typing import Any

import msgspec

from station.service import back
from station.service.around import Bench
from station.service.methods import call
from station.service.snapshot import offer_as_sent
from station.tomlfile import near
from station.weighing.commands import METHODS, READING, Offer, Refusal
from station.wire import Change, Event, Snapshot, changed

log = logging.getLogger("station")

WAITS_S = 3.0
"""A client that takes nothing for so long is closed."""
MOST_WAITING = 1000
_WRONG = frozenset({"bad-params", "bad-plan", "no-file", "wrong-file", "broken"})
_SHOWN_ALWAYS = ("batch", "line", "phase", "word", "sentence", "blocked", "hold", "standing")


class RpcError(Exception):
    """An error as JSON-RPC tells it."""

    def __init__(
        self, code: int, message: str, next_step: str, reason: str, offers: Sequence[Offer] = ()
    ) -> None:
        super().__init__(message)
        data: dict[str, Any] = {"next": next_step, "reason": reason}
        if offers:
            data["offers"] = [offer_as_sent(offer) for offer in offers]
        self.object = {"code": code, "message": message, "data": data}


class Session:
    """One client: its requests in turn, and its changes if it follows."""

    def __init__(
        self, bench: Bench, reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> None:
        self._bench = bench
        self._reader = reader
        self._writer = writer
        self._uid = _peer_uid(writer)
        self._waiting: deque[Change] = deque()
        self._latest: Change | None = None
        self._shown = Snapshot()
        self._seq = 0
        self._wake = asyncio.Event()
        self._sender: asyncio.Task[None] | None = None

    async def run(self) -> None:
        """Serve until the client goes, or sends a line without end."""
        try:
            while True:
                try:
                    line = await self._reader.readline()
                except ValueError:
                    error = RpcError(
                        -32600, "a line longer than 64 KiB", "one object a line", "size"
                    )
                    await self._send({"jsonrpc": "2.0", "id": None, "error": error.object})
                    return
                if not line:
                    return
                if line.strip():
                    await self._answer(line)
        except (ConnectionError, TimeoutError):
            # the client is gone or deaf; what it asked for is recorded or refused all the same
            self._writer.transport.abort()
        finally:
            self._bench.desk.unlisten(self._change)
            if self._sender is not None:
                self._sender.cancel()
            self._writer.close()

    async def _answer(self, line: bytes) -> None:
        ident: Any = None
        asked = True
        try:
            request = _parse(line)
            ident, asked = request.get("id"), "id" in request
            result = await self._dispatch(request["method"], request.get("params", {}))
            reply = {"jsonrpc": "2.0", "id": ident, "result": result}
        except RpcError as error:
            reply = {"jsonrpc": "2.0", "id": ident, "error": error.object}
        except Refusal as refusal:
            reply = {"jsonrpc": "2.0", "id": ident, "error": _of_refusal(refusal).object}
        except Exception:
            log.exception("a request failed: %r", line[:200])
            failed = RpcError(-32603, "the station failed at this request", "see its log", "bug")
            reply = {"jsonrpc": "2.0", "id": ident, "error": failed.object}
        if asked or ident is not None:  # a notification gets no answer, not even an error
            await self._send(reply)

    async def _dispatch(self, method: str, params: dict[str, Any]) -> Any:
        desk = self._bench.desk
        if method in ("state", "follow", "metrics") and set(params) - {"batch"}:
            raise RpcError(-32602, f"{method} has no parameters", "leave them out", "bad-params")
        if method == "state":
            return desk.snapshot
        if method == "metrics":
            return {"text": desk.metrics()}
        if method == "way-back":
            return back.told(self._bench, params)
        if method == "follow":
            self._shown = desk.snapshot  # first: what waits to be shown is no change after it
            if self._sender is None:
                desk.listen(self._change)
                self._sender = asyncio.create_task(self._send_changes())
            return changed(self._shown, seq=self._seq)
        if method not in METHODS:
            known = [*METHODS, *READING]
            raise RpcError(
                -32601,
                f"no method {method!r}{near(method, known)}",
                ", ".join(known),
                "unknown-method",
            )
        return await call(self._bench, method, params, self._uid)

    # following

    def _change(self, shown: Snapshot, events: tuple[Event, ...]) -> None:
        """Queue what must not be missed; of live readings keep only the latest."""
        params = changed(shown, events)
        before = self._shown
        must = bool(events) or any(getattr(shown, k) != getattr(before, k) for k in _SHOWN_ALWAYS)
        self._shown = shown
        if self._free:  # the client has taken all there was: no turn of the loop is lost
            self._write(self._numbered(params))
            return
        if must:
            self._waiting.append(params)
            self._latest = None
            if len(self._waiting) > MOST_WAITING and self._sender is not None:
                self._writer.transport.abort()
        else:
            self._latest = params
        self._wake.set()

    @property
    def _free(self) -> bool:
        transport = self._writer.transport
        waiting = self._waiting or self._latest is not None or transport.get_write_buffer_size()
        return not waiting and not transport.is_closing()

    def _numbered(self, params: Change) -> dict[str, Any]:
        self._seq += 1
        numbered = msgspec.structs.replace(params, seq=self._seq)
        return {"jsonrpc": "2.0", "method": "change", "params": numbered}

    async def _send_changes(self) -> None:
        try:
            while True:
                await self._wake.wait()
                self._wake.clear()
                while self._waiting or self._latest is not None:
                    if self._waiting:
                        await self._send(self._numbered(self._waiting.popleft()))
                    elif self._latest is not None:
                        latest, self._latest = self._latest, None
                        await self._send(self._numbered(latest))
        except (ConnectionError, TimeoutError):
            self._writer.transport.abort()

    def _write(self, message: dict[str, Any]) -> None:
        self._writer.write(msgspec.json.encode(message) + b"\n")

    async def _send(self, message: dict[str, Any]) -> None:
        self._write(message)
        await asyncio.wait_for(self._writer.drain(), WAITS_S)


def is_wrong(code: str) -> bool:
    """Whether a refusal means that the call itself was malformed, or named what there is not."""
    return code in _WRONG or code.startswith("unknown-")


def _of_refusal(refusal: Refusal) -> RpcError:
    """1 for what cannot be done now, -32602 for what was asked wrongly."""
    code = -32602 if is_wrong(refusal.code) else 1
    return RpcError(code, refusal.sentence, refusal.next, refusal.code, refusal.offers)


def _parse(line: bytes) -> dict[str, Any]:
    """A request object. Raises `RpcError`."""
    try:
        request = msgspec.json.decode(line)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise RpcError(
            -32700, f"no JSON: {error}", "send one JSON object a line", "parse"
        ) from None
    if not isinstance(request, dict) or request.get("jsonrpc") != "2.0":
        raise RpcError(-32600, "no JSON-RPC 2.0 request", 'send {"jsonrpc": "2.0", ...}', "request")
    if not isinstance(request.get("method"), str):
        raise RpcError(-32600, "method must be a text", "name a method", "request")
    if not isinstance(request.get("params", {}), dict):
        raise RpcError(-32602, "params must be an object", "name each parameter", "bad-params")
    if not isinstance(request.get("id"), (str, int, type(None))):
        raise RpcError(
            -32600, "id must be a text or a whole number", "give it another id", "request"
        )
    return request


def _peer_uid(writer: asyncio.StreamWriter) -> int | None:
    """The user at the other end, told by the kernel."""
    peer = writer.get_extra_info("socket")
    size = struct.calcsize("3i")
    try:
        _, uid, _ = struct.unpack(
            "3i", peer.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, size)
        )
    except (OSError, AttributeError):
        return None
    return int(uid)
