"""The formulas that can be opened at the bench: looked at again whenever a file changes."""

import asyncio
import logging

from station.opening import openable
from station.resources import Config
from station.service.clock import Clock
from station.service.desk import Desk
from station.settings import Settings

log = logging.getLogger("station")

LOOK_S = 5.0


async def follow(config: Config, settings: Settings, clock: Clock, desk: Desk) -> None:
    """Offer those that pass the check, for ever. Files are read in a thread: a card may be slow."""
    known: object = None
    well = True
    while True:
        try:
            now = await asyncio.to_thread(stamps, config)
            if now != known:
                names = await asyncio.to_thread(openable, config, settings)
                known = now
                desk.offer_formulas(names)
            well = True
        except OSError as error:  # no descriptor is left, a card is out: what is known stays
            if well:
                log.warning("the formulas cannot be read: %s", error.strerror or error)
            well = False
        await clock.sleep(LOOK_S)


def stamps(config: Config) -> tuple[tuple[str, int, int], ...]:
    """Of every file that a formula is judged by: name, size, and when it was last written."""
    found = []
    for folder in config.folders:
        for kind in ("formulas", "limits", "."):
            for path in sorted((folder / kind).glob("*.toml")):
                try:
                    stat = path.stat()
                except OSError:  # it is just being replaced
                    continue
                found.append((str(path), stat.st_size, stat.st_mtime_ns))
    return tuple(found)
