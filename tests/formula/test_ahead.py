"""A formula as bags of its dry lines."""

from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace as changed

from station.formula.ahead import count_of, formula_of, line_of, weighed_ahead
from station.formula.bands import parse_bands
from station.formula.sheet import parse_formula
from station.resources import Config
from tests.benchside import RING
from tests.weighing.test_tallying import FORMULA


def test_onto_the_mix_and_into_a_pickle_nothing_is_weighed_ahead() -> None:
    onto = FORMULA.replace('name = "pepper"', 'name = "pepper"\nweigh = "onto"')
    names = [one.name for one in weighed_ahead(parse_formula(onto, "f"), Fraction(1), 1).additions]
    assert names == ["salt bag 1"]
    pickled = parse_formula(FORMULA, "f")
    pepper = changed(pickled.additions[1], in_pickle=True)
    made = weighed_ahead(changed(pickled, additions=(pepper,)), Fraction(1), 1)
    assert made.additions == ()


def test_its_steps_its_pieces_and_its_packs_are_of_the_day() -> None:
    step = '\n[[step]]\nname = "knead"\nafter = "salt"\ntime = "<= 10 min"\n'
    made = weighed_ahead(parse_formula(FORMULA + step, "f"), Fraction(7000), 2)
    assert (made.steps, made.piece_g, made.piece_band, made.packs) == ((), None, None, ())


def test_a_bag_knows_its_line_and_its_formula() -> None:
    assert line_of("salt bag 2") == "salt"
    assert line_of("a bag of herbs bag 12") == "a bag of herbs"
    assert formula_of("herb link weighed ahead") == "herb link"


@pytest.mark.parametrize(("text", "count"), [("1", 1), ("20", 20), ("0", None), ("21", None),
                                             ("-1", None), ("two", None), ("²", None)])  # fmt: skip
def test_there_are_from_one_to_twenty_bags(text: str, count: int | None) -> None:
    if count is not None:
        assert count_of(text) == count
        return
    with pytest.raises(ValueError, match="expected a whole number from 1 to 20"):
        count_of(text)


def test_the_bands_of_the_bags_are_those_of_their_lines() -> None:
    bands = parse_bands(*Config().read("bands.toml"))
    formula = parse_formula(RING, "f.toml")
    one = bands.for_formula(formula)
    other = bands.for_formula(weighed_ahead(formula, Fraction(7000), 2))
    assert {name: band for name, band in other.items() if name.startswith("premix")} == {
        "premix bag 1": one["premix"], "premix bag 2": one["premix"],
    }  # fmt: skip


def test_the_grams_of_a_bag_are_a_share_of_all_the_meat_to_a_millionth() -> None:
    """2 % of the mix, which with 0.3 % of pepper is 1.003 / 0.98 of the meat."""
    of_mix = FORMULA.replace('amount = "1.8 %"', 'amount = "2 % of mix"')
    made = weighed_ahead(parse_formula(of_mix, "f"), Fraction(1000, 3), 2)
    salt = made.additions[0].amount
    mix = Fraction(1000, 3) * (1 + Fraction(3, 1000)) / (1 - Fraction(2, 100))
    assert salt.number == Decimal(int(mix * Fraction(2, 100) * 10**6)).scaleb(-6)
    assert salt.per == Decimal("666.666666")
