"""Two formulas side by side: what only one has, and what differs, in grams to a kg of meat."""

from fractions import Fraction
from typing import NamedTuple

from station.formula.model import Addition, Amount, Formula, Meat
from station.formula.scaling import planned_masses
from station.units import plain

_KG = Fraction(1000)
_SAID_ELSEWHERE = frozenset({"name", "amount", "contains", "share"})
_WHOLE = (
    *("product", "method", "basis", "authority", "declaration"),
    *("piece_g", "piece_band", "loss", "pump", "pickle_water", "steps", "packs", "casing"),
)


class Difference(NamedTuple):
    """One line of either formula: grams to a kg of meat, None where it is not in it. `contains`
    names agents whose share of the line differs, `other` what else of it does."""

    name: str
    role: str
    first: Fraction | None
    second: Fraction | None
    contains: tuple[str, ...]
    other: tuple[str, ...]

    @property
    def same(self) -> bool:
        return self.first == self.second and not self.contains and not self.other


def compared(first: Formula, second: Formula) -> list[Difference]:
    """Every meat and addition of both, in the order of the first, then what only the second has."""
    here, there = _masses(first), _masses(second)
    before, after = _lines(first), _lines(second)
    found = []
    for name in dict.fromkeys([*before, *after]):
        one, two = before.get(name), after.get(name)
        role = getattr(one or two, "role", "meat")
        agents: list[str] = []
        if isinstance(one, Addition) and isinstance(two, Addition):
            named = sorted({*one.contains, *two.contains})
            agents = [a for a in named if one.contains.get(a) != two.contains.get(a)]
        other = _other(one, two) if one and two else ()
        found.append(Difference(name, role, here.get(name), there.get(name), tuple(agents), other))
    return found


def differing(first: Formula, second: Formula) -> dict[str, tuple[str, str]]:
    """What differs of the formulas as a whole: name -> (first, second) as text."""
    return {
        name: (_text(getattr(first, name)), _text(getattr(second, name)))
        for name in _WHOLE
        if getattr(first, name) != getattr(second, name)
    }


def _text(value: object) -> str:
    if isinstance(value, tuple):
        return ", ".join(str(getattr(item, "name", item)) for item in value)
    if isinstance(value, Amount):
        return value.text
    return "" if value is None else str(value)


def _masses(formula: Formula) -> dict[str, Fraction]:
    meats = {meat.name: Fraction(meat.share) * _KG for meat in formula.meats}
    return meats | planned_masses(formula, _KG)


def _lines(formula: Formula) -> dict[str, Meat | Addition]:
    lines: list[Meat | Addition] = [*formula.meats, *formula.additions]
    return {line.name: line for line in lines}


def _other(one: Meat | Addition, two: Meat | Addition) -> tuple[str, ...]:
    """What else differs of a line that both have, by the keys of the file."""
    if type(one) is not type(two):
        return ("meat or addition",)
    found = [
        name
        for name in one.__struct_fields__
        if name not in _SAID_ELSEWHERE and getattr(one, name) != getattr(two, name)
    ]
    if isinstance(one, Addition) and isinstance(two, Addition):
        if one.amount.on != two.amount.on:
            found.append(f"amount on {one.amount.on}, then on {two.amount.on}")
        elif one.amount.on == "count" and one.amount.share != two.amount.share:
            found.append(f"{_pieces(one)}, then {_pieces(two)}")
    return tuple(found)


def _pieces(addition: Addition) -> str:
    return f"{plain(addition.amount.share * _KG)} sachets a kg"
