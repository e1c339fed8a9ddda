"""What a label says of a batch, from what was weighed."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.audit.label import NoLabel, label, quantity, said_quantity
from station.formula.counting import meat_share
from station.formula.sheet import parse_formula
from station.weighing import commands as do
from tests.benchside import Bench
from tests.formula.made import COUNTING

LINK = """
name = "test link"
revision = 1
product = "fresh comminuted sausage"
[[meat]]
name = "shoulder"
share = "100 %"
species = "pork"
fat = "28 %"
[[addition]]
name = "salt"
amount = "1.7 %"
role = "salt"
[[addition]]
name = "soaked crumb"
role = "binder"
parts = [
    { name = "dried crumb", amount = "1.5 %", allergens = ["wheat"] },
    { name = "water", amount = "3 %", role = "water" },
]
"""


def made(formula: str = LINK) -> Bench:
    bench = Bench(formula).begin()
    bench.add("salt", "cup 3", "204.20")
    bench.add("dried crumb", "cup 1", "180.10")
    bench.add("water", "cup 1", "360.10")
    return bench


def test_a_leaflets_cake_is_a_quarter_fruit() -> None:
    """Dough 800 g and fruit 200 g, baked 800 g: fruit 25 % (QUID guidance, worked example)."""
    assert quantity(Fraction(200), Fraction(800)) == "25"


@pytest.mark.parametrize(
    ("ingoing", "words"),
    [
        (100, "pork 100 %"),
        (169, "made with 169 g of pork per 100 g"),  # cooked streaky bacon, the same guidance
    ],
)
def test_more_than_all_of_it_is_said_in_grams(ingoing: int, words: str) -> None:
    assert said_quantity("pork", Fraction(ingoing), Fraction(100)) == words


@pytest.mark.parametrize(
    ("species", "fat", "percent"),
    [
        ("pork", "40 %", "85.7"),
        ("pork", "28 %", "100"),
        ("pork", "53.01 %", "67.1"),
        ("beef", "40 %", "80"),
    ],
)
def test_fat_above_the_limit_is_no_meat(species: str, fat: str, percent: str) -> None:
    """Regulation (EU) No 1169/2011, Annex VII B 17: pigs 30 % fat, other mammals 25; computed from
    the definition: (100 - F) / 0.70, and / 0.75."""
    text = LINK.replace('"28 %"', f'"{fat}"').replace('"pork"', f'"{species}"')
    share = meat_share(parse_formula(text, "x"), {"shoulder": Decimal(1000)}, COUNTING)
    assert share is not None and quantity(share, Fraction(1)) == percent


def test_ingredients_stand_by_what_was_weighed_the_most_first() -> None:
    found = label(made().batch, COUNTING)
    assert [(one.name, one.percent) for one in found.ingredients] == [
        ("pork", "94.2"),
        ("soaked crumb", "4.2"),
        ("salt", "1.6"),
    ]


def test_a_compound_one_says_what_it_is_made_of_and_its_allergens() -> None:
    found = label(made().batch, COUNTING)
    crumb = found.ingredients[1]
    assert crumb.made_of == ("water", "dried crumb (WHEAT)") and crumb.allergens == ("wheat",)
    assert found.allergens == ("wheat",)
    assert found.text.splitlines()[:4] == [
        "test link",
        "Ingredients: pork 94.2 %, soaked crumb (water, dried crumb (WHEAT)), salt.",
        "Meat content: meat 94.2 %.",
        "Salt: 1.57 g per 100 g.",
    ]


def test_a_premix_says_what_its_bag_holds() -> None:
    bench = Bench().begin()
    bench.say(
        do.OpenLot(
            "premix",
            "P-42",
            {"salt": Decimal("0.9375"), "sodium nitrite": Decimal("0.0625")},
            None,
            "2026-11-30",
        )
    )
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    premix = next(one for one in label(bench.batch, COUNTING).ingredients if one.name == "premix")
    assert premix.made_of == ("salt", "sodium nitrite")


def test_salt_is_all_sodium_that_was_added_times_two_and_a_half() -> None:
    """204.1 g of salt (0.1 g clung) in 12744.1 g of mix: 1.6016 g of salt, of which 39.34 % is
    sodium, times 2.5 (Annex I): 1.575 g, a hair under; the exact factor would be 2.542."""
    assert label(made().batch, COUNTING).salt_g_per_100g == "1.57"


def test_what_dries_counts_on_what_is_left() -> None:
    found = label(made(LINK.replace("revision = 1", 'revision = 1\nloss = "30 %"')).batch, COUNTING)
    assert found.meat_percent == "134.5" and "made with 134 g of meat per 100 g" in found.text
    assert found.ingredients[0].percent == "94.2", "the order is that of the mixing"


def test_without_fat_or_species_there_is_no_meat_content_and_it_says_so() -> None:
    found = label(made(LINK.replace('fat = "28 %"', "")).batch, COUNTING)
    assert found.meat_percent is None and "Meat content" not in found.text
    assert "a meat line lacks its species or its fat" in found.notes[0]


def test_fat_that_is_too_much_is_said() -> None:
    found = label(made(LINK.replace("28 %", "40 %")).batch, COUNTING)
    assert found.meat_percent == "80.7"
    assert found.notes[0] == (
        "14.3 % of the meat is fat above the limit, and counts as fat"
        " (Regulation (EU) No 1169/2011, Annex VII, part B, point 17)"
    )


def test_meat_that_all_counts_is_no_matter_of_a_note() -> None:
    """Pork of 28 % fat, 30 at most (Regulation (EU) No 1169/2011, Annex VII B 17)."""
    assert not any("fat" in note for note in label(made().batch, COUNTING).notes)


def test_an_amount_that_nobody_knows_makes_no_label() -> None:
    bench = made()
    bench.say(do.Tip("salt", more=True))
    with pytest.raises(NoLabel, match="nobody knows how much salt"):
        label(bench.batch, COUNTING)


def test_what_stands_is_not_in_it_yet() -> None:
    bench = Bench(LINK).begin()
    bench.pour("cup 3", "204")
    bench.lift()
    with pytest.raises(NoLabel, match="salt still stands"):
        label(bench.batch, COUNTING)


def test_an_empty_batch_has_none() -> None:
    bench = Bench(LINK)
    bench.vessels()
    bench.open()
    with pytest.raises(NoLabel, match="nothing was weighed"):
        label(bench.batch, COUNTING)


def test_it_says_that_the_batch_is_not_closed_or_on_hold() -> None:
    assert "the batch is not closed" in label(made().batch, COUNTING).notes
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "27")
    bench.lift()
    bench.say(do.Tip("premix", unaccepted=True))
    assert "the batch is on hold" in label(bench.batch, COUNTING).notes
