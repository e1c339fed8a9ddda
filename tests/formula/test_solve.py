"""What `solve` finds is within its aim and within the law, and one division more is not."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from station.formula.curing import check_targets
from station.formula.limits import parse_limits
from station.formula.model import Formula
from station.formula.quantities import parse_amount
from station.formula.rewrite import with_amounts
from station.formula.sheet import parse_formula
from station.formula.solve import (
    Goal,
    all_solved,
    brings,
    largest_lawful,
    most_lawful,
    one_more,
    smallest_required,
    solved,
)
from station.resources import Config
from tests.formula.made import amount, formula, row, thing

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


@given(
    st.sampled_from(EVERY),
    st.sampled_from(["0.6", "6.25", "10"]),
    st.integers(40, 200),
    st.integers(10, 60),
)
def test_cure_and_salt_together_are_both_within_and_one_division_more_of_either_is_not(
    given_in: tuple[str, str], strength: str, aim: int, salt: int
) -> None:
    """A premix brings salt, and salt in a pickle thins the cure."""
    made = with_salt_inside(parse_formula(text(*given_in, strength), "made.toml"))
    aims: dict[Goal, Fraction] = {"ppm": Fraction(aim), "salt": Fraction(salt, 1000)}
    try:
        found = all_solved(made, aims, MEAT)[-1].formula
    except ValueError:
        assume(False)
        raise
    for goal, name in (("ppm", "premix"), ("salt", "salt")):
        assert brings(found, goal, MEAT) <= aims[goal]  # type: ignore[index]
        more = brings(one_more(found, name), goal, MEAT)  # type: ignore[arg-type]
        assert more > aims[goal]  # type: ignore[index]


def with_salt_inside(formula: Formula) -> Formula:
    """The salt in the pickle, where there is one."""
    if formula.pickle_water is None:
        return formula
    amount = parse_amount("10 % of pickle")
    lines = (replace(formula.additions[0], amount=amount, in_pickle=True), *formula.additions[1:])
    return replace(formula, additions=lines)


def test_rind_on_less_goes_on_the_whole_belly() -> None:
    """Skin of 10 %: a 6.25 % premix may be 2.88 g/kg of the whole belly, not 3.2, for the 200 mg/kg
    of 9 CFR 424.22(b) on the skin-free weight (computed)."""
    made = parse_formula(text("dry", "2 g/kg"), "made.toml")
    belly = replace(made.meats[0], skin=Decimal("0.1"))
    bacon = replace(made, product=("cured", "whole", "bacon"), meats=(belly,))
    assert most_lawful(bacon, US, MEAT) == 200
    found = solved(bacon, "ppm", Fraction(200), MEAT).formula
    assert found.addition("premix").amount.text == "2.88 g/kg"
    assert broken(found) == []
    assert broken(one_more(found, "premix")) != []


@pytest.mark.parametrize(("method", "amount"), EVERY)
def test_what_the_law_leaves_is_known_for_every_method(method: str, amount: str) -> None:
    """9 CFR 424.21(c), 2015 edition; a pickle's fixed grams end in a milligram."""
    made = parse_formula(text(method, amount), "made.toml")
    most, limit = most_lawful(made, US, MEAT), LAW.get(method, Fraction(200))
    assert most is not None and limit * Fraction("0.999") < most <= limit
    assert brings(solved(made, "ppm", most, MEAT).formula, "ppm", MEAT) == most


def test_where_no_row_limits_or_the_law_leaves_nothing_that_is_said() -> None:
    made = parse_formula(text("comminuted", "2 g/kg"), "made.toml")
    assert most_lawful(made, (), MEAT) is None
    assert most_lawful(made, (row("0.9"),), MEAT) is None
    with pytest.raises(ValueError, match="leaves nothing of premix"):
        most_lawful(made, (row("0.00000001"),), MEAT)


def test_what_is_asked_for_is_found_where_any_amount_is_enough() -> None:
    made = parse_formula(text("comminuted", "1 g/kg"), "made.toml")
    least = row("0.00012", kind="required")
    found = smallest_required(made, (least,), "premix", MEAT)
    assert found is not None and found.addition("premix").amount.text == "1.92 g/kg"
    assert smallest_required(made, (), "premix", MEAT) is None
    assert (
        smallest_required(made, (row("0.00012", kind="required", seen=False),), "premix", MEAT)
        is None
    )
    assert smallest_required(made, (row("0.9", kind="required"),), "premix", MEAT) is None
    assert smallest_required(made, (row("0.00000001", kind="required"),), "premix", MEAT) is None


def test_potassium_nitrite_counts_as_the_sodium_nitrite_it_is_worth() -> None:
    """9 CFR 424.22(b) prints 148 of KNO2 beside 120 of NaNO2; KNO2/NaNO2 = 1.233472 (molmass)."""
    made = parse_formula(text("comminuted", "1.48 g/kg", "10", "potassium nitrite"), "made.toml")
    found = brings(made, "ppm", MEAT)
    assert abs(found - Fraction(148) / Fraction("1.233472")) < Fraction("0.001")


def test_a_row_on_another_agent_leaves_a_line_alone() -> None:
    made = parse_formula(text("comminuted", "2 g/kg"), "made.toml")
    assert largest_lawful(made, (row("0.0001", agents=("citric acid",)),), "premix", MEAT) is None
    counted = formula(thing("n", amount("1", "count")))
    assert largest_lawful(counted, (row(),), "n", MEAT) is None
    assert smallest_required(counted, (row(kind="required"),), "n", MEAT) is None


def test_beside_other_amounts_of_the_mix_a_line_takes_what_they_leave() -> None:
    """60 % of the mix are taken: a weak premix takes most of the other 40 % before it is enough."""
    half = thing("crumb", amount("600", "mix"), "binder", {})
    premix = thing("premix", amount("1", "mix"), contains={"sodium nitrite": Decimal("0.0001")})
    made = formula(premix, half)
    found = solved(made, "ppm", Fraction(150), MEAT)
    assert found.found <= 150
    assert brings(one_more(found.formula, "premix"), "ppm", MEAT) > 150
