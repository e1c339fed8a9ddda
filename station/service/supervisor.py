"""The daemon's life: open the book, start what runs, stop cleanly on a signal."""

import asyncio
import gc
import logging
import signal
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from station import __version__
from station.batch.events import LedgerBorn
from station.ledger.chain import head_text
from station.products import load_products
from station.resources import Config
from station.service import copies, formulas, metrics
from station.service.around import Bench
from station.service.channel import Channel, Sourced
from station.service.clock import Clock, stamp
from station.service.desk import Desk
from station.service.notify import Notifier
from station.service.probe import Probe
from station.service.socket import Server
from station.service.writer import Writer
from station.settings import load_settings
from station.weighing.thermometer import Thermometer

log = logging.getLogger("station")


class StartError(Exception):
    """The daemon cannot start: one sentence and the next step."""

    def __init__(self, sentence: str, next_step: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.next = next_step


@dataclass(frozen=True, slots=True)
class Places:
    """Where the daemon finds and puts its things."""

    config: Config
    ledger: Path
    socket: Path
    speed: float = 1.0
    accept_loss: int | None = None
    """The number of the last event that a person lets be lost."""


async def run(places: Places) -> None:
    """Run until SIGTERM or SIGINT. Raises `StartError`, `LedgerError`, `FileMistakes`,
    `ResourceError`."""
    stopped = _on_signals()  # first: a stop that is asked for while it starts is a clean one
    settings, products = load_settings(places.config), load_products(places.config)
    if places.speed != 1 and not settings.simulated:
        raise StartError("a clock that runs fast is for simulations", "leave --speed out")
    clock = Clock(places.speed)
    born = LedgerBorn(settings.name, settings.simulated, __version__)
    writer = Writer(places.ledger, born, places.accept_loss)
    await writer.open(stamp(clock.utc()))
    try:
        if places.speed != 1 and not writer.simulated:
            raise StartError("this ledger is a real one", "give --ledger another file")
        scales = tuple(scale.scale for scale in settings.scales)
        thermometers = tuple(Thermometer(t.name, t.at is not None) for t in settings.thermometers)
        desk = Desk(writer, clock, scales, settings.people, thermometers)
        channels = {scale.scale.name: Channel(scale, clock, desk) for scale in settings.scales}
        probes = [Probe(t.name, t.at, clock, desk) for t in settings.thermometers if t.at]
        server = Server(Bench(desk, places.config, settings, channels, products), places.socket)
        try:
            await server.start()
        except OSError as error:
            raise StartError(
                f"no socket at {places.socket}: {error.strerror or error}",
                "choose another --socket",
            ) from error
        tasks = [asyncio.create_task(desk.run(), name="desk")]
        tasks.append(
            asyncio.create_task(formulas.follow(places.config, settings, clock, desk), name="files")
        )
        following = copies.follow(places.ledger, settings, clock, desk)
        tasks.append(asyncio.create_task(following, name="backup"))
        if settings.metrics:
            path = Path(settings.metrics)
            tasks.append(
                asyncio.create_task(metrics.follow(path, desk.metrics, clock), name="metrics")
            )
        for name, channel in channels.items():
            tasks.append(asyncio.create_task(channel.run(), name=f"scale {name}"))
        for probe in probes:
            tasks.append(asyncio.create_task(probe.run(), name=f"thermometer {probe.name}"))
        log.info(
            "%s: ledger %s of %d events, head %s, socket %s",
            settings.name, places.ledger, writer.seq, head_text(writer.head), places.socket,
        )  # fmt: skip
        gc.collect()
        gc.freeze()  # what lives for ever need not be looked through again and again
        notifier = Notifier()
        notifier.tell("READY=1", f"STATUS=ledger {places.ledger}")
        tasks.append(
            asyncio.create_task(
                _feed(notifier, desk, [*channels.values(), *probes]), name="watchdog"
            )
        )
        try:
            await _until_stopped(stopped, tasks)
        finally:
            notifier.tell("STOPPING=1")
            await server.stop()  # first: what was asked for is still decided and recorded
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
    finally:
        await writer.close()
        log.info("the ledger ends at event %d, head %s", writer.seq, head_text(writer.head))


async def _feed(notifier: Notifier, desk: Desk, channels: Sequence[Sourced]) -> None:
    """Feed the manager's watchdog only while decisions, ledger and ports all turn.

    What a new start would not mend (a cable that is out, a full disk) is told on the display and
    does not count.
    """
    if notifier.watchdog_s is None:
        await asyncio.Event().wait()
    while True:
        hung = [channel.name for channel in channels if not channel.alive]
        if await desk.alive() and not hung:
            notifier.tell("WATCHDOG=1")
        else:
            log.error("not alive: %s", ", ".join(hung) or "the decisions or the ledger hang")
        await asyncio.sleep((notifier.watchdog_s or 1) / 3)


def _on_signals() -> asyncio.Event:
    """Set once the station is told to stop."""
    stopped = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stopped.set)
    return stopped


async def _until_stopped(stopped: asyncio.Event, tasks: list[asyncio.Task[None]]) -> None:
    """Wait for a signal; a task that ends by itself is a fault and ends the daemon loudly."""
    waiting = asyncio.create_task(stopped.wait())
    done, _ = await asyncio.wait([waiting, *tasks], return_when=asyncio.FIRST_COMPLETED)
    waiting.cancel()
    for task in done - {waiting}:
        task.result()
        raise RuntimeError(f"{task.get_name()} ended by itself")
