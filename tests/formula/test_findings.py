"""All that is said of a formula under one law: what no row is about, what is open, the label."""

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace

from station.formula.cautions import parse_quoted
from station.formula.law import Common, Law, Sulphites, findings, other_words, parse_law
from station.formula.model import Formula, Step
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.formula.made import COMMON, COUNTING, formula, law_of, row, thing

NOTHING = Law((), (), False, "2026-11-26", COMMON)
SALT = thing("salt", "20", "salt", {"salt": Decimal(1)})
US = law_of("us")
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
        parse_law(
            text.replace('allergens = ["milk"', 'allergens = ["mlik"'), name, "2026-11-26", COMMON
        )


@pytest.mark.parametrize("agent", ["sodium sulphite", "sulphur dioxide"])
@pytest.mark.parametrize(
    ("listed", "told"), [((), True), (("mustard",), True), (("Sulphites",), False),
                         (("sulfites",), False), (("sulphur dioxide",), False)],
)  # fmt: skip
def test_sulphite_is_an_allergen_to_be_listed(
    agent: str, listed: tuple[str, ...], told: bool
) -> None:
    """Regulation (EU) No 1169/2011, Annex II."""
    line = thing("sulphite", "0.4", "preservative", {agent: Decimal(1)}, allergens=listed)
    made = formula(line, product="fresh")
    law = NOTHING._replace(sulphites=Sulphites("10 mg/kg", "Annex II"))
    found = [f for f in findings(made, law, KILO) if "is an allergen" in f.text]
    text = 'more than 10 mg/kg of sulphites is an allergen: list it, allergens = ["sulphites"]'
    assert [tuple(f) for f in found] == ([("sulphite", "advice", text, "Annex II")] if told else [])
    assert not any("is an allergen" in text for text in said(made))


def test_sulphites_are_listed_where_the_law_that_was_read_says_so() -> None:
    """Regulation (EU) No 1169/2011, Annex II: more than 10 mg/kg; what the US says was not read."""
    line = thing("sulphite", "0.4", "preservative", {"sodium sulphite": Decimal(1)})
    for authority, told in (("eu", True), ("gb", True), ("us", False)):
        found = said(formula(line, product="fresh"), law_of(authority))
        assert any("more than 10 mg/kg of sulphites" in text for text in found) is told


@pytest.mark.parametrize(
    "wrong", ['{ over = "10 mg/kg" }', '{ over = "1", source = "s", more = 1 }']
)
def test_a_slip_in_what_is_said_of_sulphites_is_told(wrong: str) -> None:
    text, name = Config().read("limits/eu.toml")
    whole = re.sub(r"^sulphites = .*$", f"sulphites = {wrong}", text, flags=re.MULTILINE)
    with pytest.raises(FileMistakes, match="sulphites"):
        parse_law(whole, name, "2026-11-26", COMMON)


def test_what_the_cautions_quote_is_the_files_own() -> None:
    """Nothing of it stands in the code; a slip in the file is told."""
    text, name = Config().read("cautions.toml")
    heated = replace(formula(SALT), steps=(Step("cook", after="salt"),))
    other = parse_quoted(text.replace('"1.5 h, ', '"2 h, '), name)
    law = NOTHING._replace(common=Common(COUNTING, other))
    within = "within 2 h, then to 40 degF in 5 h more"
    assert any(told.endswith(within) for told in said(heated, law))
    for slip in (text.replace("cured =", "curd ="), text.replace("[cooling]", "[coling]")):
        with pytest.raises(FileMistakes, match=r"cautions\.toml"):
            parse_quoted(slip, name)


def test_words_that_change_the_verdict_are_found_and_contradicting_ones_are_not_tried() -> None:
    """9 CFR 319.15, 2015 edition: ground beef holds no water; 319.180: a frankfurter with its fat
    and water together has no 10 % of its own."""
    wet = formula(SALT, thing("ice", "30", "water", {}), product="fresh comminuted")
    told = other_words(wet, US, KILO)
    assert told == {"ground": 1}
    cooked = formula(SALT, thing("ice", "200", "water", {}), product="cooked comminuted sausage")
    assert other_words(cooked, US, KILO)["frankfurter"] == 0


def test_nitrite_from_a_vegetable_is_found_behind_any_line_and_beside_any_carrier() -> None:
    """An additive, which wants approval (answer E-8-2017-004664; a German court)."""
    weak = {"sodium nitrite": Decimal("0.02"), "salt": Decimal("0.98")}
    made = formula(SALT, thing("celery powder", "2", "cure", weak))
    law = NOTHING._replace(vegetable_nitrite="a court")
    told = [tuple(f) for f in findings(made, law, KILO) if f.source == "a court"]
    text = 'nitrite from a vegetable is an additive that wants approval here: approved = "by whom"'
    assert told == [("celery powder", "broken", text, "a court")]
