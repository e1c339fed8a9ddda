"""What `solve` finds is within its aim and within the law, and one division more is not."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from station.formula.curing import check_targets
from station.formula.limits import parse_limits
from station.formula.model import Formula
from station.formula.rewrite import with_amounts
from station.formula.sheet import parse_formula
from station.formula.solve import Goal, brings, one_more, solved
from station.resources import Config

US = parse_limits(*Config().read("limits/us.toml"))
MEAT = Fraction(10_000)

AMOUNTS = {
    "comminuted": ("2 g/kg", "0.2 % of mix", "20 g"),
    "dry": ("2 g/kg", "20 g"),
    "pumped": ("1 % of pickle", "100 g"),
    "immersion": ("1 % of pickle", "100 g"),
}
"""Method -> what a cure may be given in."""
LAW = {"comminuted": Fraction("156.25"), "dry": Fraction(625), "pumped": Fraction(200)}
"""9 CFR 424.21(c), 2015 edition: most nitrite, mg/kg; immersed with a pick-up as pumped."""


def text(method: str, amount: str, strength: str = "6.25", agent: str = "sodium nitrite") -> str:
    wet = method in ("pumped", "immersion")
    product = "cooked cured comminuted" if method == "comminuted" else "cured whole"
    head = f'name = "made"\nrevision = 3\nproduct = "{product}"\nmethod = "{method}"\n'
    head += 'pump = "10 %"\n[pickle]\nwater = "10 kg"\n' if wet else ""
    inside = 'in = "pickle"\n' if wet else ""
    return (
        f'{head}[[meat]]\nname = "pork"\nshare = "100 %"\n'
        f'[[addition]]\nname = "salt"\nrole = "salt"\namount = "20 g/kg"  # for taste\n'
        f'[[addition]]\nname = "premix"\nrole = "cure"\namount = "{amount}"\n{inside}'
        f'contains = {{ "{agent}" = "{strength} %", "salt" = "{100 - Decimal(strength)} %" }}\n'
    )


def broken(formula: Formula) -> list[str]:
    return [f.text for f in check_targets(formula, US, MEAT) if f.severity == "broken"]


EVERY = [(method, amount) for method, amounts in AMOUNTS.items() for amount in amounts]


@given(
    st.sampled_from(EVERY),
    st.sampled_from(["0.6", "6.25", "10"]),
    st.sampled_from(["sodium nitrite", "potassium nitrite"]),
    st.integers(400, 1500).map(lambda n: Fraction(n, 10)),
)
def test_what_is_found_is_within_the_aim_and_one_division_more_is_not(
    given_in: tuple[str, str], strength: str, agent: str, aim: Fraction
) -> None:
    made = parse_formula(text(*given_in, strength, agent), "made.toml")
    found = solved(made, "ppm", aim, MEAT)
    assert found.line == "premix"
    assert brings(found.formula, "ppm", MEAT) == found.found <= aim
    assert brings(one_more(found.formula, "premix"), "ppm", MEAT) > aim
    if agent == "sodium nitrite":  # the US rows count the other by its own weight, which is more
        assert broken(found.formula) == []


@pytest.mark.parametrize(("method", "amount"), EVERY)
def test_at_the_limit_of_the_law_it_passes_and_one_division_more_does_not(
    method: str, amount: str
) -> None:
    aim = LAW.get(method, Fraction(200))
    found = solved(parse_formula(text(method, amount), "made.toml"), "ppm", aim, MEAT).formula
    assert broken(found) == []
    assert any("is over" in told for told in broken(one_more(found, "premix")))


def test_the_handbooks_worked_amount_comes_back() -> None:
    """0.25 oz of nitrite to 100 lb is 156.25 mg/kg (9 CFR 424.21(c)): 2.5 g of a 6.25 % premix to
    a kg, by hand."""
    made = parse_formula(text("comminuted", "2 g/kg"), "made.toml")
    found = solved(made, "ppm", Fraction("156.25"), MEAT)
    assert found.formula.addition("premix").amount.text == "2.5 g/kg"


@pytest.mark.parametrize("goal", ["salt", "sodium"])
def test_salt_makes_up_for_what_the_premix_brings(goal: Goal) -> None:
    made = parse_formula(text("comminuted", "2 g/kg"), "made.toml")
    aim = Fraction("0.018") if goal == "salt" else Fraction("0.007")
    found = solved(made, goal, aim, MEAT)
    assert found.line == "salt"
    assert found.found <= aim < brings(one_more(found.formula, "salt"), goal, MEAT)
    if goal == "salt":  # 18 less 2 x 0.9375 g/kg, by hand
        assert found.formula.addition("salt").amount.text == "16.125 g/kg"


@pytest.mark.parametrize(
    ("goal", "aim", "says"),
    [
        ("salt", "0.001", "no amount of salt meets it: the other lines bring more"),
        ("salt", "1.001876", "no amount of salt brings as much"),
    ],
)
def test_what_no_amount_reaches_is_said(goal: Goal, aim: str, says: str) -> None:
    made = parse_formula(text("comminuted", "2 g/kg"), "made.toml")
    with pytest.raises(ValueError, match=says):
        solved(made, goal, Fraction(aim), MEAT)


def test_all_that_can_be_tried_is_found_where_that_is_the_aim() -> None:
    """A kilogram of salt to one of meat, and 1.875 g in 2 g of premix, by hand."""
    made = parse_formula(text("comminuted", "2 g/kg"), "made.toml")
    found = solved(made, "salt", Fraction("1.001875"), MEAT)
    assert found.formula.addition("salt").amount.text == "1000 g/kg"


def test_two_cures_are_not_chosen_between() -> None:
    second = text("comminuted", "2 g/kg").partition('[[addition]]\nname = "premix"')[2]
    both = text("comminuted", "2 g/kg") + '[[addition]]\nname = "second"' + second
    with pytest.raises(ValueError, match="one line must have a nitrite, found premix, second"):
        solved(parse_formula(both, "made.toml"), "ppm", Fraction(100), MEAT)


def test_the_text_keeps_everything_but_the_amount_the_revision_and_the_remark_on_it() -> None:
    """Both lines have one amount at first: the right one is changed."""
    old = text("comminuted", "20 g/kg")
    made = parse_formula(old, "made.toml")
    found = solved(made, "salt", Fraction("0.04"), MEAT).formula
    wanted = replace(found, revision=4)
    amount = wanted.addition("salt").amount.text
    expected = old.replace("revision = 3", "revision = 4")
    expected = expected.replace('"20 g/kg"  # for taste', f'"{amount}"  # was 20 g/kg', 1)
    assert with_amounts(old, "made.toml", wanted) == expected
    assert parse_formula(expected, "made.toml") == wanted


def test_a_text_in_which_the_amount_is_not_found_is_left_alone() -> None:
    old = text("comminuted", "2 g/kg").replace('"2 g/kg"', '"""2 g/kg"""')
    found = solved(parse_formula(old, "made.toml"), "ppm", Fraction(100), MEAT).formula
    with pytest.raises(ValueError, match="no line amount"):
        with_amounts(old, "made.toml", found)
