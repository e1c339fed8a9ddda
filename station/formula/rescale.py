"""A bag of another strength: as much agent as the formula means, and as much salt in all. Exact."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from station.formula.limits import CARRIERS
from station.formula.model import Addition, Amount


class Bag(NamedTuple):
    """A line as the formula has it, the amount it is worked out to, and what its bag contains."""

    formulas: Addition
    amount: Amount
    contains: Mapping[str, Decimal]


def rescaled(addition: Addition, agent: str, found: Mapping[str, Decimal]) -> Amount:
    """The amount of the formula's line whose bag holds `found` instead: the agent's ingoing amount
    stays. The formula's own amount where the strength is the formula's.

    Raises `ValueError` for an amount that does not hang on the meat alone.
    """
    amount = addition.amount
    if amount.on != "meat":
        raise ValueError(f"{addition.name} is not given by the weight of the meat")
    expected, there = addition.contains[agent], found[agent]
    if expected == there:
        return amount
    text = f"{amount.text} at the formula's strength"
    return Amount(text, "meat", amount.number * expected, amount.per * there)


def salt_made_up(salt: Addition, bags: Iterable[Bag]) -> Amount:
    """The amount of the formula's salt line that keeps the total salt beside these bags.

    Raises `ValueError` where the bags bring more salt than all of it was to be: salt and agent
    cannot be set independently then.
    """
    if salt.amount.on != "meat":
        raise ValueError(f"{salt.name} is not given by the weight of the meat")
    more = sum((_salt_change(bag) for bag in bags if bag.amount.on == "meat"), Fraction(0))
    if not more:
        return salt.amount
    pure = Fraction(salt.contains.get("salt", Decimal(1)))
    if not pure:
        raise ValueError(f"{salt.name} holds no salt to make up with")
    share = salt.amount.share - more / pure
    if share <= 0:
        raise ValueError("the bag alone brings more salt than the formula has in all")
    number, per = share.as_integer_ratio()
    return Amount(f"{salt.amount.text}, made up", "meat", Decimal(number), Decimal(per))


def _salt_change(bag: Bag) -> Fraction:
    """How much more salt a bag brings than the formula's line would, as a share of the meat."""
    now = bag.amount.share * Fraction(bag.contains.get("salt", Decimal(0)))
    meant = bag.formulas.amount.share * Fraction(bag.formulas.contains.get("salt", Decimal(0)))
    return now - meant


def filled_up(expected: Mapping[str, Decimal], told: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """What a bag contains: what was read from it, and the carrier that the formula fills it up
    with, where that is a single one and was not read.

    Raises `ValueError` where that is more than all of it.
    """
    carriers = [name for name in expected if name in CARRIERS and name not in told]
    found = dict(told)
    if len(carriers) == 1 and sum(expected.values()) == 1:
        found[carriers[0]] = Decimal(1) - sum(told.values(), Decimal(0))
    else:
        found |= {name: expected[name] for name in carriers}
    if sum(found.values()) > 1:
        raise ValueError("what it contains adds up to more than 100 %")
    return found
