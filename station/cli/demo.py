"""`station demo`: two batches of an invented kitchen, from bytes to ledger, before your eyes."""

import asyncio
import signal
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import msgspec

from station import CAUTION
from station.audit.batch import batch_sheet, nitrite
from station.audit.rows import BatchSheet
from station.audit.trace import trace
from station.bench.screen import Screen
from station.bench.settings import load_bench
from station.bench.terminal import Terminal, can_draw
from station.cli.common import CANNOT, WRONG_USE, fail, json_option, print_json, print_line, say
from station.cli.verbs import header_of, line_of, steady
from station.client import ClientError
from station.demo.play import Play
from station.demo.stage import LEDGER, DemoError, Stage
from station.demo.story import two_batches
from station.ledger.asking import asked
from station.ledger.book import LedgerError, read_events
from station.ledger.reading import open_reader
from station.resources import Config, packaged
from station.wire import Change

READS_S = 28.0
"""Seconds of the demo's clock for a caption on the screen: at its usual speed seven of a watch."""

_COLUMNS = (
    "name",
    "role",
    "target_g",
    "lower_g",
    "upper_g",
    "accept_lower_g",
    "accept_upper_g",
    "actual_g",
    "difference_g",
    "verdict",
    "scale",
    "loads",
    "lot",
)


@click.command(epilog="Example: station demo --speed 20 --json")
@click.option(
    "--speed",
    type=click.FloatRange(0.5, 40),
    default=None,
    show_default="10; 4 on a screen; 1 with --hands",
    help="How many times as fast as life.",
)
@click.option("--seed", default=1, show_default=True, help="The simulated scales' noise.")
@click.option("--hands", is_flag=True, help="Pour yourself, with the arrow keys.")
@json_option
def demo(speed: float | None, seed: int, hands: bool, as_json: bool) -> None:
    """Run two batches of an invented kitchen on two simulated scales with scripted hands.

    In a terminal the display of the bench shows it; piped, it is a line for every change. The
    daemon is the real one, in its own process; its simulated ledger stays for a look around.
    """
    on_screen = not as_json and can_draw()
    if hands and not on_screen:
        fail("--hands needs a terminal", "run it in one, and without --json", WRONG_USE)
    speed = speed or (1.0 if hands else 4.0 if on_screen else 10.0)
    folder = Path(tempfile.mkdtemp(prefix="station-demo-"))
    try:
        batch = asyncio.run(_play(folder, speed, seed, on_screen, hands, quiet=as_json))
    except (DemoError, ClientError, LedgerError) as error:
        fail(str(error), f"see {folder / 'station.log'}", CANNOT)
    except (KeyboardInterrupt, asyncio.CancelledError):
        batch = None
    _end(folder / LEDGER, batch, as_json)


def _end(ledger: Path, batch: str | None, as_json: bool) -> None:
    """What went in, a recall of the cure, and where to look further."""
    if batch is None:
        say(f"\nThe ledger stays at {ledger}. Look around:")
    else:
        with open_reader(ledger) as db:
            sheet = batch_sheet(read_events(db), batch)
        if as_json:
            print_json(_object(sheet, ledger))
            return
        say()
        for line in _summary(sheet, ledger):
            print_line(line)
    program = sys.argv[0] if Path(sys.argv[0]).name == "station" else "station"
    if batch is not None:
        say(f"  {program} audit batch {batch} --ledger {ledger}")
    say(f"  {program} audit list --ledger {ledger}")
    say(f"  {program} ledger verify --ledger {ledger}")


def _summary(sheet: BatchSheet, ledger: Path) -> Iterator[str]:
    """What went in, as it fits a small window."""
    stamp = "; SIMULATED" if sheet.simulated else ""
    yield f"{sheet.formula}, batch {sheet.batch}: {sheet.meat_g} g of meat{stamp}"
    for row in sheet.additions:
        yield f"  {row.name}: {row.actual_g} of {row.target_g} g, {row.verdict}"
    if (about := nitrite(sheet)) is not None:
        yield f"  nitrite: {about.actual} mg/kg of the meat, {about.limit} at most by law"
    yield f"  refused: {len(sheet.refusals)}; remarks on its sheet: {len(sheet.warnings)}"
    cure = next(row for row in sheet.additions if row.role == "cure")
    if cure.lot is not None:
        with asked(ledger) as found:
            told = trace(cure.lot, found.lot(cure.lot), found.lots())
        where = ", ".join(f"{use.batch} ({use.actual_g} g)" for use in told.batches)
        yield f"A recall: {told.answer}: {where}"
    yield CAUTION
    yield f"The ledger stays at {ledger}. Look around:"


async def _play(
    folder: Path, speed: float, seed: int, on_screen: bool, hands: bool, *, quiet: bool
) -> str | None:
    """The id of the batch that was played, None if a person ended it."""
    me = asyncio.current_task()
    assert me is not None
    for number in (signal.SIGTERM, signal.SIGHUP):  # the terminal and the daemon are put away
        asyncio.get_running_loop().add_signal_handler(number, me.cancel)
    if not on_screen:
        lines = _Lines(quiet)
        lines.tell(CAUTION)
        async with Stage(folder, speed, seed) as stage:
            stage.on_change = lines.show
            return await two_batches(stage, lines.tell)
    async with Stage(folder, speed, seed) as stage:
        settings = load_bench(Config(packaged()))
        with Terminal(settings.bell) as terminal:
            screen = Screen(settings, terminal, stage.socket)
            stage.reads_s = READS_S
            screen.on_key = stage.go_on
            showing = asyncio.ensure_future(screen.run())
            try:
                if hands:
                    await _hands(stage, screen, showing)
                    return None
                return await two_batches(stage, screen.tell)
            finally:
                showing.cancel()
                await asyncio.gather(showing, return_exceptions=True)


async def _hands(stage: Stage, screen: Screen, showing: "asyncio.Future[None]") -> None:
    """Let a person play until the display ends."""
    play = Play(stage, screen.tell)
    await play.prepare()
    screen.on_key = play.key
    lots = asyncio.ensure_future(play.lots())
    try:
        await showing
    finally:
        lots.cancel()


class _Lines:
    """The demo as lines: what is told, and what the station shows."""

    def __init__(self, quiet: bool) -> None:
        self._quiet = quiet
        self._told = self._header = ""

    def tell(self, *captions: str) -> None:
        text = captions[0]
        if not self._quiet:
            say()
            print_line(f"* {text}")

    def show(self, change: Change) -> None:
        if self._quiet:
            return
        if header_of(change) != self._header:
            self._header = header_of(change)
            say(f"  {self._header}")
        if steady(change) != self._told:
            self._told = steady(change)
            print_line(line_of(change), "  ")


def _object(sheet: BatchSheet, ledger: Path) -> dict[str, Any]:
    whole = msgspec.to_builtins(sheet)
    about = nitrite(sheet)
    return {
        **{key: whole[key] for key in ("batch", "formula", "simulated", "meat_g", "salt_percent")},
        **{key: whole[key] for key in ("events", "head", "caution")},
        "additions": [{key: row[key] for key in _COLUMNS} for row in whole["additions"]],
        "warnings": [
            {key: row[key] for key in ("addition", "kind", "text")} for row in whole["warnings"]
        ],
        "refusals": [
            {key: row[key] for key in ("addition", "reason")} for row in whole["refusals"]
        ],
        "nitrite_ppm": about
        and {"planned": about.planned, "actual": about.actual, "limit": about.limit},
        "ledger": str(ledger),
    }
