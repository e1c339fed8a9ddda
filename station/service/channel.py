"""One scale's channel: what its source reads, timed and handed to the desk."""

import asyncio
import logging

from msgspec.structs import replace

from drivers.kinds import Source
from drivers.link import LinkState
from drivers.reading import Fault, Reading
from station.metrology.scale import Device
from station.service.clock import Clock
from station.service.desk import Desk
from station.service.metrics import Counts
from station.settings import ScaleSettings

log = logging.getLogger("station")

TELL_AFTER = 3
"""So many faults without a reading between them, and the bytes are no frames of this grammar."""


HANGS_S = 10.0
"""An open that takes longer has hung."""


class Sourced:
    """Owns the source of one port."""

    def __init__(self, name: str, source: Source, counts: Counts) -> None:
        self.name = name
        self._source = source
        self._counts = counts
        self._faults = 0

    async def run(self) -> None:
        try:
            await self._source.run()
        except asyncio.CancelledError:
            raise
        except Exception:
            log.exception("%s: the channel failed", self.name)
            raise

    @property
    def alive(self) -> bool:
        """Whether the port's task turns: reading, waiting to try again, but not hung in an open."""
        return self._source.hangs_s < HANGS_S

    def _fault(self, fault: Fault) -> str | None:
        """Count what is no frame; the sample to be told once there were too many, else None."""
        self._faults += 1
        self._counts.faults[self.name] += 1
        if self._faults != TELL_AFTER:
            return None
        sample = fault.raw[:16].hex(" ")
        log.warning("%s: %s: %s", self.name, fault.reason, sample)
        return sample


class Channel(Sourced):
    """Reads one scale. Logs once when it fails, once when it is well again."""

    def __init__(self, settings: ScaleSettings, clock: Clock, desk: Desk) -> None:
        self._grammar = settings.kind.name
        self._desk = desk
        self._period_s = 0.1
        self._last_s: float | None = None
        self.orders = settings.kind.orders
        source = settings.kind.source(settings.port, clock, self.take, self._state)
        super().__init__(settings.scale.name, source, desk.counts)

    def _state(self, state: LinkState) -> None:
        self._faults = 0
        if state.up:
            log.info("%s: connected", self.name)
        else:
            log.warning("%s: %s; %s", self.name, state.reason, state.next)
        device = Device(self._grammar, state.identity) if state.up else None
        self._desk.link(self.name, state.up, state.reason, state.next, device)

    async def order(self, name: str) -> str | None:
        """Tell the scale to do something; None once it said that it did, else why not."""
        return await self._source.order(name)

    def take(self, items: list[Reading | Fault], time_s: float) -> None:
        """What the bytes that arrived at the monotonic time `time_s` say."""
        readings = []
        for item in items:
            if not isinstance(item, Fault):
                readings.append(item)
            elif (sample := self._fault(item)) is not None:
                self._desk.babble(self.name, f"{item.reason}: {sample}")
        if readings:
            self._faults = 0
            for reading in self._spread(readings, time_s):
                self._desk.reading(self.name, reading)

    def _spread(self, readings: list[Reading], time_s: float) -> list[Reading]:
        """Frames that arrive together were sent one after the other: give each its own time, a
        period apart and after the last one. A late chunk then is no gap, a lost frame still is."""
        if not readings:
            return []
        floor = self._last_s if self._last_s is not None else time_s
        first = time_s - (len(readings) - 1) * self._period_s
        if len(readings) > 1:
            first = max(first, min(floor + self._period_s, time_s))
        step = (time_s - first) / (len(readings) - 1) if len(readings) > 1 else 0.0
        if len(readings) == 1 and self._last_s is not None and 0 < time_s - self._last_s < 1:
            self._period_s += 0.1 * (time_s - self._last_s - self._period_s)
        self._last_s = time_s
        if len(readings) == 1 and readings[0].time_s == time_s:
            return readings
        return [replace(r, time_s=first + n * step) for n, r in enumerate(readings)]
