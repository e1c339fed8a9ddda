"""The highest lawful amount of a line that is over a limit."""

from decimal import Decimal
from fractions import Fraction

from msgspec.structs import replace

from station.formula.ingoing import lawful_most
from station.formula.limits import LimitRow
from station.formula.model import Amount, Formula
from station.formula.scaling import planned_masses
from station.units import plain, rounded

_TRIES = 20
"""The mix shrinks with the line, and a limit on the mix with that: each try is nearer."""


def highest_lawful(
    formula: Formula, rows: tuple[LimitRow, ...], name: str, meat_g: Fraction
) -> Decimal | None:
    """Grams of a line to a kg of meat that the enforced rows leave beside the others, rounded down
    to a milligram; 0 where they leave nothing, None where it is over none."""
    most = lawful_most(formula, rows, name, meat_g)
    if most is None or planned_masses(formula, meat_g)[name] <= most:
        return None
    for _ in range(_TRIES):
        per_kg = max(rounded(most * 1000 / meat_g, 3, up=False), Decimal(0))
        amount = Amount(f"{plain(per_kg)} g/kg", "meat", per_kg, Decimal(1000))
        lower = [replace(a, amount=amount) if a.name == name else a for a in formula.additions]
        trial = replace(formula, additions=tuple(lower))
        left = lawful_most(trial, rows, name, meat_g)
        if not per_kg or left is None or planned_masses(trial, meat_g)[name] <= left:
            return per_kg
        most = left
    return None
