"""People's text to masses and fractions, a scale's unit word to grams: the only place for either.

Masses are `Decimal` grams, fractions are exact. pint does the dimensions, with a short registry of
our own: a full one knows traps such as `G` (gauss) and takes 130 ms to load.
"""

import re
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cache
from typing import Any, Final, cast

import pint

_DEFINITIONS: Final = """
gram = [mass] = g
kilogram = 1000 * gram = kg
milligram = 0.001 * gram = mg
tonne = 1000000 * gram = t
pound = 453.59237 * gram = lb
ounce = 28.349523125 * gram = oz
percent = 0.01 = pct
ppm = 0.000001
second = [time] = s
millisecond = 0.001 * second = ms
minute = 60 * second = min
hour = 3600 * second = h
""".strip().splitlines()

SCALE_UNITS: Final = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "mg": Decimal("0.001"),
    "t": Decimal(1_000_000),
    "lb": Decimal("453.59237"),  # exact: international avoirdupois pound
    "oz": Decimal("28.349523125"),  # a sixteenth of it
}
"""Unit word of a scale -> grams."""

_QUANTITY = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*([A-Za-z%][A-Za-z%/ ]*?)\s*")
_PLACES: Final = 6
_MOST_DIGITS: Final = 15
_EXACT: Final = 60
"""Digits enough for any number of people's times any factor above: no verdict hangs on rounding."""


class UnitError(ValueError):
    """Text that is not the quantity asked for; the message says what was found and expected."""


@cache
def _registry() -> "pint.UnitRegistry[Any]":
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Decimal)
    registry.load_definitions(_DEFINITIONS)
    return registry


@cache
def _factor(unit: str, base: str) -> Decimal | None:
    """How many of `base` (gram, or the empty word for a plain number) one `unit` is, or None."""
    registry = _registry()
    try:
        with localcontext(prec=_EXACT):
            one = registry.Quantity(Decimal(1), registry.parse_units(unit.replace("%", "percent")))
            return one.to(base).magnitude
    except (pint.PintError, AttributeError, ValueError, TypeError, AssertionError):
        return None


def _split(text: str, expected: str) -> tuple[Decimal, str]:
    match = _QUANTITY.fullmatch(text)
    if match is None:
        hint = "; write a point, not a comma" if re.search(r"\d,\d", text) else ""
        raise UnitError(f"found {text!r}, expected {expected}{hint}")
    return Decimal(match[1]), match[2]


def mass(text: str) -> Decimal:
    """Grams from text such as "7340 g", "12 kg", "1 lb". Raises `UnitError`."""
    return _in(text, "gram", 'a mass with its unit such as "35 g" or "12 kg"')


def fraction(text: str) -> Decimal:
    """A plain fraction from text such as "6.25 %", "2 g/kg", "125 ppm". Raises `UnitError`."""
    return _in(text, "", 'a share such as "0.20 %", "2 g/kg" or "125 mg/kg"')


def more_than_nothing(value: Decimal, text: str) -> Decimal:
    """The value that a text gave, if it is more than nothing. Raises `UnitError`."""
    if value <= 0:
        raise UnitError(f"found {text!r}, expected more than nothing")
    return value


def seconds(text: str) -> Decimal:
    """Seconds from text such as "5 s", "500 ms", "2 min". Raises `UnitError`."""
    return _in(text, "second", 'a time with its unit such as "5 s" or "2 min"')


def _in(text: str, base: str, expected: str) -> Decimal:
    number, unit = _split(text, expected)
    factor = _factor(unit, base)
    if factor is None:
        raise UnitError(f"found {text!r}, expected {expected}")
    if len(number.as_tuple().digits) > _MOST_DIGITS:
        raise UnitError(f"found {text!r}, expected at most {_MOST_DIGITS} digits")
    with localcontext(prec=_EXACT):
        return number * factor


def per_mass(text: str) -> tuple[Decimal, Decimal]:
    """(amount in grams, per so many grams) from text such as "25 g / 100 kg"; exact as a pair."""
    amount, _, per = text.partition("/")
    return mass(amount), mass(per)


def is_mass(text: str) -> bool:
    """Whether the text has a mass's unit: tells a fixed amount from a share."""
    match = _QUANTITY.fullmatch(text)
    return match is not None and _factor(match[2], "gram") is not None


def grams(value: Decimal, word: str) -> Decimal | None:
    """Grams from what a scale sent, or None for a unit word that no scale of ours may send."""
    factor = SCALE_UNITS.get(word.lower())
    return None if factor is None else value * factor


def rounded(number: Decimal | Fraction, places: int, up: bool) -> Decimal:
    """To so many decimals, up or down: what is shown beside a limit is rounded to the safe side."""
    scaled = Fraction(number) * 10**places
    whole = (
        -(-scaled.numerator // scaled.denominator) if up else scaled.numerator // scaled.denominator
    )
    return Decimal(whole).scaleb(-places)


def tidy(number: float) -> Decimal:
    """A float of the statistics as a decimal that can be kept: to a thousandth."""
    return Decimal(f"{number:.3f}")


def plain(number: Decimal | Fraction) -> str:
    """Plain text without exponent: exact up to a millionth, half to even beyond."""
    if not number:
        return "0"
    if isinstance(number, Fraction) or number.as_tuple().exponent < -_PLACES:  # type: ignore[operator]
        number = Decimal(round(Fraction(number) * 10**_PLACES)).scaleb(-_PLACES)
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def shown(number: Decimal | Fraction, division: Decimal) -> str:
    """Text for a screen: the nearest weight that a scale of that division can show."""
    places = max(0, -int(cast(int, division.normalize().as_tuple().exponent)))
    steps = round(Fraction(number) / Fraction(division))
    return f"{steps * division:.{places}f}"
