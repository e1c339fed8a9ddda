"""A client of the daemon's socket, for the command line and the demo."""

import json
import socket
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

LONGEST_LINE = 1 << 24
"""Bytes of an answer at most: a snapshot has some thousands."""


class ClientError(Exception):
    """The daemon could not be reached, or said no: a sentence, the next step, and a code."""

    def __init__(
        self,
        code: int,
        sentence: str,
        next_step: str,
        reason: str,
        offers: Sequence[Mapping[str, Any]] = (),
    ) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.next = next_step
        self.reason = reason
        self.offers = tuple(offers)
        """Calls that answer the refusal, as the socket sent them."""


def refused(error: Mapping[str, Any]) -> ClientError:
    """The error object of a reply."""
    data = error.get("data") or {}
    step, reason, offers = data.get("next", ""), data.get("reason", ""), data.get("offers", ())
    return ClientError(error["code"], error["message"], step, reason, offers)


class Client:
    """One connection; use it as a context. Raises `ClientError`."""

    def __init__(self, path: Path, timeout_s: float = 30.0) -> None:
        """An answer is waited for `timeout_s` seconds in all, a change without end."""
        self._path = path
        self._timeout_s = timeout_s
        self._received = bytearray()
        self._socket = socket.socket(socket.AF_UNIX)
        self._socket.settimeout(timeout_s)
        try:
            self._socket.connect(str(path))
        except OSError as error:
            self._socket.close()
            raise ClientError(
                3,
                f"no station answers at {path}: {error.strerror or error}",
                "start it: station run",
                "no-daemon",
            ) from None
        self._ident = 0

    def __enter__(self) -> "Client":
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        self._socket.close()

    def call(self, method: str, params: dict[str, Any] | None = None) -> dict[str, Any]:
        """The result of one method; changes that arrive meanwhile are left out."""
        self._ident += 1
        request = {"jsonrpc": "2.0", "id": self._ident, "method": method, "params": params or {}}
        end_s = time.monotonic() + self._timeout_s
        try:
            self._socket.settimeout(self._timeout_s)
            self._socket.sendall(json.dumps(request).encode() + b"\n")
        except ConnectionError:
            pass  # turned away: why is there to be read, or that it went away
        except OSError as error:
            raise self._gone(error) from None
        while True:
            reply = self._read(end_s)
            if "method" in reply:
                continue
            try:
                if "error" in reply:
                    raise refused(reply["error"])
                result: dict[str, Any] = reply["result"]
            except (LookupError, TypeError, AttributeError):
                raise self.strange() from None
            return result

    def changes(self) -> Iterator[dict[str, Any]]:
        """Follow: the snapshot first, then every change, until the daemon goes."""
        yield self.call("follow")
        while True:
            message = self._read(None)
            if message.get("method") == "change":
                yield message["params"]

    def _read(self, end_s: float | None) -> dict[str, Any]:
        """The next message, waited for until `end_s` (monotonic) at most."""
        while (end := self._received.find(b"\n")) < 0:
            if len(self._received) > LONGEST_LINE:
                raise self.strange()
            self._receive(end_s)
        line = bytes(self._received[:end])
        del self._received[: end + 1]
        try:
            message = json.loads(line)
        except (ValueError, RecursionError):
            message = None
        if not isinstance(message, dict):
            raise self.strange()
        return message

    def _receive(self, end_s: float | None) -> None:
        left_s = None if end_s is None else end_s - time.monotonic()
        try:
            if left_s is not None and left_s <= 0:
                raise TimeoutError
            self._socket.settimeout(left_s)
            data = self._socket.recv(1 << 16)
        except OSError as error:
            raise self._gone(error) from None
        if not data:
            raise self._gone(None)
        self._received += data

    def _gone(self, error: OSError | None) -> ClientError:
        if isinstance(error, TimeoutError):
            return ClientError(
                3,
                f"the station at {self._path} does not answer, in {self._timeout_s:g} s",
                "look at its log; what was asked for may be recorded: station state, once it does",
                "silent",
            )
        why = f": {error.strerror or error}" if error else ""
        return ClientError(
            3, f"the station went away{why}", "see whether it runs, then ask for the state", "gone"
        )

    def strange(self) -> ClientError:
        """The error for an answer that no station gives."""
        return ClientError(
            3,
            f"what answers at {self._path} is no station of this version",
            "name the station's socket with --socket",
            "no-station",
        )
