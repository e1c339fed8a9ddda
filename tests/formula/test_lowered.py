"""The highest lawful amount of a line that is over a limit."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.curing import check_targets
from station.formula.lowered import highest_lawful
from station.formula.model import Addition, Formula
from tests.formula.made import NITRITE, amount, formula, row, thing

KILO = Fraction(1000)


def lowered(made: Formula, name: str, per_kg: Decimal) -> Formula:
    """The formula with that line at so many grams to the kilogram."""
    lines = [
        Addition(a.name, a.role, amount(str(per_kg)), a.contains) if a.name == name else a
        for a in made.additions
    ]
    return formula(*lines, basis=made.basis)


@pytest.mark.parametrize(("g_per_kg", "told"), [("2.5", None), ("2.5001", "2.5"), ("25", "2.5")])
def test_what_is_over_a_limit_is_told_its_highest_lawful_amount(
    g_per_kg: str, told: str | None
) -> None:
    """156.25 mg/kg from a premix of 6.25 % are 2.5 g/kg exactly (9 CFR 424.21(c), computed)."""
    found = highest_lawful(formula(thing(much=g_per_kg)), (row("0.00015625"),), "premix", KILO)
    assert found == (None if told is None else Decimal(told))


def test_it_is_rounded_to_the_lawful_side() -> None:
    """119.98 mg/kg of 6.25 % are 1.91968 g/kg."""
    assert highest_lawful(
        formula(thing(much="3")), (row("0.00011998"),), "premix", KILO
    ) == Decimal("1.919")


def test_what_the_others_bring_is_taken_off_and_nothing_may_be_left() -> None:
    other = thing("other", amount("100", per="1000000"), contains=NITRITE)
    made = formula(thing(much="2"), other)
    assert highest_lawful(made, (row("0.00015"),), "premix", KILO) == Decimal("0.8")
    assert highest_lawful(made, (row("0.0001"),), "premix", KILO) == 0
    assert highest_lawful(made, (row("0.00009"),), "premix", KILO) == 0


def test_a_line_that_no_enforced_row_limits_has_no_highest_amount() -> None:
    assert highest_lawful(formula(thing()), (), "premix", KILO) is None
    memory = (row("0.0001", seen=False),)
    assert highest_lawful(formula(thing()), memory, "premix", KILO) is None


def test_a_limit_on_the_mix_shrinks_with_the_line_and_what_is_told_is_lawful() -> None:
    """A premix of 0.5 % for 150 mg/kg of the mix: x = 0.03 (1 + x), 30.927 g/kg; 30 g/kg would do
    on the meat. Twice as much makes a larger mix, which must not count."""
    contains = {"sodium nitrite": Decimal("0.005"), "salt": Decimal("0.995")}
    rows = (row("0.00015", basis="mix"),)
    made = formula(thing(much="60", contains=contains), basis="mix")
    found = highest_lawful(made, rows, "premix", KILO)
    assert found == Decimal("30.927")

    def broken(per_kg: Decimal) -> bool:
        told = check_targets(lowered(made, "premix", per_kg), rows, KILO)
        return any(finding.severity == "broken" for finding in told)

    assert (broken(found), broken(found + Decimal("0.001"))) == (False, True)
