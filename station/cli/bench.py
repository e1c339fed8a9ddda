"""`station bench`: the display at the bench."""

import asyncio
import signal
from pathlib import Path

import click

from station.bench.screen import Screen
from station.bench.settings import BenchSettings, load_bench
from station.bench.terminal import Terminal, can_draw
from station.cli.common import config_option, files, socket_option
from station.cli.verbs import follow_lines
from station.resources import Config


@click.command(epilog="Example: station bench")
@socket_option
@config_option
def bench(socket: Path, config: Path | None) -> None:
    """The display at the bench: one word, one number, a bar; keys by digits, Enter, plus, minus.

    Piped, or on a terminal that cannot place its cursor, it prints a line for every change.
    """
    with files("correct them, then start again"):
        settings = load_bench(Config(config))
    if not can_draw():
        follow_lines(socket, as_json=False)
        return
    with Terminal(settings.bell) as terminal:
        asyncio.run(_show(settings, terminal, socket))


async def _show(settings: BenchSettings, terminal: Terminal, socket: Path) -> None:
    screen = Screen(settings, terminal, socket)
    loop, task = asyncio.get_running_loop(), asyncio.ensure_future(screen.run())
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        loop.add_signal_handler(number, task.cancel)
    try:
        await task
    except asyncio.CancelledError:
        return
