"""A client of the daemon's socket, for the command line and the demo."""

import json
import socket
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any


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

    def __init__(self, path: Path, timeout_s: float | None = 30.0) -> None:
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
        self._lines = self._socket.makefile("rb")
        self._ident = 0

    def __enter__(self) -> "Client":
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        self._lines.close()
        self._socket.close()

    def call(self, method: str, params: dict[str, Any] | None = None) -> dict[str, Any]:
        """The result of one method; changes that arrive meanwhile are left out."""
        self._ident += 1
        request = {"jsonrpc": "2.0", "id": self._ident, "method": method, "params": params or {}}
        try:
            self._socket.sendall(json.dumps(request).encode() + b"\n")
        except OSError as error:
            raise _gone(error) from None
        while True:
            reply = self._read()
            if "method" in reply:
                continue
            if "error" in reply:
                raise refused(reply["error"])
            result: dict[str, Any] = reply["result"]
            return result

    def changes(self) -> Iterator[dict[str, Any]]:
        """Follow: the snapshot first, then every change, until the daemon goes."""
        yield self.call("follow")
        while True:
            message = self._read()
            if message.get("method") == "change":
                yield message["params"]

    def _read(self) -> dict[str, Any]:
        try:
            line = self._lines.readline()
        except OSError as error:
            raise _gone(error) from None
        if not line.endswith(b"\n"):
            raise _gone(None)
        message: dict[str, Any] = json.loads(line)
        return message


def _gone(error: OSError | None) -> ClientError:
    why = f": {error.strerror or error}" if error else ""
    return ClientError(
        3, f"the station went away{why}", "see whether it runs, then ask for the state", "gone"
    )
