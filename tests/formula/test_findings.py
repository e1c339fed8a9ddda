"""All that is said of a formula under one law: what no row is about, what is open, the label."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.law import Law, findings, other_words, parse_law
from station.formula.model import Formula
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.formula.made import formula, row, thing

NOTHING = Law((), (), False, "2026-11-26")
SALT = thing("salt", "20", "salt", {"salt": Decimal(1)})
US = parse_law(*Config().read("limits/us.toml"), "2026-11-26")
KILO = Fraction(1000)


def said(made: Formula, law: Law = NOTHING) -> list[str]:
    return [finding.text for finding in findings(made, law, KILO)]


def test_a_product_that_no_row_is_about_is_told_so() -> None:
    made = formula(SALT, product="fresh comminuted")
    assert said(made) == ["no limits row is about fresh comminuted, comminuted"]
    fresh = NOTHING._replace(rows=(row(words=("fresh",)),))
    assert said(made, fresh) == []
    everything = NOTHING._replace(rows=(row(words=()),))
    assert said(made, everything) == ["no limits row is about fresh comminuted, comminuted"]


def test_a_rule_of_what_it_is_made_of_is_about_it_too() -> None:
    wet = next(
        rule
        for rule in US.rules
        if rule.words == ("fresh", "sausage") and rule.most == Fraction(3, 100)
    )
    law = NOTHING._replace(rules=(wet,))
    assert said(formula(SALT, product="fresh comminuted sausage"), law) == []
    assert said(formula(SALT, product="cooked comminuted sausage"), law) == [
        "no limits row is about cooked comminuted sausage, comminuted"
    ]


@pytest.mark.parametrize(
    ("product", "asked"),
    [("comminuted sausage", True), ("fresh comminuted sausage", False), ("comminuted", False)],
)
def test_a_sausage_says_its_state(product: str, asked: bool) -> None:
    law = NOTHING._replace(rows=(row(words=("comminuted",)),))
    told = said(formula(SALT, product=product), law)
    assert any("hangs on its state" in text for text in told) is asked


def test_a_label_counts_the_salt_of_the_mix() -> None:
    """20 g of salt in 1020 g of mix hold 7.713 g of sodium in 1000: x 2.5 are 1.93 g in 100 g."""
    told = said(formula(SALT), NOTHING._replace(label_salt=True))
    assert any(text.startswith("on the label: 1.93 g of salt in 100 g of mix") for text in told)


def test_the_usual_cautions_are_among_it() -> None:
    milk = formula(SALT, thing("milk", "10", "other", {}))
    assert any("its name says milk" in t for t in said(milk, NOTHING._replace(allergens=("milk",))))
    assert not any("milk" in text for text in said(milk))


def test_an_allergen_that_nobody_knows_is_a_mistake() -> None:
    text, name = Config().read("limits/us.toml")
    with pytest.raises(FileMistakes, match="'milk'"):
        parse_law(text.replace('allergens = ["milk"', 'allergens = ["mlik"'), name, "2026-11-26")


def test_words_that_change_the_verdict_are_found_and_contradicting_ones_are_not_tried() -> None:
    """9 CFR 319.15, 2015 edition: ground beef holds no water; 319.180: a frankfurter with its fat
    and water together has no 10 % of its own."""
    wet = formula(SALT, thing("ice", "30", "water", {}), product="fresh comminuted")
    told = other_words(wet, US, KILO)
    assert told == {"ground": 1}
    cooked = formula(SALT, thing("ice", "200", "water", {}), product="cooked comminuted sausage")
    assert other_words(cooked, US, KILO)["frankfurter"] == 0
