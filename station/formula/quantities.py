"""The quantities of a formula file: a text in quotes to an amount, a band, a share, a bound."""

import re
from collections.abc import Callable
from decimal import Decimal

from station import units
from station.formula.model import Amount, Band

_BAND_PART = re.compile(r"([+-]\s*[0-9]+(?:\.[0-9]+)?)\s*(%|mg|g|kg)")
_COUNT = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s+sachets?\s*/\s*(.+)")


def parse_amount(text: str) -> Amount:
    """An amount such as "0.20 %", "2 g/kg", "1.7 % of mix", "1 sachet / 100 kg", "35 g"."""
    if match := _COUNT.fullmatch(text.strip()):
        return Amount(text, "count", Decimal(match[1]), _positive(units.mass(match[2])))
    bare, _, of = text.partition(" of ")
    if of.strip() not in ("", "mix", "meat", "pickle"):
        raise ValueError(f"found 'of {of.strip()}', allowed 'of mix', 'of meat' or 'of pickle'")
    on = of.strip() or "meat"
    if re.search(r"/\s*[0-9]", bare):
        number, per = units.per_mass(bare)
        amount = Amount(text, on, number, _positive(per))  # type: ignore[arg-type]
    elif units.is_mass(bare):
        if of:
            raise ValueError(f"found {text!r}: a fixed mass is not 'of' anything")
        amount = Amount(text, "fixed", units.mass(bare))
    else:
        amount = Amount(text, on, units.fraction(bare))  # type: ignore[arg-type]
    units.more_than_nothing(amount.number, text)
    return amount


def parse_band(text: str) -> Band:
    """A band such as "-4 % +2 %", "-0.5 g +0.5 g" or both together."""
    found: dict[str, Decimal] = {}
    rest = _BAND_PART.sub("", text)
    for number, unit in _BAND_PART.findall(text):
        side = "lower" if number[0] == "-" else "upper"
        size = number[1:].strip()
        key = side if unit == "%" else f"{side}_g"
        if key in found:
            raise ValueError(f"found {text!r}: {side} side given twice")
        found[key] = units.fraction(f"{size} %") if unit == "%" else units.mass(f"{size} {unit}")
    sides = {key.removesuffix("_g") for key in found}
    if found.get("lower", Decimal(0)) >= 1:
        raise ValueError(f"found {text!r}: its lower side is nothing at all")
    if rest.strip() or sides != {"lower", "upper"}:
        expected = 'both sides such as "-4 % +2 %" or "-1 g +1 g"'
        raise ValueError(f"found {text!r}, expected {expected}{units.hint(text)}")
    return Band(found.get("lower"), found.get("upper"), found.get("lower_g"), found.get("upper_g"))


def below_one(text: str) -> Decimal:
    """A share from nothing to less than all. Raises `ValueError`, as all of these do."""
    value = units.fraction(text)
    if not 0 <= value < 1:
        raise ValueError(f"found {text!r}, expected 0 % up to less than 100 %")
    return value


def time_bound(text: str) -> str:
    """A bound of a time such as "<= 10 min", as it is written."""
    return units.bound(text, lambda bare: units.more_than_nothing(units.seconds(bare), bare))


def temperature_bound(text: str) -> str:
    """A bound of a temperature such as "<= 4 °C", as it is written."""
    return units.bound(text, units.celsius)


def share(text: str) -> Decimal:
    """A share of something: more than nothing, at most all."""
    value = units.fraction(text)
    if not 0 < value <= 1:
        raise ValueError(f"found {text!r}, expected more than 0 % and at most 100 %")
    return value


def pickle_water(text: str) -> Amount:
    """The water of a pickle: a mass, or a share of the meat."""
    amount = parse_amount(text)
    if amount.on not in ("fixed", "meat"):
        raise ValueError(f'found {text!r}, expected a mass such as "10 kg", or "10 % of meat"')
    return amount


def positive_mass(text: str) -> Decimal:
    """Grams, more than nothing."""
    return units.more_than_nothing(units.mass(text), text)


def price(text: str) -> Decimal:
    """What a kilogram costs, from text such as "4.10 / kg" or "0.85 / 100 g"."""
    number, stroke, per = text.partition("/")
    if not stroke:
        raise ValueError(f'found {text!r}, expected a price such as "4.10 / kg"')
    cost = units.number(number)
    if cost < 0:
        raise ValueError(f"found {text!r}, expected no price below nothing")
    return cost * 1000 / _per(per, units.mass)


def whole_days(text: str) -> int:
    """Days from text such as "4 d"; at least one."""
    days = units.more_than_nothing(units.seconds(text), text) / 86400
    if days != days.to_integral_value():
        raise ValueError(f"found {text!r}, expected whole days such as 4 d")
    return int(days)


def fat(text: str) -> Decimal:
    """A share of fat, from none to all."""
    value = units.fraction(text)
    if not 0 <= value <= 1:
        raise ValueError(f"found {text!r}, expected 0 % to 100 %")
    return value


def grams_a_metre(text: str) -> Decimal:
    """Grams that a metre holds, from text such as "0.9 kg / m" or "450 g / 50 cm"."""
    grams, stroke, per = text.partition("/")
    if not stroke:
        raise ValueError(f'found {text!r}, expected so much a metre such as "0.9 kg / m"')
    return positive_mass(grams) / _per(per, units.metres)


def _per(text: str, parse: Callable[[str], Decimal]) -> Decimal:
    """What stands behind the stroke: "50 cm", or a unit alone for one of it."""
    text = text.strip()
    return _positive(parse(text if text[:1].isdigit() else f"1 {text}"))


def _positive(value: Decimal) -> Decimal:
    if value <= 0:
        raise ValueError("expected more than nothing after the stroke")
    return value
