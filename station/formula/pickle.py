"""The pickle of a pumped or immersed formula: what there is, what the meat takes, its salt."""

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from station.formula.model import Formula
from station.formula.scaling import pickle_water_g, planned_masses, salt_g


class Pickle(NamedTuple):
    """Grams: `water`, each line dissolved in it, all of it as `made`, and what the meat `takes`,
    which is None where nobody says (immersion without a known pick-up). `salt` is a fraction of the
    pickle."""

    water_g: Fraction
    lines_g: dict[str, Fraction]
    made_g: Fraction
    takes_g: Fraction | None
    salt: Fraction

    @property
    def left_g(self) -> Fraction | None:
        """What is left over; less than nothing where there is too little."""
        return None if self.takes_g is None else self.made_g - self.takes_g

    def just_enough(self) -> "Pickle | None":
        """The same pickle, as strong, and as much of it as the meat takes."""
        if self.takes_g is None:
            return None
        times = self.takes_g / self.made_g
        lines = {name: mass * times for name, mass in self.lines_g.items()}
        return self._replace(water_g=self.water_g * times, lines_g=lines, made_g=self.takes_g)


def pickle_of(formula: Formula, meat_g: Fraction) -> Pickle | None:
    """The formula's pickle for `meat_g` grams of green weight; None for a formula without one.

    Pumped, the meat takes its gain in weight, (pumped - green) / green, of it (FSIS Processing
    Inspectors' Calculations Handbook, Directive 7620.3, 1995).
    """
    if formula.pickle_water is None:
        return None
    masses = planned_masses(formula, meat_g)
    lines = {a.name: masses[a.name] for a in formula.additions if a.in_pickle}
    water = pickle_water_g(formula, meat_g)
    made = water + sum(lines.values(), Fraction(0))
    contains: dict[str, dict[str, Decimal]] = {a.name: a.contains for a in formula.additions}
    takes = None if formula.pump is None else Fraction(formula.pump) * meat_g
    return Pickle(water, lines, made, takes, salt_g(lines, contains) / made)
