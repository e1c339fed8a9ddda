"""How cold it must be: what the steps of a formula let be warmer is advised against."""

import pytest
from msgspec.structs import replace

from station.formula.cold import check_cold, cold_of
from station.formula.finding import Finding
from station.formula.model import Meat, Step
from station.tomlfile import FileMistakes, TomlFile
from tests.formula.made import formula, law_of, thing

INTO_COLD = Step(
    "into the cold", after="filling", time="<= 90 min", temperature="<= 4 degC", since="first meat"
)


def said(
    *steps: Step, authority: str = "eu", product: str = "fresh comminuted", species: str = "pork"
) -> list[Finding]:
    made = formula(thing(), product=product, steps=steps)
    made = replace(made, meats=(Meat("meat", made.meats[0].share, species=species),))
    return check_cold(made, law_of(authority).cold)


@pytest.mark.parametrize(
    ("authority", "product", "most"),
    [
        ("eu", "fresh comminuted sausage", "4 degC"),
        ("eu", "fresh ground", "2 degC"),
        ("gb", "fresh comminuted sausage", "4 degC"),
        ("us", "fresh comminuted sausage", "5 degC"),
    ],
)
def test_a_fresh_product_wants_a_step_that_sees_to_its_cold(
    authority: str, product: str, most: str
) -> None:
    """Regulation (EC) No 853/2004, Annex III, Section V: preparations 4 degC, minced meat 2 degC at
    once after they are made; United States, cold is 41 degF (5 degC)."""
    (found,) = said(authority=authority, product=product)
    assert (found.severity, found.text) == (
        "advice",
        f"no step sees to it that it is cold again ({most} at most) in good time:"
        ' a step with since = "first meat"',
    )
    assert found.source.endswith("; not seen") is (authority == "gb")


def test_of_several_that_are_too_warm_the_last_is_named() -> None:
    first, last = (replace(INTO_COLD, name=n, temperature="<= 9 degC") for n in ("one", "two"))
    assert [found.line for found in said(first, last)] == ["two"]


def test_a_row_of_one_word_is_about_a_product_of_that_word_alone() -> None:
    assert len(said(product="fresh")) == 1


def test_each_meat_is_held_against_the_step_that_asks_for_it() -> None:
    made = formula(thing(), product="cooked comminuted", steps=(
        Step("probe the fat", before="fat", temperature="<= 9 degC"),
    ))  # fmt: skip
    meats = tuple(Meat(name, made.meats[0].share, species="pork") for name in ("lean", "fat"))
    found = check_cold(replace(made, meats=meats), law_of("eu").cold)
    assert [one.text for one in found] == [
        "fat is to be 7 degC at most, and the step lets it be warmer"
    ]


def test_what_is_cooked_wants_none() -> None:
    assert said(product="cooked comminuted") == []


@pytest.mark.parametrize(
    ("temperature", "advised"),
    [
        ("<= 4 degC", False),
        ("<= 2 degC", False),
        ("<= 39.2 degF", False),
        ("<= 4.1 degC", True),
        (">= 2 degC", True),
        (None, True),
    ],
)
def test_a_step_that_lets_it_be_warmer_is_advised_against(
    temperature: str | None, advised: bool
) -> None:
    """39.2 degF is 4 degC (exact)."""
    found = said(replace(INTO_COLD, temperature=temperature))
    told = ["made is to be 4 degC at most, and the step lets it be warmer"] if advised else []
    assert [one.text for one in found] == told


def test_one_step_that_is_cold_enough_will_do() -> None:
    warm = replace(INTO_COLD, name="work", temperature="<= 12 degC")
    assert said(warm, INTO_COLD) == []
    assert said(INTO_COLD, warm) == []


@pytest.mark.parametrize(
    ("species", "temperature", "advised"),
    [
        ("pork", "<= 7 degC", False),
        ("pork", "<= 8 degC", True),
        ("chicken", "<= 4 degC", False),
        ("chicken", "<= 7 degC", True),
        ("rabbit", "<= 9 degC", False),  # no row is about it
    ],
)
def test_meat_that_comes_in_is_held_against_its_species(
    species: str, temperature: str, advised: bool
) -> None:
    """Regulation (EC) No 853/2004, Annex III, Section V: meat used 7 degC at most, poultry 4."""
    probe = Step("probe the meat", before="meat", temperature=temperature)
    found = said(probe, INTO_COLD, species=species)
    assert [one.line for one in found] == (["probe the meat"] if advised else [])


def test_a_step_elsewhere_says_nothing_of_the_meat() -> None:
    kneaded = Step("knead", after="premix", temperature="<= 12 degC")
    assert said(kneaded, INTO_COLD) == []


@pytest.mark.parametrize(
    ("row", "mistake"),
    [
        ('most = "4 degC"', "words of a product or species of meat"),
        ('words = ["fresh"]\nspecies = ["pork"]\nmost = "4 degC"', "one of both"),
        ('words = ["frsh"]\nmost = "4 degC"', "fresh"),
        ('species = ["prok"]\nmost = "4 degC"', "pork"),
        ('words = ["fresh"]\nmost = "4"', "temperature"),
        ('words = ["fresh"]', "most"),
        ('words = ["fresh"]\nmost = "4 degC"\nleast = "0 degC"', "least"),
    ],
)
def test_a_row_that_says_nothing_clear_is_a_mistake(row: str, mistake: str) -> None:
    file = TomlFile(f'[[cold]]\n{row}\nsource = "a rule"\n', "own.toml")
    (read,) = cold_of(file)
    assert not read.seen
    file.top.finish()
    with pytest.raises(FileMistakes, match=mistake):
        file.finish()
