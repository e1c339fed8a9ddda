"""From meat to targets and back, exactly."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.model import Formula
from station.formula.scaling import (
    binder_share,
    ingoing_masses,
    meat_for_mix,
    meat_for_pieces,
    mix_of,
    planned_masses,
    product_g,
    salt_g,
    share_of_role,
    target_of,
    weighed,
)
from tests.formula.made import amount, formula, grams, thing

KILO = Fraction(1000)
WATER = thing("water", "100", "water", {})
SACHET = thing("sachet", amount("35", "fixed", "1"), "other", {})
OF_MIX = thing("salt", amount("20", "mix"), "salt", {"salt": Decimal(1)})
CASING = thing("casing", amount("3", "count"), "other", {})
RUSK = thing("rusk", "80", "binder", {})
ALL = formula(WATER, SACHET, OF_MIX, CASING)


def test_the_mix_is_meat_and_all_that_is_weighed_into_it() -> None:
    """(M (1 + S) + F) / (1 - P) = (1000 x 1.1 + 35) / 0.98; pieces weigh nothing here."""
    assert mix_of(ALL, KILO) == Fraction(1135) / Fraction("0.98")
    assert mix_of(ALL, 2 * KILO) == Fraction(2235) / Fraction("0.98")
    assert mix_of(formula(), KILO) == KILO


def test_the_targets_and_the_meat_add_up_to_the_mix() -> None:
    masses = planned_masses(ALL, KILO)
    assert set(masses) == {"water", "sachet", "salt"}
    assert KILO + sum(masses.values()) == mix_of(ALL, KILO)


def test_a_target_is_a_share_of_what_its_amount_names() -> None:
    made = formula(WATER, OF_MIX, pickle_water=grams("5000"))
    assert target_of(amount("20"), made, KILO) == 20
    assert target_of(amount("20"), made, 3 * KILO) == 60
    assert target_of(amount("20", "mix"), made, KILO) == Fraction(1100) / 98 * 2
    assert target_of(amount("20", "pickle"), made, KILO) == 100
    assert target_of(amount("20", "pickle"), formula(), KILO) == 0
    assert target_of(amount("20", "fixed"), made, 3 * KILO) == 20
    assert target_of(amount("3", "count"), made, 2 * KILO) == 6
    assert target_of(amount("1", per="3"), made, KILO) == Fraction(1000, 3)  # exact


def test_scaling_by_hand() -> None:
    """Common practice, worked by hand: 1 kg of meat, crumb 100, water 200, salt 20, pepper 10,
    each herb 2 g."""
    grams = {"crumb": "100", "water": "200", "salt": "20", "pepper": "10", "sage": "2"}
    made = formula(*(thing(name, per_kg, "other", {}) for name, per_kg in grams.items()))
    assert planned_masses(made, KILO) == {name: int(text) for name, text in grams.items()}


@pytest.mark.parametrize("meat", ["1", "7340", "12000.05"])
def test_the_way_back_from_the_mix_is_the_way_there(meat: str) -> None:
    for made in (ALL, pumped(), formula()):
        assert meat_for_mix(made, mix_of(made, Fraction(meat))) == Fraction(meat)


@pytest.mark.parametrize(("mix", "enough"), [("35.8", True), ("35.7", False)])
def test_a_mix_that_the_fixed_amounts_fill_leaves_no_meat(mix: str, enough: bool) -> None:
    """35 g fixed in a mix of which 2 % are salt: 35 / 0.98 = 35.714 g of mix."""
    if enough:
        assert 0 < meat_for_mix(ALL, Fraction(mix)) < 1
    else:
        with pytest.raises(ValueError, match="the fixed amounts alone are more than that mix"):
            meat_for_mix(ALL, Fraction(mix))
    with pytest.raises(ValueError, match="fixed amounts"):
        meat_for_mix(ALL, Fraction(35) / Fraction("0.98"))


def test_pieces_are_worked_back_over_their_loss() -> None:
    """n x piece / (1 - loss): 97 pieces of 180 g with 3 % loss are 18 kg of mix."""
    made = formula(WATER, piece_g=Decimal(180), loss=Decimal("0.03"))
    assert meat_for_pieces(made, 97) == Fraction(18_000) / Fraction("1.1")
    assert product_g(made, meat_for_pieces(made, 97)) == 97 * 180
    with pytest.raises(ValueError, match="no piece weight"):
        meat_for_pieces(formula(), 97)


def test_what_becomes_product_is_the_mix_less_its_loss() -> None:
    assert product_g(formula(WATER, loss=Decimal("0.40")), KILO) == 660
    assert product_g(formula(WATER), KILO) == 1100


def test_the_salt_of_every_line_counts_and_what_holds_none_adds_none() -> None:
    contains = {"salt": {"salt": Decimal(1)}, "premix": {"salt": Decimal("0.9375")}, "pepper": {}}
    masses = {"salt": Fraction(180), "premix": Fraction(20), "pepper": Fraction(30)}
    assert salt_g(masses, contains) == Fraction("198.75")
    assert salt_g({}, {}) == 0


def test_binders_are_a_share_of_the_whole_mix() -> None:
    crumb = thing("crumb", "20", "binder", {})
    made = formula(RUSK, crumb, WATER, CASING)
    assert binder_share(made) == Fraction(100, 1200)
    assert binder_share(formula(WATER)) == 0
    fixed = formula(thing("rusk", amount("800", "fixed", "1"), "binder", {}))
    assert binder_share(fixed) == Fraction(800, 10_800)  # of ten kilograms, if nothing is said
    assert binder_share(fixed, KILO) == Fraction(800, 1800)


def pumped(pump: str | None = "0.10", method: str = "pumped") -> Formula:
    """A pickle of 980 g of water with 20 g of a cure in it, and pepper outside of it."""
    cure = thing("cure", amount("20", "fixed", "1"), contains={}, in_pickle=True)
    starch = thing("starch", amount("0", "fixed", "1"), "binder", {}, in_pickle=True)
    pepper = thing("pepper", "3", "seasoning", {})
    return formula(
        cure, starch, pepper, method=method, pickle_water=grams("980"),
        pump=None if pump is None else Decimal(pump),
    )  # fmt: skip


def test_what_is_in_the_pickle_comes_into_the_mix_by_the_pump_alone() -> None:
    assert mix_of(pumped(), KILO) == 1000 * (1 + Fraction("0.003") + Fraction("0.1"))
    assert mix_of(pumped(None), KILO) == 1003


def test_a_binder_in_the_pickle_is_no_binder_of_the_mix() -> None:
    starch = thing("starch", amount("100", "fixed", "1"), "binder", {}, in_pickle=True)
    assert binder_share(formula(starch, RUSK, pickle_water=grams("900"))) == Fraction(80, 1080)


def test_pumped_in_counts_by_its_share_of_the_pickle() -> None:
    """Directive 7620.3, 1995: agent x pump / pickle. 20 g in 1000 g of pickle at 10 % on 1000 g."""
    assert ingoing_masses(pumped(), KILO) == {"cure": 2, "starch": 0, "pepper": 3}
    assert ingoing_masses(pumped("0.05"), 2 * KILO) == {"cure": 2, "starch": 0, "pepper": 6}


def test_immersed_counts_on_meat_and_pickle_together() -> None:
    """Directive 7620.3, 1995, immersion, method two: agent / (green weight + pickle), here as grams
    on the meat: 20 x 1000 / (1000 + 1000), and 20 x 4000 / 5000."""
    assert ingoing_masses(pumped(None, "immersion"), KILO)["cure"] == 10
    assert ingoing_masses(pumped(None, "immersion"), 4 * KILO) == {
        "cure": 16, "starch": 0, "pepper": 12,
    }  # fmt: skip


def test_without_a_pickle_all_of_it_goes_in() -> None:
    assert ingoing_masses(ALL, KILO) == planned_masses(ALL, KILO)


def test_every_part_of_a_pickle_makes_it_weaker() -> None:
    sugar = thing("sugar", amount("1000", "fixed", "1"), "sweetener", {}, in_pickle=True)
    made = formula(*pumped().additions, sugar, pickle_water=grams("980"), pump=Decimal("0.1"))
    assert ingoing_masses(made, KILO)["cure"] == 1
    assert ingoing_masses(made, KILO)["sugar"] == 50


def test_what_is_counted_is_not_weighed() -> None:
    assert [line.name for line in weighed(ALL)] == ["water", "sachet", "salt"]


def test_what_is_counted_in_pieces_weighs_nothing_in_the_share_of_its_role() -> None:
    culture = thing("culture", amount("1", "count", "100000"), "culture", {})
    assert share_of_role(formula(culture), "culture", KILO) == 0
    assert share_of_role(formula(), "culture", KILO) is None
