"""When a weight is settled: the station says so, not the scale alone."""

from collections import deque
from decimal import Decimal
from itertools import takewhile

from drivers.reading import Reading
from station.metrology.scale import Scale
from station.pan.view import Settled

DWELL_S = 0.5
"""How long a weight must stand still on a scale that says it is stable; twice as long on one that
does not tell."""
LEAST_READINGS = 3
"""Two readings that agree may be the top of a swing."""
SERVES_S = 5.0
"""How long one reading of a scale that sends only on stable serves a decision."""
_CLOCK_S = 1e-6
"""Readings a dwell apart are that, however their times were rounded."""


class Settling:
    """The last readings of one scale and what is settled `now`, None while nothing is. `now` stays
    one object while the same weight goes on."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self._recent: deque[tuple[float, Decimal]] = deque(maxlen=256)
        self._steady_s: float | None = None
        self._dwell_s = DWELL_S
        self.now: Settled | None = None

    def take(self, reading: Reading, gross_g: Decimal) -> None:
        """Take in one reading: settled is within one division for the whole dwell."""
        now_s = reading.time_s
        self._recent.append((now_s, gross_g))
        if reading.stable is False:
            self.unsettle()
            return
        if self._steady_s is None:
            self._steady_s = now_s
        self._dwell_s = DWELL_S if reading.stable else 2 * DWELL_S
        if self._scale.sends != "stable" and not self._stood_still(self._steady_s, now_s):
            self.now = None
        elif self.now is None or self.now.gross_g != gross_g:
            self.now = Settled(gross_g, reading.raw.hex(), now_s)

    def again(self, time_s: float) -> None:
        """The last reading once more, which was settled: it still is unless readings come too
        seldom."""
        recent = self._recent
        recent.append((time_s, recent[-1][1]))
        if self._scale.sends != "stable":
            begin_s = time_s - self._dwell_s - _CLOCK_S
            if recent[-LEAST_READINGS][0] < begin_s:  # it has so many, since it was settled
                self.now = None

    def _stood_still(self, steady_s: float, now_s: float) -> bool:
        begin_s = now_s - self._dwell_s
        if steady_s > begin_s + _CLOCK_S:
            return False
        dwell = [gross for _, gross in self.since(begin_s - _CLOCK_S)]
        return len(dwell) >= LEAST_READINGS and max(dwell) - min(dwell) <= self._scale.division_g

    def unsettle(self) -> None:
        """Begin the dwell anew."""
        self.now = self._steady_s = None

    def expire(self, now_s: float) -> bool:
        """Time passes: whether what was settled is too old to serve, on a scale that sends only on
        stable."""
        old = self.now is not None and now_s - self._recent[-1][0] > SERVES_S
        if old:
            self.now = None
        return old

    def since(self, time_s: float) -> list[tuple[float, Decimal]]:
        """Time and gross of the readings since then, the last one first; seconds and grams."""
        return list(takewhile(lambda point: point[0] >= time_s, reversed(self._recent)))
