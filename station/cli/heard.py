"""What a port says, for the command line: lines for a person, or one JSON object a line."""

import asyncio
import errno
import os
import sys
from collections import deque
from collections.abc import Callable, Coroutine, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from drivers.grammar import Grammar
from drivers.grammar_file import LineSettings
from drivers.identify import hint
from drivers.link import LinkState, PortSettings
from drivers.measured import Measured
from drivers.places import Item
from drivers.reading import Condition, Fault, Kind, Reading
from drivers.unread import Suspicion, suspicion
from station import units
from station.cli.common import CANNOT, WRONG_USE, fail, json_text, say
from station.pan.signal import used_g
from station.service.clock import stamp
from station.units import UnitError

LOOKS = 32
"""After so many readings and faults more it is looked whether the grammar leaves a checksum out."""


class Printer:
    """Tells what arrives: lines for a person, or one JSON object a line. Where that cannot be
    printed (a closed pipe, a full disk), `ended` is set, and `failed` says why. With the `grammar`
    that reads, it says once if that seems to leave a checksum out."""

    def __init__(self, as_json: bool, grammar: Grammar | None = None) -> None:
        self._as_json = as_json
        self._grammar = grammar  # None where there is none, and once its checksum was told
        self._heard: deque[Item] = deque(maxlen=16 * LOOKS)
        self._fresh = 0
        self._readings = 0
        self.opened = asyncio.Event()
        self.ended = asyncio.Event()
        self.failed: OSError | None = None
        self.down: LinkState | None = None
        self._unit: str | None = None  # the last that it sent: the unit it works in

    def state(self, state: LinkState) -> None:
        self.down = None if state.up else state
        if state.up:
            self.opened.set()
        else:
            say(f"station: {state.reason}; {state.next}", err=True)

    def raw(self, data: bytes) -> None:
        """Bytes for a person, sixteen in a line."""
        for at in range(0, len(data), 16):
            self._out(dump(data[at : at + 16]))

    def end(self, rest: bytes) -> None:
        """The listening is over; `rest` are bytes that are no frame yet. Where nothing was read,
        say what arrived, and what to look at."""
        self.look()
        if self._readings or self._grammar is None:
            return
        if rest:
            self.items([Fault("no whole frame", 0.0, rest)], 0.0)
        heard = b"".join(item.raw for item in self._heard)
        say(f"station: nothing was read by {self._grammar.name}; {hint(heard)}", err=True)

    def chunk(self, data: bytes, time_s: float) -> None:
        for at in range(0, len(data), 16):
            part = data[at : at + 16]
            at_s = stamp(datetime.now(UTC))
            self._out(json_text({"at": at_s, "raw": part.hex()}) if self._as_json else dump(part))

    def items(self, items: Sequence[Item], time_s: float) -> None:
        for item in items:
            self._readings += not isinstance(item, Fault)
            if isinstance(item, Reading):
                self._unit = item.unit or self._unit
            if self._as_json:
                self._out(json_text(_object(item, self._unit)))
            else:
                self._out(f"{dump(item.raw[:40])}  {_words(item, self._unit)}")
                if isinstance(item, Fault):  # all of what nobody could read
                    self.raw(item.raw[40:])
            self._heard.append(item)
            self._fresh += 1
            if self._fresh >= LOOKS:
                self.look()

    def look(self) -> None:
        """Say if the grammar seems to leave a checksum out."""
        self._fresh = 0
        if self._grammar is None:
            return
        if (found := suspicion(self._grammar, list(self._heard))) is not None:
            say(f"station: {found.says}; {found.next}", err=True)
            self._grammar = None

    def guarded(self, take: Callable[[bytes, float], None]) -> Callable[[bytes, float], None]:
        """`take`, whose failing disk ends the run instead of the loop."""

        def guard(data: bytes, time_s: float) -> None:
            try:
                take(data, time_s)
            except OSError as error:
                self._fail(error)

        return guard

    def _out(self, line: str) -> None:
        if self.failed is not None:
            return
        try:
            say(line)
            sys.stdout.flush()
        except OSError as error:
            self._fail(error)

    def _fail(self, error: OSError) -> None:
        self.failed = self.failed or error
        self.ended.set()


def unread_object(found: Suspicion | None) -> dict[str, Any] | None:
    """What `--json` says of a checksum that the grammar seems to leave out. `at` counts from 1;
    `sum` is null where it only looks like one."""
    if found is None:
        return None
    return {
        "at": found.at + 1,
        "size": found.size,
        "frame": found.sample.hex(),
        "sum": None if found.known is None else asdict(found.known),
        "frames": found.frames,
        "held": found.held,
        "says": found.says,
        "next": found.next,
    }


def _object(item: Item, unit: str | None) -> dict[str, Any]:
    """One line of `--json`."""
    return {"at": stamp(datetime.now(UTC)), **told_object(item, unit)}


def told_object(item: Item, unit: str | None) -> dict[str, Any]:
    """What one frame says: the figure as it was sent, null unless its state is ok, and of a scale
    the grams that the station would use; `reason` is why there is none, ours or the scale's."""
    if isinstance(item, Fault):
        return {
            "value": None, "unit": None, "kind": None, "stable": None, "tare": None,
            "grams": None, "state": "fault", "raw": item.raw.hex(), "reason": item.reason,
        }  # fmt: skip
    if isinstance(item, Measured):  # never grams, nor anything else of a weight
        return {
            "quantity": item.quantity,
            "value": None if item.value is None else f"{item.value:f}",
            "unit": item.unit,
            "stable": item.stable,
            "state": _state(item),
            "raw": item.raw.hex(),
            "reason": item.word or None,
        }
    used = _used_g(item, unit)
    return {
        "value": None if item.value is None else f"{item.value:f}",
        "unit": item.unit,
        "kind": item.kind.value,
        "stable": item.stable,
        "tare": None if item.tare is None else f"{item.tare:f}",
        "grams": None if used is None else units.plain(used),
        "state": _state(item),
        "raw": item.raw.hex(),
        "reason": item.word or None,
    }


def _state(item: Reading | Measured) -> str:
    return "fault" if item.condition is Condition.ERROR else item.condition.value


def _words(item: Item, unit: str | None) -> str:
    if isinstance(item, Fault):
        return f"FAULT {item.reason}"
    stable = {True: "stable", False: "moving", None: "?"}[item.stable]
    if isinstance(item, Measured):
        if item.value is None:
            return f"{item.quantity} {item.condition.value.upper()} {item.word}".strip()
        return " ".join(filter(None, [item.quantity, f"{item.value:f}", item.unit, stable]))
    if item.value is None:
        word = f" ({item.word})" if item.word else ""
        return f"{item.condition.value.upper()} {item.kind.value}{word}"
    tare = "" if item.tare is None else f", tare {item.tare:f}"
    sent = f"{item.value:f} {item.unit or ''} {item.kind.value} {stable}{tare}"
    used = _used_g(item, unit)
    if used is None:
        return f"{sent}; the station uses none of it: {_unused(item, unit)}"
    return f"{sent}; the station uses {units.plain(used)} g"


def _used_g(reading: Reading, unit: str | None) -> Decimal | None:
    """By the station's own code, as if the scale worked in the unit that it sends."""
    return None if unit is None else used_g(reading, unit)


def _unused(reading: Reading, unit: str | None) -> str:
    """Why the station would take no weight from a reading that has a value."""
    if reading.kind is Kind.TARE:
        return "it is a tare"
    if reading.gross is None:
        return "net, and its tare is not sent"
    if unit is None or reading.unit is None:
        return "no unit is sent"
    return f"{unit} is no unit of mass that it knows"


def dump(data: bytes) -> str:
    text = "".join(chr(byte) if 32 <= byte < 127 else "." for byte in data)
    return f"{data.hex(' '):<48} |{text}|"


def run_port(
    run: Callable[[], Coroutine[Any, Any, None]], printer: Printer, how_long_s: float | None
) -> None:
    """Run a port until Ctrl-C, or for so long; then a port that never opened is a failure."""

    async def for_so_long() -> BaseException | None:
        running = asyncio.ensure_future(run())
        ended = asyncio.ensure_future(printer.ended.wait())
        try:
            await asyncio.wait(
                [running, ended], timeout=how_long_s, return_when=asyncio.FIRST_COMPLETED
            )
            return running.exception() if running.done() else None
        finally:
            running.cancel()
            ended.cancel()
            await asyncio.gather(running, ended, return_exceptions=True)

    try:
        error = asyncio.run(for_so_long())
    except KeyboardInterrupt:
        return
    if printer.failed is not None:
        os.dup2(
            os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno()
        )  # nothing waits to be flushed
        if printer.failed.errno == errno.EPIPE:
            return  # whoever read has seen enough
        fail(f"it cannot be written: {printer.failed.strerror}", "make room", CANNOT)
    if error is not None:
        fail(f"the port failed: {error!r}", "check the line settings", CANNOT)
    if printer.down is not None:
        fail(printer.down.reason, printer.down.next, CANNOT)


def seconds(text: str | None) -> float | None:
    """How long, from a person's text; None for no end."""
    if text is None:
        return None
    try:
        found = float(units.seconds(text))
        if found <= 0:
            raise UnitError(f"found {text!r}, expected more than nothing")
    except UnitError as error:
        fail(f"--for: {error}", "say --for 5s", WRONG_USE)
    return found


def line_of(port: str, baud: int | None, bits: str | None, usual: LineSettings) -> PortSettings:
    """A port and how its line is set: as told, else as usual."""
    try:
        line = LineSettings(usual.baud if baud is None else baud, bits or usual.bits)
    except ValueError as error:
        fail(str(error), "say --baud 9600 --bits 8N1", WRONG_USE)
    return PortSettings(port, line.baud, line.bits, usual.dtr, usual.rts)
