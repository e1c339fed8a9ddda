"""Why a planned line cannot be weighed, the law or the scale, and what would help, with figures.

Every figure is tried on the planned batch before it is told.
"""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import Literal, NamedTuple

from msgspec.structs import replace

from station.batch.events import BatchOpened
from station.batch.plan import choice_for
from station.batch.preview import planned
from station.formula.limits import agents_of
from station.formula.model import Addition, Formula
from station.formula.rescale import Bag, rescaled, salt_made_up
from station.formula.scaling import target_of
from station.metrology.fitness import Choice
from station.units import plain, shown

MOST_MEAT_G = Fraction(1_000_000)
"""A larger batch is none that a kitchen can mince."""

_CENTIGRAM = Decimal("0.01")

_STRENGTHS = tuple(map(Decimal, ("0.05", "0.04", "0.03", "0.02", "0.01", "0.006", "0.005")))
"""Shares of agent in a weaker premix that are tried, strongest first; those of 0.5 and 0.6 % are in
use (common practice), of the others a maker must ask."""


class Unfit(NamedTuple):
    """Whose doing it is that a line cannot be weighed, in words, too; whether it stops the batch;
    and what would help."""

    cause: Literal["law", "scale"]
    text: str
    blocks: bool
    helps: tuple[str, ...]


def unfit(opened: BatchOpened, name: str) -> Unfit | None:
    """What is in the way of weighing a line of a planned batch; None where nothing is."""
    station = planned(opened)
    choice = _choice(opened, name)
    if station is None or station.batch is None or choice is None or choice.unfit is None:
        return None
    blocks = station.batch.guarded(name)
    tried = (_more_meat(opened, name), _finer(opened, name, choice), _weaker(opened, name))
    helps = tuple(text for text in tried if text)
    if _fits(replace(opened, limits=()), name):
        low, high = (shown(edge, _CENTIGRAM) for edge in (choice.limits.lower, choice.limits.upper))
        text = f"the law leaves too little of its band, which is {low} to {high} g"
        return Unfit("law", text, blocks, helps)
    text = f"no scale is fit for it; of {choice.scale.name}: {choice.unfit}"
    return Unfit("scale", text, blocks, helps)


def _choice(opened: BatchOpened, name: str) -> Choice | None:
    station = planned(opened)
    return None if station is None else choice_for(station, name)


def _fits(opened: BatchOpened, name: str) -> bool:
    choice = _choice(opened, name)
    return choice is not None and choice.unfit is None


def _more_meat(opened: BatchOpened, name: str) -> str | None:
    """The smallest batch, to two digits, in which the line can be weighed."""

    def fits(meat_g: Fraction) -> bool:
        return _fits(replace(opened, plan_g=Decimal(plain(meat_g))), name)

    low = high = Fraction(opened.plan_g)
    while not fits(high):
        if high >= MOST_MEAT_G:
            return None
        low, high = high, min(2 * high, MOST_MEAT_G)
    while high - low > high / 1000:
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    found = _two_digits_up(high)
    return f"a batch of {plain(found / 1000)} kg of meat" if fits(found) else None


def _two_digits_up(number: Fraction) -> Fraction:
    whole = ceil(number)
    step = 10 ** max(len(str(whole)) - 2, 0)
    return Fraction(ceil(whole / Fraction(step)) * step)


def _finer(opened: BatchOpened, name: str, choice: Choice) -> str | None:
    """The coarsest division with which the scale that was chosen could weigh the line."""
    for division in _divisions_below(choice.scale.division_g):
        finer = replace(choice.scale, division_g=division)
        scales = tuple(finer if scale == choice.scale else scale for scale in opened.scales)
        if _fits(replace(opened, scales=scales), name):
            return f"a scale with a division of {plain(division)} g"
    return None


def _divisions_below(division_g: Decimal) -> Iterator[Decimal]:
    """1, 2 and 5 times a power of ten, as scale intervals are (OIML R 76-1, from memory), down to a
    thousandth of it."""
    for power in range(3, -7, -1):
        for digit in (5, 2, 1):
            found = Decimal(digit).scaleb(power)
            if division_g / 1000 <= found < division_g:
                yield found


def _weaker(opened: BatchOpened, name: str) -> str | None:
    """The strongest weaker premix of the line's agent in salt of which enough is weighed, and the
    salt line beside it that keeps all the salt as it is."""
    formula = opened.formula
    line = formula.addition(name)
    salt = next((a for a in formula.additions if a.role == "salt" and a.name != name), None)
    agents = agents_of(line.contains)
    in_salt = set(line.contains) == {*agents, "salt"} and sum(line.contains.values()) == 1
    if salt is None or line.role != "cure" or len(agents) != 1 or not in_salt:
        return None
    for strength in _STRENGTHS:
        try:
            trial = _with_premix(formula, line, salt, agents[0], strength)
        except ValueError:
            return None  # it brings more salt than there is to be, and a weaker one more still
        other = replace(opened, formula=trial)
        if _fits(other, name) and _fits(other, salt.name):
            much, now = (_grams(trial, each, opened.plan_g) for each in (name, salt.name))
            return (
                f"a premix of {plain(strength * 100)} % {agents[0]}: {much} of it, and {now} of"
                f" {salt.name} instead of {_grams(formula, salt.name, opened.plan_g)}"
            )
    return None


def _grams(formula: Formula, name: str, meat_g: Decimal) -> str:
    """A line's target as text, to a hundredth."""
    amount = formula.addition(name).amount
    return f"{plain(round(target_of(amount, formula, Fraction(meat_g)), 2))} g"


def _with_premix(
    formula: Formula, line: Addition, salt: Addition, agent: str, strength: Decimal
) -> Formula:
    """The formula with another premix: as much agent, and as much salt in all. Raises `ValueError`
    where the premix alone brings more."""
    contains = {agent: strength, "salt": 1 - strength}
    amount = rescaled(line, agent, contains)
    less = salt_made_up(salt, [Bag(line, amount, contains)])
    changed = {
        line.name: replace(line, amount=amount, contains=contains),
        salt.name: replace(salt, amount=less),
    }
    additions = tuple(changed.get(a.name, a) for a in formula.additions)
    return replace(formula, additions=additions)
