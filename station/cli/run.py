"""`station run`: the daemon in the foreground."""

import asyncio
import logging
import sys
from pathlib import Path

import click

from station.cli.common import (
    CANNOT,
    WRONG_USE,
    config_option,
    fail,
    ledger_option,
    say,
    shown,
    socket_option,
)
from station.ledger.book import LedgerError
from station.resources import Config, ResourceError
from station.service import supervisor
from station.service.quiet import Quiet
from station.tomlfile import FileMistakes


class _Plain(logging.Formatter):
    """A log that a terminal shows as it is, whatever a file or a frame put into a sentence."""

    def format(self, record: logging.LogRecord) -> str:
        return "\n".join(shown(line) for line in super().format(record).split("\n"))


@click.command(epilog="Example: station run --config /etc/bench-weighing-station")
@config_option
@ledger_option
@socket_option
@click.option(
    "--accept-loss",
    type=click.IntRange(min=1),
    metavar="SEQ",
    help="Go on with a ledger that no longer reaches event SEQ; the record then says so.",
)
@click.option("--speed", default=1.0, hidden=True, help="A faster clock, for simulations only.")
def run(
    config: Path | None, ledger: Path, socket: Path, accept_loss: int | None, speed: float
) -> None:
    """Run the station in the foreground until SIGTERM or SIGINT.

    It starts without any scale attached and connects to each as soon as it is there.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Plain("%(levelname)s %(message)s"))
    handler.addFilter(Quiet())
    logging.basicConfig(handlers=[handler], level=logging.INFO)
    try:
        places = supervisor.Places(Config(config), ledger, socket, speed, accept_loss)
        asyncio.run(supervisor.run(places))
    except FileMistakes as error:
        for mistake in error.mistakes:
            say(mistake, err=True)
        fail("the configuration is wrong", "correct it, then start again", WRONG_USE)
    except ResourceError as error:
        fail(str(error), "check --config", WRONG_USE)
    except (LedgerError, supervisor.StartError) as error:
        fail(error.sentence, error.next, CANNOT)
