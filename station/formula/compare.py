"""Two formulas side by side: what only one has, and what differs, in grams to a kg of meat."""

from fractions import Fraction
from typing import NamedTuple

from station.formula.model import Formula
from station.formula.scaling import planned_masses

_KG = Fraction(1000)


class Difference(NamedTuple):
    """One line of either formula: grams to a kg of meat, None where it is not in it."""

    name: str
    role: str
    first: Fraction | None
    second: Fraction | None
    contains: tuple[str, ...]

    @property
    def same(self) -> bool:
        return self.first == self.second and not self.contains


def compared(first: Formula, second: Formula) -> list[Difference]:
    """Every meat and addition of both, in the order of the first, then what only the second has.

    `contains` names agents whose share of the line differs.
    """
    here, there = planned_masses(first, _KG), planned_masses(second, _KG)
    here |= {meat.name: Fraction(meat.share) * _KG for meat in first.meats}
    there |= {meat.name: Fraction(meat.share) * _KG for meat in second.meats}
    roles = {meat.name: "meat" for meat in (*second.meats, *first.meats)}
    roles |= {addition.name: addition.role for addition in (*second.additions, *first.additions)}
    before = {addition.name: addition.contains for addition in first.additions}
    after = {addition.name: addition.contains for addition in second.additions}
    found = []
    for name in dict.fromkeys([*here, *there]):
        one, two = before.get(name, {}), after.get(name, {})
        agents = [a for a in sorted({*one, *two}) if one.get(a) != two.get(a)]
        both = name in here and name in there
        told = tuple(agents) if both else ()
        found.append(Difference(name, roles[name], here.get(name), there.get(name), told))
    return found
