"""What a label says of a batch, from what was weighed."""

from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace

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


PORK = (
    'nutrition = { fat = "21.19 g", saturates = "7.87 g", protein = "16.88 g", sodium = "56 mg" }'
)
CRUMB = (
    'nutrition = { fat = "1 g", saturates = "0.5 g", carbohydrate = "70 g", sugars = "6 g",'
    ' protein = "12 g", fibre = "4 g", sodium = "600 mg" }'
)
TOLD = LINK.replace('fat = "28 %"', PORK).replace(
    'allergens = ["wheat"] }', f'allergens = ["wheat"], {CRUMB} }}'
)


def in_100g(formula: str) -> dict[str, str]:
    found = label(made(formula).batch, COUNTING)
    return {f"{row.name} {row.unit}": row.per_100g for row in found.nutrition}


def test_ground_pork_alone_has_the_energy_of_its_fat_and_protein() -> None:
    """USDA SR24, 10219: protein 16.88 g, fat 21.19 g, sodium 56 mg (saturates: from memory). 37 x
    21.19 + 17 x 16.88 = 1071 kJ; 9 x 21.19 + 4 x 16.88 = 258 kcal; salt 2.5 x 56 mg."""
    formula = "[[addition]]".join(TOLD.split("[[addition]]")[:2])
    bench = Bench(formula).begin()
    found = label(bench.batch, COUNTING)
    assert [(row.name, row.per_100g, row.unit) for row in found.nutrition] == [
        ("energy", "1071", "kJ"), ("energy", "258", "kcal"), ("fat", "21.2", "g"),
        ("of which saturates", "7.9", "g"), ("carbohydrate", "0", "g"),
        ("of which sugars", "0", "g"), ("protein", "16.9", "g"), ("salt", "0.14", "g"),
    ]  # fmt: skip


def test_the_table_is_of_all_that_went_in_by_its_weight() -> None:
    """12000 g of pork, 204.2 g of salt, 180.1 g of crumb, 360.1 g of water, what clung is off."""
    lines = made(TOLD).batch.lines
    salt, crumb, water = (Fraction(lines[n].counts_g) for n in ("salt", "dried crumb", "water"))
    mix = 12000 + salt + crumb + water
    fat = (12000 * Fraction("0.2119") + crumb / 100) * 100 / mix
    starch = crumb * Fraction("0.7") * 100 / mix
    protein = (12000 * Fraction("0.1688") + crumb * Fraction("0.12")) * 100 / mix
    fibre = crumb * Fraction("0.04") * 100 / mix
    sodium = salt * Fraction("22.99") / Fraction("58.44")  # the molar masses of sodium and salt
    sodium += 12000 * Fraction("0.00056") + crumb * Fraction("0.006")
    found = in_100g(TOLD)
    assert Fraction(found["fat g"]) == round(fat, 1)
    assert Fraction(found["carbohydrate g"]) == round(starch, 1)
    assert Fraction(found["protein g"]) == round(protein, 1)
    assert Fraction(found["fibre g"]) == round(fibre, 1)
    assert abs(Fraction(found["salt g"]) - sodium * 250 / mix) <= Fraction("0.005")
    kj = 37 * fat + 17 * starch + 17 * protein + 8 * fibre
    assert (found["energy kJ"], found["energy kcal"]) == (
        str(round(kj)), str(round(9 * fat + 4 * starch + 4 * protein + 2 * fibre)),
    )  # fmt: skip


def test_what_is_lost_in_drying_leaves_more_in_100_g() -> None:
    dried = TOLD.replace("revision = 1", 'revision = 1\nloss = "30 %"')
    assert float(in_100g(dried)["fat g"]) == pytest.approx(
        float(in_100g(TOLD)["fat g"]) / 0.7, 0.01
    )


def test_with_a_table_the_salt_is_all_the_sodium() -> None:
    found = label(made(TOLD).batch, COUNTING)
    assert found.salt_g_per_100g == {r.name: r.per_100g for r in found.nutrition}["salt"]
    assert float(found.salt_g_per_100g) > float(label(made().batch, COUNTING).salt_g_per_100g)
    assert "In 100 g: energy " in found.text and "Salt:" not in found.text
    assert not any("meat's own is not in it" in note for note in found.notes)


@pytest.mark.parametrize(
    ("formula", "lacks"),
    [
        (TOLD.replace(f", {CRUMB}", ""), "dried crumb"),
        (TOLD.replace(PORK, ""), "shoulder"),
        (TOLD.replace(', sodium = "56 mg"', ""), "shoulder"),
        (TOLD.replace('name = "water"', 'name = "milk"'), "milk"),
    ],
)
def test_one_line_that_tells_nothing_makes_no_table(formula: str, lacks: str) -> None:
    bench = Bench(formula).begin()
    bench.add("salt", "cup 3", "204.20")
    bench.add("dried crumb", "cup 1", "180.10")
    bench.add("milk" if "milk" in formula else "water", "cup 1", "360.10")
    found = label(bench.batch, COUNTING)
    assert found.nutrition == ()
    assert f"there is no nutrition table: nutrition is not told of {lacks}" in found.notes


def test_where_no_line_tells_anything_nobody_is_asked() -> None:
    found = label(made().batch, COUNTING)
    assert found.nutrition == ()
    assert not any("nutrition" in note for note in found.notes)


def test_a_file_of_label_rules_without_energy_makes_no_table() -> None:
    found = label(made(TOLD).batch, replace(COUNTING, energy=None))
    assert found.nutrition == ()
    assert any("not told of energy in label.toml" in note for note in found.notes)
