"""A thermometer's channel: what its source reads, handed to the desk."""

import logging

from drivers.link import LinkState
from drivers.measured import Measured
from drivers.reading import Condition, Fault
from station.service.channel import Sourced
from station.service.clock import Clock
from station.service.desk import Desk
from station.settings import Port
from station.weighing.thermometer import Thermometer

log = logging.getLogger("station")

_WHY = {
    Condition.OVERLOAD: ("it is above its range", "let it cool"),
    Condition.UNDERLOAD: ("it is below its range", "let it warm up"),
}


class Probe(Sourced):
    """Reads one thermometer. Logs once when it fails, once when it is well again."""

    def __init__(self, name: str, at: Port, clock: Clock, desk: Desk) -> None:
        self._desk = desk
        source = at.kind.source(at.port, clock, self.take, self._state)
        super().__init__(name, source, desk.counts)

    def _state(self, state: LinkState) -> None:
        self._faults = 0
        if state.up:
            log.info("%s: connected", self.name)
            self._desk.warmth(self._now().lost("", ""))
        else:
            log.warning("%s: %s; %s", self.name, state.reason, state.next)
            self._desk.warmth(self._now().lost(state.reason, state.next))

    def take(self, items: list[Measured | Fault], time_s: float) -> None:
        """What the bytes that arrived at the monotonic time `time_s` say: the last of it."""
        for item in items:
            if not isinstance(item, Fault):
                self._faults = 0
                self._desk.warmth(self._shown(item))
            elif (sample := self._fault(item)) is not None:
                step = "check its grammar, speed and parity"
                self._desk.warmth(self._now().lost(f"what it sends is no frame: {sample}", step))

    def _shown(self, item: Measured) -> Thermometer:
        if item.value is None:
            word = f": {item.word}" if item.word else ""
            says = _WHY.get(item.condition, (f"it reports an error{word}", "check its probe"))
            return self._now().lost(*says)
        shows = f"{item.value:f} {item.unit}"
        still, raw = item.stable is not False, item.raw.decode("latin-1")
        return Thermometer(self.name, True, shows, still, raw, item.time_s)

    def _now(self) -> Thermometer:
        return self._desk.thermometer(self.name)
