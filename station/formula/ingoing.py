"""How much of an agent goes in, on what it counts, and how that stands to a row.

Ingoing amount = mass of agent / green weight of the meat block (FSIS Processing Inspectors'
Calculations Handbook, Directive 7620.3, 1995), agents counted by the row that limits them.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from station.formula.limits import LimitRow, rows_for
from station.formula.masses import factor
from station.formula.model import Formula
from station.formula.scaling import (
    ingoing_masses,
    mix_of,
    pickle_counted_g,
    product_g,
    skin_share,
)
from station.units import plain, rounded

NITRITES = ("sodium nitrite", "potassium nitrite")

Contents = Mapping[str, Mapping[str, Decimal | Fraction]]


def counted_g(masses: Mapping[str, Fraction], contains: Contents, row: LimitRow) -> Fraction:
    """Grams of a row's agents in the lines' masses (grams), as the row expresses them."""
    return sum((mass * row.counted(contains[line]) for line, mass in masses.items()), Fraction(0))


def ppm(agent_g: Fraction, basis_g: Fraction) -> Fraction:
    """mg/kg of the basis."""
    return agent_g * 1_000_000 / basis_g


def contents(formula: Formula) -> dict[str, dict[str, Decimal]]:
    """Line -> what it contains, as the formula expects it."""
    return {addition.name: addition.contains for addition in formula.additions}


class Basis(NamedTuple):
    """What a row counts on: its name, and grams of it."""

    name: Literal["meat block", "meat without skin", "mix", "product", "pickle"]
    grams: Fraction


def basis_of(formula: Formula, row: LimitRow, meat_g: Fraction) -> Basis:
    """What a row really counts on: the meat block, which is the stricter, without its skin where
    the row says so. A row on the mix counts on the mix as made where the formula says so; one on
    the product on that, where less becomes product than there was meat."""
    if row.basis == "mix" and formula.basis == "mix":
        return Basis("mix", mix_of(formula, meat_g))
    if row.basis == "product" and (product := product_g(formula, meat_g)) < meat_g:
        return Basis("product", product)
    if row.basis == "pickle" and formula.pickle_water is not None:
        return Basis("pickle", pickle_counted_g(formula, meat_g))
    if row.skin_free:
        return Basis("meat without skin", meat_g * (1 - skin_share(formula)))
    return Basis("meat block", meat_g)


def basis_g(formula: Formula, row: LimitRow, meat_g: Fraction) -> Fraction:
    """Grams of what a row counts on."""
    return basis_of(formula, row, meat_g).grams


def verdict(row: LimitRow, agent_g: Fraction, basis_g: Fraction) -> str:
    """ "within", "over", "under", or "not judged": compared by multiplying out, never rounded."""
    if row.kind in ("residual", "as needed"):
        return "not judged"
    edge = Fraction(row.maximum) * basis_g
    if row.kind == "required":
        return "under" if agent_g < edge else "within"
    return "over" if agent_g > edge else "within"


def shown_ppm(row: LimitRow, agent_g: Fraction, basis_g: Fraction, places: int) -> str:
    """mg/kg to so many decimals, rounded to the side on which it does harm."""
    return plain(rounded(ppm(agent_g, basis_g), places, up=row.kind != "required"))


def lawful_most(
    formula: Formula, rows: Iterable[LimitRow], name: str, meat_g: Fraction
) -> Fraction | None:
    """The most of one line, grams, that the enforced rows leave beside the targets of all others;
    None where none limits it or only a share of it counts."""
    masses, contained = ingoing_masses(formula, meat_g), contents(formula)
    if formula.addition(name).in_pickle:
        return None
    most = []
    for row in rows_for(formula, rows, meat_g):
        if share := row.counted(contained[name]):
            others = counted_g({n: g for n, g in masses.items() if n != name}, contained, row)
            most.append((Fraction(row.maximum) * basis_g(formula, row, meat_g) - others) / share)
    return min(most) if most else None


def nitrite_g(formula: Formula, masses: Mapping[str, Fraction]) -> dict[str, Fraction]:
    """Line -> grams of nitrite, as sodium nitrite, in the lines' masses (grams); lines without any
    are left out."""
    found: dict[str, Fraction] = {}
    for name, mass in masses.items():
        for agent, share in formula.addition(name).contains.items():
            if agent in NITRITES:
                grams = mass * Fraction(share) * factor(agent, "sodium nitrite")
                found[name] = found.get(name, Fraction(0)) + grams
    return found


def hangs_on_meat(formula: Formula, lines: Iterable[str]) -> bool:
    """Whether the mg/kg of these lines are others for another weight of meat: a fixed mass beside
    it, a pickle of fixed masses that is immersed in without a known pick-up (method two), or one
    whose water goes by the meat and a line of it does not."""
    of_them = [formula.addition(name) for name in lines]
    if any(line.amount.on == "fixed" and not line.in_pickle for line in of_them):
        return True
    water = formula.pickle_water
    if water is None or not any(line.in_pickle for line in of_them):
        return False
    fixed_inside = any(a.in_pickle and a.amount.on == "fixed" for a in formula.additions)
    if formula.method == "immersion" and formula.pump is None:
        return fixed_inside or water.on == "fixed"
    return fixed_inside and water.on == "meat"


def mg_kg(agent_ppm: Fraction) -> str:
    """As text, where it is compared with no limit: to a hundredth."""
    return f"{plain(round(agent_ppm, 2))} mg/kg"
