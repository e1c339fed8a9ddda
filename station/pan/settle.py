"""When a weight is settled: the station says so, not the scale alone."""

from collections import deque
from decimal import Decimal

from drivers.reading import Reading
from station.metrology.scale import Scale
from station.pan.view import Settled

DWELL_S = 0.5
"""How long a weight must stand still on a scale that says it is stable; twice as long on one that
does not tell."""


class Settling:
    """The last readings of one scale and what is settled `now`, None while nothing is."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self._recent: deque[tuple[float, Decimal]] = deque(maxlen=256)
        self._steady_s: float | None = None
        self.now: Settled | None = None

    def take(self, reading: Reading, gross_g: Decimal) -> None:
        """Take in one reading: settled is within one division for the whole dwell."""
        self._recent.append((reading.time_s, gross_g))
        if reading.stable is False:
            self.unsettle()
            return
        now_s = reading.time_s
        fresh = Settled(gross_g, reading.raw.hex(), now_s)
        if self._scale.sends == "stable":
            self.now = fresh
            return
        if self._steady_s is None:
            self._steady_s = now_s
        dwell = DWELL_S if reading.stable else 2 * DWELL_S
        begin = now_s - dwell
        window = self.since(max(begin - 1e-6, self._steady_s))
        still = max(window) - min(window) <= self._scale.division_g
        dwelt = self._steady_s <= begin + 1e-6
        self.now = fresh if dwelt and still and len(window) >= 3 else None

    def unsettle(self) -> None:
        """Begin the dwell anew."""
        self.now = self._steady_s = None

    def since(self, time_s: float) -> list[Decimal]:
        """The gross weights read since then, grams."""
        found = []
        for time, gross in reversed(self._recent):
            if time < time_s:
                break
            found.append(gross)
        return found[::-1]
