"""People's text to quantities, a scale's unit word to grams: the only place for either.

Masses are `Decimal` grams, fractions are exact. pint reads the units, with a short registry of our
own: a full one knows traps such as `G` (gauss) and takes 130 ms to load.
"""

import contextlib
import re
from collections.abc import Callable
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cache, lru_cache
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
day = 86400 * second = d
millimetre = [length] = mm = millimeter
centimetre = 10 * millimetre = cm = centimeter
metre = 1000 * millimetre = m = meter
inch = 25.4 * millimetre = in
kelvin = [temperature]; offset: 0
degree_Celsius = kelvin; offset: 273.15 = degC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = degF
""".strip().splitlines()
"""Exact: pound and ounce are the international avoirdupois ones, the inch is 25.4 mm."""

SCALE_UNITS: Final = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "mg": Decimal("0.001"),
    "t": Decimal(1_000_000),
    "lb": Decimal("453.59237"),  # exact: international avoirdupois pound
    "oz": Decimal("28.349523125"),  # a sixteenth of it
}
"""Unit word of a scale -> grams."""

_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?"
"""ASCII digits: those of other scripts look like other numbers."""
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z%°]+(?:\s*/\s*[A-Za-z%]+)?)\s*")
_BOUND = re.compile(r"\s*(?:<=|>=|[<>≤≥])?(.*)", re.DOTALL)
_DEGREES: Final = str.maketrans({"º": "°", "˚": "°", "℃": "°C", "℉": "°F"})
"""Signs that keyboards and word processors give for the one of a degree."""
_COMMAS = re.compile(r"[0-9][0-9.]*,[0-9.,]*[0-9]")
_THOUSANDS = re.compile(r"(?<![0-9.,])[1-9][0-9]{0,2},[0-9]{3}(?![0-9.,])")
_ROOM = re.compile(
    r"(?<![a-z])(?:(?:tea|table)?spoon(?:ful)?s?|tsps?|tbsps?|cup(?:ful)?s?|pinch(?:es)?|dash(?:es)?"
    r"|handfuls?|[mcd]?l|(?:milli)?lit(?:re|er)s?|fl\.? ?oz|pints?|quarts?|gal(?:lon)?s?)(?![a-z])",
    re.IGNORECASE,
)
"""Words for a volume."""
_PLACES: Final = 6
_MOST_DIGITS: Final = 15
_EXACT: Final = 60
"""Digits enough for any number of people's times any factor above: no verdict hangs on rounding."""
_SURE: Final = 50
"""The digits of a factor that a division in so many has right."""


class UnitError(ValueError):
    """Text that is not the quantity asked for; the message says what was found and expected."""


@cache
def _registry() -> "pint.UnitRegistry[Any]":
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Decimal)
    registry.load_definitions(_DEFINITIONS)
    return registry


@lru_cache  # bounded: the words are people's
def _unit(word: str) -> Any | None:
    """pint's unit of a word, or None for one that the registry does not know."""
    try:
        return _registry().parse_units(word.replace("%", "percent").replace("°", "deg"))
    except (pint.PintError, AttributeError, ValueError, TypeError, AssertionError):
        return None


def _split(text: str, expected: str) -> tuple[Decimal, str]:
    match = _QUANTITY.fullmatch(text.translate(_DEGREES))
    if match is None:
        raise _unlike(text, expected)
    return Decimal(match[1]), match[2]


def _unlike(text: str, expected: str) -> UnitError:
    return UnitError(f"found {text!r}, expected {expected}{hint(text)}")


def hint(text: str) -> str:
    """What a text that is no quantity may have been meant as, to stand behind a message; or
    nothing. A comma is never taken for a point: it may divide thousands."""
    if match := _ROOM.search(text):
        return (
            f"; {match[0]} is a volume and no weight:"
            ' weigh it once and write the grams, such as "3 g/kg"'
        )
    if not _COMMAS.search(text):
        return ""
    point = _COMMAS.sub(lambda match: _pointed(match[0]), text.strip())
    whole = _THOUSANDS.sub(lambda match: match[0].replace(",", ""), text.strip())
    forms = [point] if "," in whole else [point, whole]
    return f"; write a point, not a comma: {' or '.join(map(repr, dict.fromkeys(forms)))}"


def _pointed(number: str) -> str:
    """A number with commas as it is most likely meant: the last sign of two kinds is the point."""
    whole, _, rest = number.rpartition(",")
    if "," in whole or "." in rest:
        return number.replace(",", "")
    return f"{whole.replace('.', '')}.{rest}"


def _in(text: str, base: str, expected: str) -> Decimal:
    """The number of `base` units (the empty word: a plain number) that a text is."""
    number, word = _split(text, expected)
    if not _is(word, base):
        raise _unlike(text, expected)
    if len(number.as_tuple().digits) > _MOST_DIGITS:
        raise UnitError(f"found {text!r}, expected at most {_MOST_DIGITS} digits")
    with localcontext(prec=_EXACT):
        found: Decimal = _registry().Quantity(number, _unit(word)).to(base).magnitude
    with localcontext(prec=_SURE):  # an ounce to the pound is a sixteenth, not a little less
        return +found


def _is(word: str, base: str) -> bool:
    unit = _unit(word)
    return unit is not None and bool(unit.is_compatible_with(base))


def mass(text: str) -> Decimal:
    """Grams from text such as "7340 g", "12 kg", "1 lb". Raises `UnitError`."""
    return _in(text, "gram", 'a mass with its unit such as "35 g" or "12 kg"')


def fraction(text: str) -> Decimal:
    """A plain fraction from text such as "6.25 %", "2 g/kg", "125 ppm". Raises `UnitError`."""
    return _in(text, "", 'a share such as "0.20 %", "2 g/kg" or "125 mg/kg"')


def number(text: str) -> Decimal:
    """A number without a unit, such as "4.10". Raises `UnitError`."""
    if not re.fullmatch(_NUMBER, text.strip()) or len(text) > _MOST_DIGITS:
        raise _unlike(text, 'a number such as "4.10"')
    return Decimal(text.strip())


def more_than_nothing(value: Decimal, text: str) -> Decimal:
    """The value that a text gave, if it is more than nothing. Raises `UnitError`."""
    if value <= 0:
        raise UnitError(f"found {text!r}, expected more than nothing")
    return value


def seconds(text: str) -> Decimal:
    """Seconds from text such as "5 s", "500 ms", "2 min". Raises `UnitError`."""
    return _in(text, "second", 'a time with its unit such as "5 s" or "2 min"')


def metres(text: str) -> Decimal:
    """Metres from text such as "12 m", "80 cm". Raises `UnitError`."""
    return _in(text, "millimetre", 'a length with its unit such as "12 m" or "80 cm"') / 1000


def celsius(text: str) -> Decimal:
    """Degrees Celsius from text such as "4 °C", "4 degC", "40 °F"; to a billionth, since ninths
    have no end in decimals. Raises `UnitError`."""
    found = _in(text, "degree_Celsius", 'a temperature with its unit such as "8 degC" or "46 °F"')
    return round(found, 9)


def bound(text: str, parse: Callable[[str], Decimal]) -> str:
    """A bound such as "<= 10 min" or "40 min", as it is written; `parse` reads what stands behind
    the comparator. Raises `UnitError`."""
    match = _BOUND.fullmatch(text)
    assert match is not None  # it takes any text
    parse(match[1])
    return text


@lru_cache(maxsize=256)
def least_and_most(
    text: str, parse: Callable[[str], Decimal]
) -> tuple[Decimal | None, Decimal | None]:
    """What a bound allows: "<= 10 min" has a most, ">= 40 min" and a bare "40 min" a least. Kept,
    for a time that runs asks it at every look. Raises `UnitError`."""
    match = _BOUND.fullmatch(text)
    assert match is not None
    value = parse(match[1])
    return (None, value) if text.strip()[:1] in ("<", "≤") else (value, None)


def found_value(text: str) -> str:
    """What was found at a process step, as it is written: figures with their unit, and words, with
    commas between, such as "8 degC, tacky". What begins like a figure must be one; words such as
    "tacky" or "pH 5.3" stand as they are. Raises `UnitError`."""
    for part in map(str.strip, re.split(r",(?![0-9])", text)):  # a decimal comma divides nothing
        if re.match(r"[+-]?\d", part):
            _, word = _split(part, _VALUE)
            if not any(_is(word, base) for base in _BASES):
                raise _unlike(part, _VALUE)
    return text


def temperatures(text: str) -> tuple[Decimal, ...]:
    """Every temperature in what was found at a step ("8 degC, tacky"), in degrees Celsius."""
    found = []
    for part in map(str.strip, re.split(r",(?![0-9])", text)):
        with contextlib.suppress(UnitError):
            found.append(celsius(part))
    return tuple(found)


_BASES: Final = ("gram", "", "second", "degree_Celsius", "millimetre")
_VALUE: Final = 'a value with its unit such as "8 degC" or "32 mm", or words such as "pH 5.3"'


def per_mass(text: str) -> tuple[Decimal, Decimal]:
    """(amount in grams, per so many grams) from text such as "25 g / 100 kg"; exact as a pair.
    Raises `UnitError`."""
    if _ROOM.search(text):
        raise _unlike(text, 'so much to so much such as "25 g / 100 kg"')
    amount, _, per = text.partition("/")
    return mass(amount), mass(per)


def is_mass(text: str) -> bool:
    """Whether the text has a mass's unit: tells a fixed amount from a share."""
    match = _QUANTITY.fullmatch(text)
    return match is not None and _is(match[2], "gram")


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
