"""What 100 g of a line bring, as the formula tells it."""

from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace

from station.formula.counting import parse_counting
from station.formula.model import Meat, Nutrition
from station.formula.nutrition import NUTRIENTS, brings
from station.formula.sheet import parse_formula
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.formula.made import COUNTING, thing
from tests.formula.test_sheet import GOOD

PORK = '{ fat = "21.2 g", saturates = "7.9 g", protein = "16.9 g", sodium = "56 mg" }'
NOTHING = dict.fromkeys(NUTRIENTS, Decimal(0))


def meat_with(nutrition: str, more: str = "") -> str:
    return GOOD.replace('name = "belly"', f'name = "belly"\n{more}nutrition = {nutrition}')


def test_grams_and_milligrams_of_100_g_are_read() -> None:
    told = parse_formula(meat_with(PORK), "x").meats[1].nutrition
    assert told == Nutrition(
        NOTHING | {"fat": Decimal("21.2"), "saturates": Decimal("7.9"), "protein": Decimal("16.9")},
        Decimal("0.056"),
    )


def test_an_addition_and_a_part_tell_it_too() -> None:
    text = GOOD.replace('role = "cure"', f'role = "cure"\nnutrition = {PORK}')
    told = parse_formula(text, "x").addition("premix").nutrition
    assert told is not None and told.grams["fat"] == Decimal("21.2")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"7.9 g"', '"21.3 g"', "more than there is fat"),
        ('"16.9 g"', '"16.9 g", sugars = "1 g"', "more than there is carbohydrate"),
        ('"16.9 g"', '"78.9 g"', "more than 100 g in 100 g"),
        ('"16.9 g"', '"16.9"', "a mass with its unit"),
        ('"16.9 g"', '"101 g"', "expected 0 g to 100 g"),
        ('"16.9 g"', '"-1 g"', "expected 0 g to 100 g"),
        ('protein = "16.9 g", ', "", "protein"),
        ('fat = "21.2 g", ', "", "fat"),
        ('saturates = "7.9 g", ', "", "saturates"),
        ("sodium", "sodum", "sodium"),
    ],
)
def test_what_cannot_be_so_is_a_mistake(old: str, new: str, says: str) -> None:
    assert old in PORK
    with pytest.raises(FileMistakes) as caught:
        parse_formula(meat_with(PORK.replace(old, new)), "x")
    assert says in str(caught.value)


def test_just_100_g_are_no_mistake() -> None:
    parse_formula(meat_with(PORK.replace("16.9 g", "78.8 g")), "x")


def test_nothing_and_all_of_it_are_amounts_too() -> None:
    pure = '{ fat = "100 g", saturates = "0 g", protein = "0 g", sodium = "0 g" }'
    told = parse_formula(meat_with(pure), "x").meats[1].nutrition
    assert told == Nutrition(NOTHING | {"fat": Decimal(100)}, Decimal(0))


@pytest.mark.parametrize(("fat", "right"), [("21.2 %", True), ("21 %", False), ("22 %", False)])
def test_the_fat_of_a_meat_is_told_once(fat: str, right: bool) -> None:
    text = meat_with(PORK, f'fat = "{fat}"\n')
    if right:
        parse_formula(text, "x")
        return
    with pytest.raises(FileMistakes, match=f"the line says {fat} of fat"):
        parse_formula(text, "x")


@pytest.mark.parametrize(
    ("role", "name", "known"),
    [
        ("salt", "salt", True),
        ("cure", "premix", True),
        ("phosphate", "binder salt", True),
        ("water", "chilled water", True),
        ("water", "Ice", True),
        ("water", "milk", False),
        ("water", "iced milk", False),
        ("seasoning", "pepper in water", False),
        ("sweetener", "honey", False),
    ],
)
def test_salts_and_water_bring_nothing_that_must_be_told(role: str, name: str, known: bool) -> None:
    assert (brings(thing(name, role=role), {}) is not None) is known  # type: ignore[arg-type]


def test_the_sugar_in_a_bag_of_cure_is_carbohydrate() -> None:
    found = brings(thing(), {"sodium nitrite": Fraction(6, 100), "dextrose": Fraction(1, 8)})
    assert found is not None
    assert found.grams == NOTHING | {
        "carbohydrate": Decimal("12.5"), "sugars": Decimal("12.5"),
    }  # fmt: skip
    assert found.sodium is None  # by its bag


def test_a_meat_that_tells_nothing_is_not_known() -> None:
    assert brings(Meat("belly", Decimal(1)), {}) is None
    told = Nutrition(NOTHING, Decimal(0))
    assert brings(replace(thing(), nutrition=told), {"dextrose": Fraction(1)}) is told


def test_a_table_of_energies_names_each_nutrient_that_has_one() -> None:
    """Regulation (EU) No 1169/2011, Annex XIV (from memory)."""
    energy = COUNTING.energy
    assert energy is not None
    assert energy.kj == {"fat": 37, "carbohydrate": 17, "protein": 17, "fibre": 8}
    assert energy.kcal == {"fat": 9, "carbohydrate": 4, "protein": 4, "fibre": 2}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('fat = "37"', 'fat = "0"'),
        (', fibre = "8"', ""),
        ('fat = "9"', 'fatt = "9"'),
        ('fat = "9"', 'fat = "9", salt = "1"'),
    ],
)
def test_an_energy_that_says_nothing_is_a_mistake(old: str, new: str) -> None:
    text, name = Config().read("label.toml")
    assert old in text
    with pytest.raises(FileMistakes, match="energy"):
        parse_counting(text.replace(old, new).replace(", }", " }"), name)
