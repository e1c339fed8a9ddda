"""What one scale's line says: whether it is there, talks, and tells gross weights in its unit."""

from decimal import Decimal

from drivers.reading import Kind, Reading
from station.metrology.scale import Scale
from station.pan.complaints import backwards, other_unit, reported, silent
from station.pan.view import Trouble
from station.units import grams

STALE_S = 1.0
"""A scale that sends by itself is silent after three of its periods, but not before this."""
_PERIODS = 3
_PERIOD_SHOWN = 0.05
"""The period that is shown follows the measured one in steps of this share: jitter is no change."""


def other_word(reading: Reading, unit: str) -> str | None:
    """The unit that a reading tells instead of the scale's working unit; None where it tells none
    other. A format that leaves the unit out while in motion means its own."""
    told = reading.unit or (unit if reading.stable is False else "none")
    return None if told.lower() == unit.lower() else told


def used_g(reading: Reading, unit: str) -> Decimal | None:
    """The gross grams that the station uses of a reading, from a scale that works in `unit`; None
    where it uses none of it: no value, another unit, or net without its tare."""
    if reading.gross is None or other_word(reading, unit) is not None:
        return None
    return grams(reading.gross, unit)


class Signal:
    """The line of one scale: `take` each reading, then `gross_g` is what it says."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self._link: tuple[str, str] | None = ("has not been opened yet", "wait")
        self._babble = ""
        self._last: Reading | None = None
        self._last_s: float | None = None
        self.now_s = 0.0
        self._backwards = False
        self._unit: str | None = None
        self.tared = False
        self.period_s = STALE_S / _PERIODS
        self.period_shown_s = self.period_s
        self.gross_g: Decimal | None = None

    def link(self, up: bool, reason: str, next_step: str) -> None:
        """The port opened, from when silence is counted anew, or was lost."""
        self._link = None if up else (reason, next_step)
        if up:
            self._last = self._last_s = None

    def babble(self, sample: str) -> None:
        """Bytes came that are no frame; forgotten with the next reading."""
        self._babble = sample

    def clock(self, now_s: float) -> None:
        """It is now so late."""
        self.now_s = now_s

    def repeats(self, reading: Reading) -> bool:
        """Whether a reading says the same as the last one."""
        last = self._last
        return (
            last is not None
            and reading.raw == last.raw
            and reading.value == last.value
            and reading.stable is last.stable
            and reading.condition is last.condition
            and reading.kind is last.kind
            and reading.unit == last.unit
            and reading.tare == last.tare
            and reading.word == last.word
        )

    def on_time(self, reading: Reading) -> bool | None:
        """Whether a reading followed the last one without a gap; None where it is older than that
        one, and so is not to be taken."""
        now_s, before_s = reading.time_s, self._last_s
        self.now_s = max(self.now_s, now_s)
        self._babble = ""
        if before_s is None:
            return True
        self._backwards = now_s < before_s
        if self._backwards:
            return None
        dt = now_s - before_s
        followed = self._scale.sends == "stable" or dt <= self._silent_after_s
        if 0 < dt < 2:
            self.period_s += 0.1 * (dt - self.period_s)
            if abs(self.period_s - self.period_shown_s) > _PERIOD_SHOWN * self.period_shown_s:
                self.period_shown_s = self.period_s
        return followed

    def take(self, reading: Reading) -> None:
        """The reading is the last one from now on."""
        self._last, self._last_s = reading, reading.time_s

    def read(self, reading: Reading) -> Decimal | None:
        """The gross weight that a reading tells, grams; None where it tells none."""
        self.tared = reading.kind is Kind.NET and reading.tare is None
        if reading.value is None:
            return None
        self._unit = other_word(reading, self._scale.unit)
        return used_g(reading, self._scale.unit)

    @property
    def _silent_after_s(self) -> float:
        return max(_PERIODS * self.period_s, STALE_S)

    @property
    def stale(self) -> bool:
        """Whether the scale is silent; one that sends only on stable never is, once it has sent."""
        if self._last_s is None:
            return True
        return self._scale.sends != "stable" and self.now_s - self._last_s > self._silent_after_s

    @property
    def down(self) -> bool:
        """Whether the port is not open."""
        return self._link is not None

    @property
    def age_s(self) -> int | None:
        """Whole seconds since the last reading; None where there was none."""
        return None if self._last_s is None else int(self.now_s - self._last_s)

    def silence(self) -> Trouble | None:
        """Why nothing can be known of the pan, or None."""
        if self._link is not None:
            reason, step = self._link
            return Trouble("link", f"{self._scale.name}: {reason}", step)
        return silent(self._scale.name, self.age_s, self._babble) if self.stale else None

    def clock_trouble(self) -> Trouble | None:
        """The readings run backwards in time."""
        return backwards(self._scale.name) if self._backwards else None

    def reported(self) -> Trouble | None:
        """What the scale says of itself."""
        last = self._last
        return reported(self._scale.name, last.condition, last.word) if last else None

    def unit_trouble(self) -> Trouble | None:
        """It sends another unit than its own."""
        if self._unit is None:
            return None
        return other_unit(self._scale.name, self._unit, self._scale.unit)
