"""What is said before a sample is tasted."""

import pytest

from station.formula.sheet import parse_formula
from station.formula.tasting import parse_advice
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.benchside import RING

FILE = Config().read("tasting.toml")
THEN = "taste it warm; a fresh mix tastes saltier than after a night's rest"


@pytest.mark.parametrize(
    ("authority", "species", "to"),
    [
        ("us", "pork", "160 degF (71.1 degC) inside"),
        ("us", "chicken", "165 degF (73.9 degC) inside"),
        ("us", None, "165 degF (73.9 degC) inside"),
        ("gb", "pork", "70 degC inside for 2 minutes"),
        ("eu", "chicken", "70 degC inside for 2 minutes"),
    ],
)
def test_how_far_a_sample_is_cooked(authority: str, species: str | None, to: str) -> None:
    """Pork sausage 160 degF, poultry 165 degF (FSIS consumer figures); 70 degC for 2 min (UK advice
    on equivalent cooking, ACMSF burger report 2007). Saltier when fresh: common practice."""
    line = f'share = "100 %"\nspecies = "{species}"' if species else 'share = "100 %"'
    formula = parse_formula(RING.replace('share = "100 %"', line), "r")
    said = parse_advice(*FILE).of(formula, authority)
    assert said == f"cook it through to {to}, {THEN}"


def test_where_no_figure_was_read_it_is_cooked_through_all_the_same() -> None:
    advice = parse_advice('then = "taste it"', "tasting.toml")
    assert advice.of(parse_formula(RING, "r"), "us") == "cook it through, taste it"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('["us"]', '["uk"]', "found 'uk'"),
        ('"poultry"', '"poultri"', "did you mean 'poultry'?"),
        ('to = "160', 'upto = "160', "missing"),
        ("then = ", "also = 1\nthen = ", "unknown key"),
        ('to = "160', 'two = 1\nto = "160', "unknown key"),
    ],
)
def test_a_wrong_file_says_what_is_wrong(old: str, new: str, told: str) -> None:
    with pytest.raises(FileMistakes) as caught:
        parse_advice(FILE[0].replace(old, new), FILE[1])
    assert told in str(caught.value)
