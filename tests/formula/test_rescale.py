"""A bag of another strength: as much agent, as much salt in all, exactly."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.model import Addition
from station.formula.rescale import Bag, filled_up, rescaled, salt_made_up
from tests.formula.made import PREMIX, amount, thing

WEAK = {"sodium nitrite": Decimal("0.01"), "salt": Decimal("0.99")}
STRONG = {"sodium nitrite": Decimal("0.10"), "salt": Decimal("0.90")}
SALT = thing("salt", "18", "salt", {"salt": Decimal(1)})


@pytest.mark.parametrize("strength", ["0.05", "0.10", "0.006", "0.07"])
def test_a_bag_of_another_strength_brings_as_much_agent(strength: str) -> None:
    line = thing("premix", "2.4")
    found = rescaled(line, "sodium nitrite", {"sodium nitrite": Decimal(strength)})
    assert found.share * Fraction(strength) == Fraction("0.00015")  # 150 mg/kg, as before
    assert found.on == "meat"
    assert found.text == "2.4 at the formula's strength"


def test_150_mg_per_kg_of_a_half_percent_premix_are_30_g_per_kg() -> None:
    """Computed: from a 0.5 % premix 150 ppm are 30 g/kg; from 6.25 % they are 2.4 g/kg."""
    found = rescaled(thing("premix", "2.4"), "sodium nitrite", {"sodium nitrite": Decimal("0.005")})
    assert found.share == Fraction(30, 1000)


def test_the_formulas_own_strength_keeps_the_formulas_own_amount() -> None:
    line = thing()
    assert rescaled(line, "sodium nitrite", PREMIX) is line.amount


@pytest.mark.parametrize("on", ["mix", "pickle", "fixed", "count"])
def test_an_amount_that_does_not_hang_on_the_meat_alone_is_not_rescaled(on: str) -> None:
    line = thing("premix", amount("2", on))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="premix is not given by the weight of the meat"):
        rescaled(line, "sodium nitrite", STRONG)
    salt = thing("salt", amount("18", on), "salt", {"salt": Decimal(1)})  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="salt is not given by the weight of the meat"):
        salt_made_up(salt, [])


def bag(line: Addition, found: dict[str, Decimal]) -> Bag:
    return Bag(line, rescaled(line, "sodium nitrite", found), found)


@pytest.mark.parametrize("found", [WEAK, STRONG, {"sodium nitrite": Decimal(1)}])
def test_the_salt_line_makes_up_what_the_bag_brings_more_or_less(
    found: dict[str, Decimal],
) -> None:
    """The total salt stays: 2 g/kg of a 6.25 % premix hold 1.875 g, and 18 g beside it."""
    given = bag(thing(), found)
    made = salt_made_up(SALT, [given])
    brought = given.amount.share * Fraction(found.get("salt", Decimal(0)))
    assert made.share + brought == Fraction("0.019875")
    assert (made.on, made.text) == ("meat", "18, made up")


def test_a_salt_that_is_not_pure_makes_up_with_more_of_itself() -> None:
    """Brine salt of 80 %: a gram of salt less from the bag is 1.25 g more of it."""
    line = thing("brine salt", "20", "salt", {"salt": Decimal("0.8")})
    given = bag(thing(), STRONG)  # 1.25 g/kg with 1.125 g of salt: 0.75 g less than 1.875
    assert salt_made_up(line, [given]).share == Fraction("0.020") + Fraction("0.00075") / Fraction(
        "0.8"
    )


def test_salt_without_a_word_is_pure() -> None:
    line = thing("salt", "18", "salt", {})
    given = bag(thing(), STRONG)
    assert salt_made_up(line, [given]).share == Fraction("0.01875")


def test_all_bags_count_and_only_those_that_hang_on_the_meat() -> None:
    second = thing("second premix", "2")
    one, two = bag(thing(), STRONG), bag(second, STRONG)
    assert salt_made_up(SALT, [one, two]).share == Fraction("0.018") + 2 * Fraction("0.00075")
    fixed = Bag(thing("premix", amount("2", "fixed")), amount("1", "fixed"), STRONG)
    assert salt_made_up(SALT, [one, fixed]).share == Fraction("0.01875")


def test_where_nothing_changes_the_salt_line_stays_as_it_is() -> None:
    assert salt_made_up(SALT, []) is SALT.amount
    assert salt_made_up(SALT, [bag(thing(), PREMIX)]) is SALT.amount


def test_a_salt_line_without_salt_cannot_make_up() -> None:
    line = thing("salt", "18", "salt", {"salt": Decimal(0)})
    with pytest.raises(ValueError, match="salt holds no salt to make up with"):
        salt_made_up(line, [bag(thing(), STRONG)])
    assert salt_made_up(line, []) is line.amount


@pytest.mark.parametrize(("salt", "possible"), [("17.976", True), ("17.975", False), ("17", False)])
def test_a_bag_that_alone_brings_all_the_salt_cannot_be_made_up(salt: str, possible: bool) -> None:
    """150 mg/kg from 0.75 % are 20 g/kg, with 19.85 g of salt; the formula's bag brings 1.875 g:
    17.975 g more, which the salt line has to leave."""
    weak = {"sodium nitrite": Decimal("0.00625"), "salt": Decimal("0.9925")}
    line = thing("salt", salt, "salt", {"salt": Decimal(1)})
    given = bag(thing("premix", "2"), weak)
    assert given.amount.share * Fraction("0.9925") == Fraction("0.01985")
    if possible:
        assert salt_made_up(line, [given]).share == Fraction("0.000001")
    else:
        with pytest.raises(ValueError, match="more salt than the formula has in all"):
            salt_made_up(line, [given])


def test_a_bag_is_filled_up_with_the_one_carrier_of_the_formula() -> None:
    told = {"sodium nitrite": Decimal("0.05")}
    assert filled_up(PREMIX, told) == {**told, "salt": Decimal("0.95")}
    assert told == {"sodium nitrite": Decimal("0.05")}  # as it was given


def test_a_carrier_that_was_read_from_the_bag_stays_as_it_was_read() -> None:
    told = {"sodium nitrite": Decimal("0.05"), "salt": Decimal("0.80")}
    assert filled_up(PREMIX, told) == told


def test_of_two_carriers_each_stays_as_the_formula_has_it() -> None:
    expected = {
        "sodium nitrite": Decimal("0.05"), "salt": Decimal("0.75"), "sugar": Decimal("0.20"),
    }  # fmt: skip
    told = {"sodium nitrite": Decimal("0.04")}
    assert filled_up(expected, told) == {**expected, **told}


def test_a_carrier_does_not_fill_up_what_the_formula_leaves_open() -> None:
    """Half of what it holds is not told: nobody knows that the rest is salt."""
    expected = {"sodium nitrite": Decimal("0.05"), "salt": Decimal("0.45")}
    told = {"sodium nitrite": Decimal("0.04")}
    assert filled_up(expected, told) == {**told, "salt": Decimal("0.45")}


@pytest.mark.parametrize(("salt", "fits"), [("0.95", True), ("0.951", False)])
def test_a_bag_holds_no_more_than_all_of_it(salt: str, fits: bool) -> None:
    told = {"sodium nitrite": Decimal("0.05"), "salt": Decimal(salt)}
    if fits:
        assert filled_up(PREMIX, told) == told
    else:
        with pytest.raises(ValueError, match="more than 100 %"):
            filled_up(PREMIX, told)
