"""The amount of one line that meets an aim: so much nitrite, so much salt, so much sodium.

What a line brings grows with its amount, whatever the method; so the largest amount of a thousandth
that stays within the aim is found by halving, exactly, on the rules that also judge it.
"""

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from msgspec.structs import replace

from station.formula.ingoing import NITRITES, basis_g, contents, counted_g, nitrite_g, ppm, verdict
from station.formula.labelling import sodium_g
from station.formula.limits import LimitRow, required_for, rows_for
from station.formula.model import Addition, Amount, Formula
from station.formula.quantities import parse_amount
from station.formula.scaling import ingoing_masses, mix_of, pickle_water_g, salt_g, skin_share
from station.units import plain

Goal = Literal["ppm", "salt", "sodium"]

_PER_KG = Decimal(1000)
_FINEST = Decimal("0.001")
"""The division of what is written: a milligram, to the kg where it is a share."""


class Solved(NamedTuple):
    """The formula as it meets the aim, the line that was changed, and what it brings now."""

    formula: Formula
    line: str
    found: Fraction


def brings(formula: Formula, goal: Goal, meat_g: Fraction) -> Fraction:
    """What all lines bring: mg of nitrite, as sodium nitrite, to a kg of green weight; salt as a
    fraction of the meat; or sodium as a fraction of the mix, as a label counts it.

    Skin that the meat lines tell of is no green weight (9 CFR 424.22(b) counts bacon so).
    """
    masses = ingoing_masses(formula, meat_g)
    if goal == "salt":
        return salt_g(masses, contents(formula)) / meat_g
    if goal == "sodium":
        return sodium_g(masses, contents(formula)) / mix_of(formula, meat_g)
    nitrite = sum(nitrite_g(formula, masses).values(), Fraction(0))
    return ppm(nitrite, meat_g * (1 - skin_share(formula)))


def solved(formula: Formula, goal: Goal, aim: Fraction, meat_g: Fraction) -> Solved:
    """The most of the one line that may change (the nitrite's, else the salt's) with which the
    formula brings `aim` at most.

    Raises `ValueError` where no single line may change, or no amount of it reaches the aim.
    """
    line = _line(formula, goal)

    def trial(thousandths: int) -> Formula:
        return _with(formula, line, thousandths)

    def found(thousandths: int) -> Fraction:
        return brings(trial(thousandths), goal, meat_g)

    most = _most(formula, line, meat_g)
    if found(1) > aim:
        rest = "the other lines bring more than that already"
        raise ValueError(f"no amount of {line.name} meets it: {rest}")
    if found(most) < aim:
        raise ValueError(f"no amount of {line.name} brings as much")
    number = _last(lambda thousandths: found(thousandths) <= aim, 1, most + 1)
    return Solved(_as_written(trial(number), line.name), line.name, found(number))


_ROUNDS = 40
"""A premix brings salt, and in a pickle salt thins the cure: each is set again until both stand."""


def all_solved(formula: Formula, aims: Mapping[Goal, Fraction], meat_g: Fraction) -> list[Solved]:
    """The same for several aims together, in their order; the last one's formula meets them all.

    Raises `ValueError` as `solved` does, or where they never stand.
    """
    for _ in range(_ROUNDS):
        steps: list[Solved] = []
        made = formula
        for goal, aim in aims.items():
            steps.append(solved(made, goal, aim, meat_g))
            made = steps[-1].formula
        if made == formula:
            return steps
        formula = made
    raise ValueError("salt and cure hang on each other too closely here")


def most_lawful(formula: Formula, rows: Iterable[LimitRow], meat_g: Fraction) -> Fraction | None:
    """What `brings` says of nitrite where its line has the most that the enforced rows leave,
    whatever the method; None where none limits it.

    Raises `ValueError` where they leave nothing.
    """
    made = largest_lawful(formula, rows, _line(formula, "ppm").name, meat_g)
    return None if made is None else brings(made, "ppm", meat_g)


def largest_lawful(
    formula: Formula, rows: Iterable[LimitRow], name: str, meat_g: Fraction
) -> Formula | None:
    """The formula with the most of a line that the enforced rows on its agents leave beside the
    others, whatever the method; None where none limits it.

    Raises `ValueError` where they leave nothing.
    """
    line = formula.addition(name)
    limiting = [r for r in rows_for(formula, rows, meat_g) if set(r.agents) & set(line.contains)]
    if not limiting or line.amount.on == "count":
        return None

    def lawful(thousandths: int) -> bool:
        made = _with(formula, line, thousandths)
        masses, contained = ingoing_masses(made, meat_g), contents(made)
        return all(
            verdict(row, counted_g(masses, contained, row), basis_g(made, row, meat_g)) != "over"
            for row in limiting
        )

    most = _most(formula, line, meat_g)
    if not lawful(1):
        raise ValueError(f"the law leaves nothing of {name} beside the other lines")
    return None if lawful(most) else _with(formula, line, _last(lawful, 1, most))


def smallest_required(
    formula: Formula, rows: Iterable[LimitRow], name: str, meat_g: Fraction
) -> Formula | None:
    """The formula with the least of a line with which no seen row finds too little of its agents;
    None where none asks for any, or no amount is enough."""
    line = formula.addition(name)
    asking = [r for r in required_for(formula, rows) if set(r.agents) & set(line.contains)]
    if not asking or line.amount.on == "count":
        return None

    def short(thousandths: int) -> bool:
        made = _with(formula, line, thousandths)
        masses, contained = ingoing_masses(made, meat_g), contents(made)
        return any(
            verdict(row, counted_g(masses, contained, row), basis_g(made, row, meat_g)) == "under"
            for row in asking
        )

    most = _most(formula, line, meat_g)
    if not short(1) or short(most):
        return None
    return _with(formula, line, _last(short, 1, most) + 1)


def one_more(formula: Formula, name: str) -> Formula:
    """The formula with one division more of a line that was solved."""
    line = formula.addition(name)
    amount = line.amount
    grams = Fraction(amount.number) if amount.on == "fixed" else amount.share * Fraction(_PER_KG)
    return _as_written(_with(formula, line, int(grams / Fraction(_FINEST)) + 1), name)


def _line(formula: Formula, goal: Goal) -> Addition:
    if goal == "ppm":
        what = "a nitrite"
        lines = [a for a in formula.additions if any(agent in a.contains for agent in NITRITES)]
    else:
        what = "the role of salt"
        lines = [a for a in formula.additions if a.role == "salt"]
    if len(lines) != 1:
        names = ", ".join(line.name for line in lines) or "none"
        raise ValueError(f"one line must have {what}, found {names}")
    return lines[0]


def _with(formula: Formula, line: Addition, thousandths: int) -> Formula:
    number, on = thousandths * _FINEST, line.amount.on
    if on == "fixed":
        amount = Amount(f"{plain(number)} g", "fixed", number)
    else:
        of = "" if on == "meat" else f" of {on}"
        amount = Amount(f"{plain(number)} g/kg{of}", on, number, _PER_KG)
    changed = replace(line, amount=amount)
    return replace(
        formula, additions=tuple(changed if a.name == line.name else a for a in formula.additions)
    )


def _as_written(formula: Formula, name: str) -> Formula:
    """The formula with a line's amount as a file that says so is read."""
    written = [
        replace(a, amount=parse_amount(a.amount.text)) if a.name == name else a
        for a in formula.additions
    ]
    return replace(formula, additions=tuple(written))


def _most(formula: Formula, line: Addition, meat_g: Fraction) -> int:
    """The largest amount tried, in thousandths: as much as the meat or the pickle's water weighs,
    or as the mix bears."""
    if line.amount.on == "fixed":
        return int(max(meat_g, pickle_water_g(formula, meat_g)) / Fraction(_FINEST))
    most = int(_PER_KG / _FINEST)
    if line.amount.on != "mix":
        return most
    others = [a for a in formula.additions if a.amount.on == "mix" and a.name != line.name]
    left = 1 - sum((a.amount.share for a in others), Fraction(0))
    return int(left * most) - 1


def _last(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The last whole number that holds; `low` does and `high` does not."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low
