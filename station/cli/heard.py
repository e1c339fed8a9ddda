"""What a port says, for the command line: lines for a person, or one JSON object a line."""

import asyncio
import sys
from collections.abc import Callable, Coroutine
from datetime import UTC, datetime
from typing import Any

import click

from drivers.link import LinkState
from drivers.reading import Condition, Fault, Reading
from station import units
from station.cli.common import CANNOT, WRONG_USE, fail, print_json
from station.service.clock import stamp
from station.units import UnitError


class Printer:
    """Tells what arrives: lines for a person, or one JSON object a line."""

    def __init__(self, as_json: bool) -> None:
        self._as_json = as_json
        self.opened = asyncio.Event()
        self.down: LinkState | None = None

    def state(self, state: LinkState) -> None:
        self.down = None if state.up else state
        if state.up:
            self.opened.set()
        else:
            click.echo(f"station: {state.reason}; {state.next}", err=True)

    def bytes(self, data: bytes, time_s: float) -> None:
        for at in range(0, len(data), 16):
            part = data[at : at + 16]
            if self._as_json:
                print_json({"at": stamp(datetime.now(UTC)), "raw": part.hex()})
            else:
                click.echo(dump(part))

    def items(self, items: list[Reading | Fault], time_s: float) -> None:
        for item in items:
            if self._as_json:
                print_json(_object(item))
            else:
                click.echo(f"{dump(item.raw[:40])}  {_words(item)}")
        sys.stdout.flush()


def _object(item: Reading | Fault) -> dict[str, Any]:
    """One line of `--json`: the figure as the scale sent it, null unless its state is ok."""
    at = stamp(datetime.now(UTC))
    if isinstance(item, Fault):
        return {
            "at": at, "value": None, "unit": None, "kind": None, "stable": None,
            "state": "fault", "raw": item.raw.hex(), "reason": item.reason,
        }  # fmt: skip
    state = "fault" if item.condition is Condition.ERROR else item.condition.value
    return {
        "at": at,
        "value": None if item.value is None else f"{item.value:f}",
        "unit": item.unit,
        "kind": item.kind.value,
        "stable": item.stable,
        "state": state,
        "raw": item.raw.hex(),
    }


def _words(item: Reading | Fault) -> str:
    if isinstance(item, Fault):
        return f"FAULT {item.reason}"
    stable = {True: "stable", False: "moving", None: "?"}[item.stable]
    if item.value is None:
        return f"{item.condition.value.upper()} {item.kind.value}"
    tare = "" if item.tare is None else f", tare {item.tare:f}"
    return f"{item.value:f} {item.unit or ''} {item.kind.value} {stable}{tare}"


def dump(data: bytes) -> str:
    text = "".join(chr(byte) if 32 <= byte < 127 else "." for byte in data)
    return f"{data.hex(' '):<48} |{text}|"


def run_port(
    run: Callable[[], Coroutine[Any, Any, None]], printer: Printer, how_long_s: float | None
) -> None:
    """Run a port until Ctrl-C, or for so long; then a port that never opened is a failure."""

    async def for_so_long() -> None:
        running = asyncio.ensure_future(run())
        try:
            await asyncio.wait([running], timeout=how_long_s)
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)

    try:
        asyncio.run(for_so_long())
    except KeyboardInterrupt:
        return
    if printer.down is not None:
        fail(printer.down.reason, printer.down.next, CANNOT)


def seconds(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(units.seconds(text))
    except UnitError as error:
        fail(f"--for: {error}", "say --for 5s", WRONG_USE)
