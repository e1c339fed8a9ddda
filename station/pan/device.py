"""Another device under the scale's name: it shows what this scale cannot, or never what lies
between."""

from decimal import Decimal
from math import gcd

from station.metrology.scale import Device, Scale
from station.pan.view import Trouble
from station.units import SCALE_UNITS, plain

OVER_MAX_D = 9
"""A scale may show up to Max + 9 e (OIML R 76-1:2006, 4.2.3; from memory)."""
LATELY = 20
SO_MANY = 5
"""Of so many of the last readings: a frame that was garbled and still reads as a number comes once
in hundreds on a bad line, five of twenty never. A value in ten times the resolution lies on
the grid by chance once in five or ten times, so that readings in a row would prove nothing."""
BY_CHANCE = 10**9
"""Values of a right scale all lie on a grid of k divisions with a chance of one in k for each: that
many to one says that they do not by chance (nine values on 10 divisions, thirty on 2)."""

_NEXT = "attach the right scale, or mend station.toml"
_CONFIRM = "attach the scale on record, or confirm that this one takes its place"


def unlike(was: Scale, was_device: Device, now: Scale, now_device: Device) -> str:
    """What tells the scale that is attached from the one on record, as words; empty where nothing
    does. An identity that only one of them has tells nothing."""
    pairs = [
        ("grammar", was_device.grammar, now_device.grammar),
        ("unit", was.unit, now.unit),
        ("division", f"{plain(was.division_g)} g", f"{plain(now.division_g)} g"),
        ("Max", f"{plain(was.max_g)} g", f"{plain(now.max_g)} g"),
        ("class", was.accuracy, now.accuracy),
    ]
    if was_device.identity and now_device.identity:
        pairs.append(("port", was_device.identity, now_device.identity))
    return "; ".join(f"{what} {new}, was {old}" for what, old, new in pairs if old != new)


class DeviceWatch:
    """Takes every weight as sent, in the scale's unit."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self._step = scale.division_g / SCALE_UNITS[scale.unit.lower()]
        self._exponent = _exponent(self._step.normalize())
        self._most_g = scale.max_g + OVER_MAX_D * scale.division_g
        self._lately = 0  # a bit for each of the last readings, the newest lowest
        self._what = ""
        self._shown: int | None = None  # the last value, in divisions
        self._moved = False  # whether that was another than the one before it
        self._between: set[int] = set()
        self._grid = 0  # the largest grid on which all of them lie, in divisions; 0 before any
        self._attached: Device | None = None
        self._answered = False
        self._known: tuple[Scale, Device] | None = None
        self._another: Trouble | None = None

    def attached(self, device: Device | None) -> None:
        """The port was opened, and this is behind it, or lost."""
        self._attached, self._answered = device, False
        self._another = self._other_than_known()
        self.anew()

    def expect(self, scale: Scale, device: Device) -> bool:
        """The scale on record is this one; whether that is new."""
        new = self._known != (scale, device)
        self._known = scale, device
        if new:
            self._another = self._other_than_known()
        return new

    @property
    def answers(self) -> Device | None:
        """What is attached, once it has sent a weight."""
        return self._attached if self._answered else None

    def anew(self) -> None:
        """The port was opened, or readings are missing: the cable may be in another scale now. What
        spoke against it stays until a reading speaks for it."""
        self._shown, self._moved = None, False
        if not self._coarse:
            self._between, self._grid = set(), 0

    @property
    def quiet(self) -> bool:
        """Whether none of the last readings was odd."""
        return self._lately == 0

    @property
    def other(self) -> bool:
        """Whether so many of them were that none of them can be believed."""
        return self._lately.bit_count() >= SO_MANY

    @property
    def trouble(self) -> Trouble | None:
        """How it differs from the scale on record, or what it does that this scale cannot do."""
        if self._another is not None:
            return self._another
        what = self._what if self.other else None
        if what is None and self._coarse:
            what = f"it moves by {self._text(self._grid * self._step)}, but its division is"
            what += f" {self._text(self._step)}"
        if what is None:
            return None
        return Trouble("device", f"{self._scale.name}: {what}", _NEXT)

    def _other_than_known(self) -> Trouble | None:
        """Worked out when either changes, and not for each reading."""
        if self._known is None or self._attached is None:
            return None
        found = unlike(*self._known, self._scale, self._attached)
        what = f"another scale answers as {self._scale.name}: {found}"
        about = (self._scale.name,)
        return Trouble("device", what, _CONFIRM, "device", about) if found else None

    @property
    def _coarse(self) -> bool:
        return bool(self._grid ** len(self._between) >= BY_CHANCE)

    def take(self, value: Decimal, gross_g: Decimal) -> bool:
        """Take in one value as sent, and its gross in grams; whether the scale can show it."""
        self._answered = True
        odd = (
            gross_g > self._most_g or _exponent(value) > self._exponent or bool(value % self._step)
        )
        if odd and not self.other:  # the first of them is told as long as they go on
            self._what = self._cannot(value, gross_g)
        self._lately = (self._lately << 1 | odd) & ((1 << LATELY) - 1)
        if odd:
            return False
        steps = int(value / self._step)
        if self._shown == steps:
            self._moved = False
        else:
            # a scale on whose grid no coarser one fits is right: nothing more need be kept
            if self._moved and self._shown and self._grid != 1:
                self._passed(self._shown)
            self._moved = self._shown is not None
            self._shown = steps
        return True

    def _cannot(self, value: Decimal, gross_g: Decimal) -> str:
        if gross_g > self._most_g:
            limit = f"Max is {plain(self._scale.max_g)} g"
        else:
            limit = f"division is {self._text(self._step)}"
        return f"it shows {value} {self._scale.unit}, but its {limit}"

    def _text(self, value: Decimal) -> str:
        return f"{plain(value)} {self._scale.unit}"

    def _passed(self, steps: int) -> None:
        """The weight moved through a value: unlike where it stands, nobody chose that."""
        self._grid = gcd(self._grid, steps)
        self._between.add(abs(steps))


def _exponent(value: Decimal) -> int:
    """Of its last digit; a scale sends no infinity."""
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)
    return exponent
