"""label.toml: what counts as meat and as salt is read from one file, and a slip in it is told."""

from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace

from station.formula.counting import Counting, FatLimit, meat_share, parse_counting
from station.formula.model import BIRDS, SPECIES, Meat
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.formula.made import COUNTING, formula

TEXT = Config().read("label.toml")[0]


def most(*species: str) -> Fraction:
    meats = tuple(Meat(name, Decimal(1) / len(species), species=name) for name in species)
    return COUNTING.fat_limit(replace(formula(), meats=meats)).most


@pytest.mark.parametrize("species", SPECIES)
def test_every_species_has_the_fat_that_was_published(species: str) -> None:
    """Regulation (EU) No 1169/2011, Annex VII B 17: pigs 30 %, birds and rabbits 15, other mammals
    25."""
    published = {"pork": 30, **dict.fromkeys((*BIRDS, "rabbit"), 15)}
    assert most(species) == Fraction(published.get(species, 25), 100)


@pytest.mark.parametrize(
    ("species", "percent"),
    [
        (("chicken", "rabbit"), 15), (("pork", "beef"), 25), (("pork", "chicken"), 25),
        (("beef", "lamb"), 25), (("chicken", "beef"), 25), (("pork", "pork"), 30),
    ],
)  # fmt: skip
def test_mixtures_fall_under_the_limit_of_all_others(
    species: tuple[str, ...], percent: int
) -> None:
    """The same: mixtures 25 %; birds and rabbits have one limit and are none."""
    assert most(*species) == Fraction(percent, 100)


def test_the_figures_are_the_files_own() -> None:
    """What the file says is what counts: nothing of it stands in the code."""
    other = TEXT.replace('"30 %"', '"20 %"').replace('"2.5"', '"2.542"')
    found = parse_counting(other, "mine/label.toml")
    lean = replace(formula(), meats=(Meat("pork", Decimal(1), "pork", Decimal("0.28")),))
    grams = {"pork": Fraction(1000)}
    assert meat_share(lean, grams, COUNTING) == 1
    assert meat_share(lean, grams, found) == Fraction(72, 80)
    assert (COUNTING.salt_per_sodium, found.salt_per_sodium) == (Fraction(5, 2), Fraction("2.542"))


def test_no_meat_has_no_share_that_counts() -> None:
    fat = replace(formula(), meats=(Meat("pork", Decimal(1), "pork", Decimal("0.28")),))
    assert meat_share(fat, {"pork": Fraction(0)}, COUNTING) is None


PIGS = '[[meat]]\nspecies = ["pork"]\nfat = "30 %"\nsource = "s"\n'
ALL = '[[meat]]\nfat = "25 %"\nsource = "s"\n'
SALT = '[salt]\nper_sodium = "2.5"\nsource = "s"\n'


def test_a_short_file_is_read() -> None:
    assert parse_counting(PIGS + ALL + SALT, "label.toml") == Counting(
        (FatLimit(("pork",), Fraction(3, 10), "s"), FatLimit((), Fraction(1, 4), "s")),
        Fraction(5, 2),
        "s",
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (PIGS + SALT, "expected one [[meat]] without species, for all others"),
        (PIGS + ALL + ALL + SALT, "expected one [[meat]] without species"),
        (PIGS + PIGS + ALL + SALT, "two [[meat]] are about pork"),
        (PIGS.replace("pork", "prok") + ALL + SALT, "found 'prok'; did you mean 'pork'?"),
        (PIGS.replace("30 %", "100 %") + ALL + SALT, "expected 0 % up to less than 100 %"),
        (PIGS + ALL + SALT.replace("2.5", "0"), "expected more than nothing"),
        (PIGS + ALL, "per_sodium: missing"),
        (PIGS + ALL + SALT + 'seen = true\n', "unknown key"),
        (PIGS + 'collagen = "25 %"\n' + ALL + SALT, "unknown key"),
        ("also = 1\n" + PIGS + ALL + SALT, "unknown key"),
    ],
)  # fmt: skip
def test_a_slip_in_the_file_is_told(text: str, says: str) -> None:
    with pytest.raises(FileMistakes) as told:
        parse_counting(text, "label.toml")
    assert says in str(told.value)
