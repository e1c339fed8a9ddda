"""Slips that no limit catches are said of a formula file, however it is written."""

from fractions import Fraction

import pytest

from station.formula.curing import check_targets
from station.formula.sheet import parse_formula
from tests.formula.test_sheet import GOOD
from tests.formula.told import NO_CURE, US, line, said


@pytest.mark.parametrize("amount", ["0.02 %", "2 %"])
def test_a_tenth_or_ten_times_the_usual_cure_is_called_out(amount: str) -> None:
    text = GOOD.replace('amount = "0.20 %"', f'amount = "{amount}"')
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    assert any("far from what is usual" in finding.text for finding in found)


def test_a_cure_and_an_accelerator_in_one_cup_are_called_out() -> None:
    """21 CFR 170.60 for nitrite with other things; that they react is common practice."""
    parts = (
        '\n[[addition]]\nname = "cup"\nrole = "cure"\nparts = ['
        '{ name = "a", amount = "0.1 %", role = "cure",'
        ' contains = { "sodium nitrite" = "6.25 %" } },'
        '{ name = "b", amount = "0.05 %", role = "accelerator",'
        ' contains = { "sodium ascorbate" = "100 %" } } ]\n'
    )
    found = check_targets(parse_formula(GOOD + parts, "t.toml"), US, Fraction(10_000))
    assert any("one vessel" in finding.text for finding in found)


def test_a_phosphate_after_the_salt_is_called_out() -> None:
    salt = '\n[[addition]]\nname = "salt itself"\namount = "1 %"\nrole = "salt"\n'
    late = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    found = check_targets(parse_formula(GOOD + salt + late, "t.toml"), US, Fraction(10_000))
    assert any("after the salt" in finding.text for finding in found)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ('role = "cure"', 'role = "accelerator"'),
        ('role = "seasoning"', 'role = "seasoning"'),
    ],
)
def test_nitrite_beside_ascorbate_in_one_cup_is_called_out_by_what_they_contain(
    first: str, second: str
) -> None:
    parts = (
        '\n[[addition]]\nname = "cup"\nrole = "other"\nparts = ['
        f'{{ name = "a", amount = "0.1 %", {first},'
        ' contains = { "sodium nitrite" = "6.25 %" } },'
        f'{{ name = "b", amount = "0.01 %", {second},'
        ' contains = { "sodium ascorbate" = "100 %" } } ]\n'
    )
    assert any("they react" in text for _, text in said(NO_CURE + parts))


@pytest.mark.parametrize("amount", ["0.02 % of mix", "2 g", "0.012 %"])
def test_a_tenth_of_the_usual_is_called_out_however_the_amount_is_given(amount: str) -> None:
    text = GOOD.replace('amount = "0.20 %"', f'amount = "{amount}"')
    assert any("far from what is usual" in told for _, told in said(text))


def test_two_cures_that_are_usual_together_are_not_called_out() -> None:
    half = GOOD.replace('amount = "0.20 %"', 'amount = "0.10 %"')
    second = half[half.index("[[addition]]") : half.index("[[step]]")]
    second = second.replace("premix", "premix of the second bag")
    assert not any("usual" in told for _, told in said(half + "\n" + second))
