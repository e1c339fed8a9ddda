"""What a label says of salt: all the sodium, counted as if it were salt."""

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from station.formula.counting import Counting
from station.formula.masses import AGENTS, ATOMS, molar_g


def sodium_g(masses: Mapping[str, Fraction], contains: Mapping[str, Mapping[str, Any]]) -> Fraction:
    """Grams of sodium in the lines' masses, by what each contains; agents of unknown make-up are
    left out."""
    return sum(
        (
            mass * Fraction(share) * ATOMS["Na"] * AGENTS[agent].get("Na", 0) / molar_g(agent)
            for line, mass in masses.items()
            for agent, share in contains[line].items()
            if agent in AGENTS
        ),
        Fraction(0),
    )


def label_salt(sodium_g: Fraction, counting: Counting) -> Decimal:
    """Grams of salt that a label says for grams of sodium; two decimals, half rounds up."""
    salt = sodium_g * counting.salt_per_sodium * 100
    exact = Decimal(salt.numerator) / Decimal(salt.denominator)
    return exact.quantize(Decimal(1), rounding=ROUND_HALF_UP) / 100
