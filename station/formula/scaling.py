"""From meat to targets, and from a wish (mix, pieces) back to meat. Exact, in `Fraction` grams."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from station.formula.model import Addition, Amount, Formula


def mix_of(formula: Formula, meat_g: Fraction) -> Fraction:
    """The whole mix in grams: (M (1 + S) + F) / (1 - P).

    S is the sum of the amounts on meat, F the fixed grams, P the sum of the amounts on the mix.
    """
    on_meat, fixed, on_mix = _sums(formula)
    return (meat_g * (1 + on_meat + Fraction(formula.pump or 0)) + fixed) / (1 - on_mix)


def target_of(amount: Amount, formula: Formula, meat_g: Fraction) -> Fraction:
    """The exact target in grams (pieces for an amount on count) for `meat_g` grams of meat."""
    if amount.on == "fixed":
        return Fraction(amount.number)
    if amount.on == "pickle":
        return amount.share * pickle_water_g(formula, meat_g)
    base = mix_of(formula, meat_g) if amount.on == "mix" else meat_g
    return amount.share * base


def pickle_water_g(formula: Formula, meat_g: Fraction) -> Fraction:
    """Grams of the water that the pickle is made with for `meat_g` grams of meat; none without a
    pickle."""
    water = formula.pickle_water
    return Fraction(0) if water is None else target_of(water, formula, meat_g)


def meat_for_mix(formula: Formula, mix_g: Fraction) -> Fraction:
    """The meat block in grams that gives `mix_g` of mix. Raises `ValueError` if none is left."""
    on_meat, fixed, on_mix = _sums(formula)
    meat = (mix_g * (1 - on_mix) - fixed) / (1 + on_meat + Fraction(formula.pump or 0))
    if meat <= 0:
        raise ValueError("the fixed amounts alone are more than that mix")
    return meat


def meat_for_pieces(formula: Formula, pieces: int) -> Fraction:
    """The meat block for so many pieces: mix = n x piece / (1 - loss)."""
    if formula.piece_g is None:
        raise ValueError("the formula gives no piece weight: plan by meat or by mix")
    return meat_for_mix(formula, pieces * Fraction(formula.piece_g) / (1 - Fraction(formula.loss)))


def salt_g(masses: Mapping[str, Fraction], contains: Mapping[str, Mapping[str, Any]]) -> Fraction:
    """All the salt in the lines' masses, the premix's included, by what each line contains."""
    return sum(
        (mass * Fraction(contains[line].get("salt", Decimal(0))) for line, mass in masses.items()),
        Fraction(0),
    )


def binder_share(formula: Formula, meat_g: Fraction = Fraction(10_000)) -> Fraction:
    """Binders as a share of all ingredients."""
    binders = [a.name for a in weighed(formula) if a.role == "binder" and not a.in_pickle]
    if not binders:  # the most, and asked at every batch of a ledger that is folded
        return Fraction(0)
    masses = planned_masses(formula, meat_g)
    return sum((masses[name] for name in binders), Fraction(0)) / mix_of(formula, meat_g)


def cereal_share(formula: Formula, meat_g: Fraction = Fraction(10_000)) -> Fraction:
    """What counts as cereal, as a share of all ingredients."""
    cereals = [a.name for a in weighed(formula) if a.cereal and not a.in_pickle]
    if not cereals:
        return Fraction(0)
    masses = planned_masses(formula, meat_g)
    return sum((masses[name] for name in cereals), Fraction(0)) / mix_of(formula, meat_g)


def share_of_role(
    formula: Formula, role: str, meat_g: Fraction = Fraction(10_000)
) -> Fraction | None:
    """What the lines of a role bring, as a fraction of the meat; what is counted in pieces weighs
    nothing here. None where no line has it."""
    lines = [a.name for a in formula.additions if a.role == role]
    masses = ingoing_masses(formula, meat_g)
    total = sum((masses.get(name, Fraction(0)) for name in lines), Fraction(0))
    return total / meat_g if lines else None


def skin_share(formula: Formula) -> Fraction:
    """The skin of the meat block as a fraction of it; none where nobody said how much."""
    return sum((Fraction(m.share) * Fraction(m.skin or 0) for m in formula.meats), Fraction(0))


def product_g(formula: Formula, meat_g: Fraction) -> Fraction:
    """What becomes product of `meat_g`: the mix less its loss."""
    return mix_of(formula, meat_g) * (1 - Fraction(formula.loss))


def planned_masses(formula: Formula, meat_g: Fraction) -> dict[str, Fraction]:
    """Line -> target grams; what is counted in pieces has no mass here."""
    return {
        addition.name: target_of(addition.amount, formula, meat_g) for addition in weighed(formula)
    }


def ingoing_masses(formula: Formula, meat_g: Fraction) -> dict[str, Fraction]:
    """Line -> grams of it that count on `meat_g` of green weight.

    FSIS Processing Inspectors' Calculations Handbook (Directive 7620.3, 1995): comminuted and dry
    cured, all of it; pumped, and immersed with a known pick-up, its share of the pickle times what
    is pumped in; immersed otherwise (method two), its share of meat and pickle together.
    """
    masses = planned_masses(formula, meat_g)
    if formula.pickle_water is None:
        return masses
    inside = {addition.name for addition in formula.additions if addition.in_pickle}
    pickle = pickle_water_g(formula, meat_g) + sum(
        (mass for name, mass in masses.items() if name in inside), Fraction(0)
    )
    share = pickle_counted_g(formula, meat_g) / pickle
    return {name: mass * share if name in inside else mass for name, mass in masses.items()}


def pickle_counted_g(formula: Formula, meat_g: Fraction) -> Fraction:
    """Grams of pickle that count on `meat_g` of green weight: what is pumped in or picked up;
    immersed otherwise, what of the pickle falls to the meat when both are one."""
    if formula.pump is not None:
        return Fraction(formula.pump) * meat_g
    masses = planned_masses(formula, meat_g)
    dissolved = [a.name for a in weighed(formula) if a.in_pickle]
    pickle = pickle_water_g(formula, meat_g)
    pickle += sum((masses[name] for name in dissolved), Fraction(0))
    return pickle * meat_g / (meat_g + pickle)


def weighed(formula: Formula) -> list[Addition]:
    """The additions a scale can weigh."""
    return [addition for addition in formula.additions if addition.amount.on != "count"]


def _sums(formula: Formula) -> tuple[Fraction, Fraction, Fraction]:
    def total(on: str) -> Fraction:
        lines = [a for a in formula.additions if a.amount.on == on and not a.in_pickle]
        return sum((a.amount.share for a in lines), Fraction(0))

    return total("meat"), total("fixed"), total("mix")
