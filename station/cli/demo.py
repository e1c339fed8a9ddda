"""`station demo`: one batch of an invented kitchen, from bytes to ledger, before your eyes."""

import asyncio
import sys
import tempfile
from pathlib import Path
from typing import Any

import click

from station import CAUTION
from station.audit.batch import batch_sheet, nitrite
from station.cli.audit import print_sheet
from station.cli.bench import header_of, line_of, steady
from station.cli.common import CANNOT, fail, json_option, print_json, print_line
from station.client import ClientError
from station.demo.stage import DemoError, Stage
from station.demo.story import one_batch
from station.ledger.book import LedgerError, read_events
from station.ledger.reading import open_reader

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
    default=10.0,
    show_default=True,
    help="How many times as fast as life.",
)
@click.option("--seed", default=1, show_default=True, help="The simulated scales' noise.")
@json_option
def demo(speed: float, seed: int, as_json: bool) -> None:
    """Run one batch of an invented kitchen on two simulated scales with scripted hands.

    The daemon is the real one, in its own process; its simulated ledger stays for a look around.
    """
    folder = Path(tempfile.mkdtemp(prefix="station-demo-"))
    try:
        sheet, ledger = asyncio.run(_play(folder, speed, seed, quiet=as_json))
    except (DemoError, ClientError, LedgerError) as error:
        fail(str(error), f"see {folder / 'station.log'}", CANNOT)
    if as_json:
        print_json(_object(sheet, ledger))
        return
    click.echo()
    print_sheet(sheet)
    click.echo(f"\nThe ledger stays at {ledger}. Look around:")
    program = sys.argv[0]
    click.echo(f"  {program} audit batch {sheet['batch']} --ledger {ledger}")
    click.echo(f"  {program} ledger verify --ledger {ledger}")


async def _play(folder: Path, speed: float, seed: int, quiet: bool) -> tuple[dict[str, Any], Path]:
    told = header = ""

    def tell(text: str) -> None:
        if not quiet:
            click.echo()
            print_line(f"* {text}")

    def show(change: dict[str, Any]) -> None:
        nonlocal told, header
        if not quiet and header_of(change) != header:
            header = header_of(change)
            click.echo(f"  {header}")
        if not quiet and steady(change) != told:
            told = steady(change)
            print_line(line_of(change), "  ")

    tell(CAUTION)
    async with Stage(folder, speed, seed) as stage:
        stage.on_change = show
        batch = await one_batch(stage, tell)
    with open_reader(stage.ledger) as db:
        return batch_sheet(read_events(db), batch), stage.ledger


def _object(sheet: dict[str, Any], ledger: Path) -> dict[str, Any]:
    return {
        "batch": sheet["batch"],
        "formula": sheet["formula"],
        "simulated": sheet["simulated"],
        "meat_g": sheet["meat_g"],
        "additions": [{key: row[key] for key in _COLUMNS} for row in sheet["additions"]],
        "warnings": [
            {key: row[key] for key in ("addition", "kind", "text")} for row in sheet["warnings"]
        ],
        "refusals": [
            {key: row[key] for key in ("addition", "reason")} for row in sheet["refusals"]
        ],
        "salt_percent": sheet["salt_percent"],
        "nitrite_ppm": nitrite(sheet),
        "ledger": str(ledger),
        "events": sheet["events"],
        "head": sheet["head"],
        "caution": sheet["caution"],
    }
