"""The serial port: opened exclusively, opened again for ever when lost, bytes handed over.

pyserial opens the port in an executor thread (opening can hang); pyserial-asyncio then watches it
with a Protocol. A `Link` never gives up and never raises: it says what is wrong through
`on_state`, once for each change.
"""

import asyncio
import errno
import grp
import os
import termios
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import serial
import serial_asyncio

from drivers.ports import identity_of

FIRST_RETRY_S = 0.25
LONGEST_RETRY_S = 5.0
_BITS = {"7": serial.SEVENBITS, "8": serial.EIGHTBITS}
_PARITY = {"N": serial.PARITY_NONE, "E": serial.PARITY_EVEN, "O": serial.PARITY_ODD}
_STOP = {"1": serial.STOPBITS_ONE, "2": serial.STOPBITS_TWO}


class Clock(Protocol):
    """The time a link lives in; the station's own clock fits."""

    def monotonic(self) -> float: ...
    async def sleep(self, seconds: float) -> None: ...


@dataclass(frozen=True, slots=True)
class PortSettings:
    """Where the scale is and how its line is set; `bits` is a word like 8N1 or 7E1, `dtr` and
    `rts` the levels of the control lines while the port is open."""

    port: str
    baud: int
    bits: str
    dtr: bool = True
    rts: bool = True


@dataclass(frozen=True, slots=True)
class LinkState:
    """Whether the port is open; if not, why, and what to do about it. `identity`: what an open port
    says that it is, None where it says nothing."""

    up: bool
    reason: str = ""
    next: str = ""
    identity: str | None = None


class Link:
    """Keeps one serial port open. `run()` is a task that ends only when cancelled."""

    def __init__(
        self,
        settings: PortSettings,
        clock: Clock,
        on_bytes: Callable[[bytes, float], None],
        on_state: Callable[[LinkState], None],
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._on_bytes = on_bytes
        self._on_state = on_state
        self._told: LinkState | None = None
        self._opening_since_s: float | None = None
        self._transport: Any = None

    def send(self, data: bytes) -> bool:
        """Put bytes on the line; False where no port is open."""
        if self._transport is None or self._transport.is_closing():
            return False
        self._transport.write(data)
        return True

    @property
    def opening_s(self) -> float:
        """Seconds that the present try to open has taken: an open that hangs never ends."""
        since = self._opening_since_s
        return 0.0 if since is None else self._clock.monotonic() - since

    async def run(self) -> None:
        retry_s = FIRST_RETRY_S
        while True:
            try:
                await self._read_until_lost(*await self._open())
                retry_s = FIRST_RETRY_S
            except (OSError, ValueError, termios.error) as error:  # SerialException is an OSError
                self._tell(explain(error, self._settings.port))
            await asyncio.sleep(0)  # the loop forgets the old descriptor before the next open
            await self._clock.sleep(retry_s)
            retry_s = min(2 * retry_s, LONGEST_RETRY_S)

    async def _open(self) -> tuple[serial.Serial, str | None]:
        """Open in a thread; if this task is cancelled meanwhile, the port is closed, not leaked.
        With the port comes its identity."""
        opening = asyncio.get_running_loop().run_in_executor(None, open_port, self._settings)
        self._opening_since_s = self._clock.monotonic()
        try:
            return await asyncio.shield(opening)
        except asyncio.CancelledError:
            opening.add_done_callback(_close_unwanted)
            raise
        finally:
            self._opening_since_s = None

    async def _read_until_lost(self, port: serial.Serial, identity: str | None) -> None:
        lost: asyncio.Future[Exception | None] = asyncio.get_running_loop().create_future()
        try:
            transport, _ = await serial_asyncio.connection_for_serial(
                asyncio.get_running_loop(), lambda: _Bytes(self._take, lost), port
            )
        except BaseException:
            port.close()  # pulled out in the moment it was opened
            raise
        self._transport = transport
        self._tell(LinkState(True, identity=identity))
        try:
            error = await asyncio.shield(lost)
        except asyncio.CancelledError:
            transport.abort()  # closes the port one turn of the loop later, and says so
            await lost
            raise
        finally:
            self._transport = None
        self._tell(
            LinkState(
                False,
                "its cable is out" if error else "the port was closed",
                "plug it in; the station goes on by itself",
            )
        )

    def _take(self, data: bytes) -> None:
        self._on_bytes(data, self._clock.monotonic())

    def _tell(self, state: LinkState) -> None:
        if state != self._told:
            self._told = state
            self._on_state(state)


class _Bytes(asyncio.Protocol):
    def __init__(
        self, take: Callable[[bytes], None], lost: "asyncio.Future[Exception | None]"
    ) -> None:
        self._take = take
        self._lost = lost

    def data_received(self, data: bytes) -> None:
        self._take(data)

    def connection_lost(self, exc: Exception | None) -> None:
        if not self._lost.done():
            self._lost.set_result(exc)


def line_word(settings: PortSettings) -> str:
    """The line word to set. A pty has no bits on any wire, and refuses parity."""
    pseudo = str(Path(settings.port).resolve()).startswith("/dev/pts/")
    return "8N1" if pseudo else settings.bits


class _Port(serial.Serial):
    """A port whose `read` takes what is there. The library's own waits for it first, in a call of
    its own to `select` and to a clock; the loop has just done that, at every reading of every
    scale. Where nothing is there, or the port is gone, the library says what that means."""

    def read(self, size: int = 1, /) -> bytes:
        found = b""
        if self.fd is not None:
            with suppress(OSError):
                found = os.read(self.fd, size)
        return found or bytes(super().read(size))


def open_port(settings: PortSettings) -> tuple[serial.Serial, str | None]:
    """The port, open and for this process alone, and what it says that it is. Raises `OSError`,
    `ValueError`, `termios.error`."""
    size, parity, stop = list(line_word(settings))
    port = _Port(
        None,  # opened below, once its control lines are set
        settings.baud,
        _BITS[size],
        _PARITY[parity],
        _STOP[stop],
        timeout=0,
        write_timeout=0,
        exclusive=True,
    )
    port.port, port.dtr, port.rts = settings.port, settings.dtr, settings.rts
    port.open()
    port.reset_input_buffer()  # what waited in the driver has no time of its own
    return port, identity_of(settings.port)


def _close_unwanted(opening: "asyncio.Future[Any]") -> None:
    if not opening.cancelled() and opening.exception() is None:
        opening.result()[0].close()


def explain(error: Exception, port: str) -> LinkState:
    """What is wrong with a port that cannot be opened, and the one thing that helps."""
    number = getattr(error, "errno", None)
    if number is None and isinstance(error.__context__, termios.error):
        number = error.__context__.args[0]  # the library's text holds it, and nothing else does
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return LinkState(False, "its cable is out", f"plug it in: {port} does not exist")
    if number in (errno.EACCES, errno.EPERM):
        return LinkState(False, f"no right to open {port}", _right_to(port))
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK):
        return LinkState(False, f"another program holds {port}", "stop that program")
    if number in (errno.ENOTTY, errno.EISDIR):
        return LinkState(False, f"{port} is no serial port", "find it: station scale list")
    why = str(error) if number is None else os.strerror(number)
    return LinkState(False, f"{port} cannot be opened: {why}", "check the cable and the settings")


def _right_to(port: str) -> str:
    try:
        group = grp.getgrgid(Path(port).stat().st_gid).gr_name
    except (OSError, KeyError):
        return "ask who administers this machine for the right to serial ports"
    user = os.environ.get("USER", "USER")
    return f"run: sudo usermod -aG {group} {user}   then log in again"
