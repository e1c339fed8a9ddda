"""A bag of another strength: as much agent as the formula means, and as much salt in all. Exact."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from station.formula.model import Addition, Amount


def rescaled(addition: Addition, agent: str, found: Mapping[str, Decimal]) -> Amount:
    """The amount of a line whose bag holds `found` instead: the agent's ingoing amount stays.

    Raises `ValueError` for an amount that does not hang on the meat alone.
    """
    amount = addition.amount
    if amount.on != "meat":
        raise ValueError(f"{addition.name} is not given by the weight of the meat")
    expected, there = addition.contains[agent], found[agent]
    text = f"{amount.text} at the formula's strength"
    return Amount(text, "meat", amount.number * expected, amount.per * there)


def salt_made_up(
    salt: Addition, addition: Addition, amount: Amount, found: Mapping[str, Decimal]
) -> Amount:
    """The amount of the salt line that keeps the total salt, with `amount` of the bag instead.

    Raises `ValueError` where the bag brings more salt than all of it was to be: salt and agent
    cannot be set independently then.
    """
    if salt.amount.on != "meat":
        raise ValueError(f"{salt.name} is not given by the weight of the meat")
    before = addition.amount.share * Fraction(addition.contains.get("salt", Decimal(0)))
    after = amount.share * Fraction(found.get("salt", Decimal(0)))
    share = salt.amount.share + before - after
    if share <= 0:
        raise ValueError("the bag alone brings more salt than the formula has in all")
    number, per = share.as_integer_ratio()
    return Amount(f"{salt.amount.text}, made up", "meat", Decimal(number), Decimal(per))


def filled_up(expected: Mapping[str, Decimal], told: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """What a bag contains: what was read from it, and the carrier that the formula fills it up
    with, where that is a single one and was not read."""
    carriers = [name for name in expected if name not in told]
    found = dict(told)
    if len(carriers) == 1 and sum(expected.values()) == 1:
        found[carriers[0]] = Decimal(1) - sum(told.values(), Decimal(0))
    else:
        found |= {name: expected[name] for name in carriers}
    return found
