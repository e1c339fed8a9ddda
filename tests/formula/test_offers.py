"""A name or a word that is nearly right: what it may mean is offered, and never taken."""

import pytest

from station.formula.sheet import parse_formula
from station.tomlfile import FileMistakes
from tests.formula.test_sheet import GOOD
from tests.formula.told import CURED_BELLY, NO_CURE, line, said


@pytest.mark.parametrize("agent", ["NaNO2", "E250", "e 250", "Sodium  Nitrite", "sodium nıtrite"])
def test_an_agent_is_the_same_by_any_of_its_names(agent: str) -> None:
    text = GOOD.replace('"sodium nitrite"', f'"{agent}"').replace("0.20 %", "0.26 %")
    assert any("162.5 mg/kg" in told and severity == "broken" for severity, told in said(text))


@pytest.mark.parametrize(
    ("agent", "offer"),
    [
        ("sodum nitrite", "; did you mean 'sodium nitrite'?"),
        ("sodium nitrte", "; did you mean 'sodium nitrate' or 'sodium nitrite'?"),  # as near
        ("nitrite", "; did you mean 'potassium nitrite' or 'sodium nitrite'?"),
        ("erythorbate", "; did you mean 'sodium erythorbate'?"),
        ("sodium phosphate", "; did you mean 'disodium phosphate' or 'trisodium phosphate'?"),
    ],
)
def test_a_near_agent_is_offered_and_never_taken(agent: str, offer: str) -> None:
    told = said(GOOD.replace("sodium nitrite", agent))
    assert ("broken", f"no limits row allows {agent} in cooked cured comminuted{offer}") in told


@pytest.mark.parametrize("agent", ["iodine", "potassium chloride", "pepper extract"])
def test_what_is_another_thing_gets_no_agent_offered(agent: str) -> None:
    told = said(GOOD + line("other", f'contains = {{ "{agent}" = "1 %" }}'))
    assert ("advice", f"no limits row is about {agent}: it is not judged") in told


def test_a_near_carrier_is_offered_beside_advice_too() -> None:
    told = said(GOOD + line("other", 'contains = { "dextrse" = "1 %" }'))
    not_judged = "no limits row is about dextrse: it is not judged; did you mean 'dextrose'?"
    assert ("advice", not_judged) in told


def test_a_near_carrier_is_offered() -> None:
    told = said(GOOD.replace('"salt" =', '"slat" ='))
    assert (
        "broken",
        "no limits row allows slat in cooked cured comminuted; did you mean 'salt'?",
    ) in told


@pytest.mark.parametrize("authority", ["us", "eu", "gb"])
def test_bacon_with_a_cure_is_offered_the_word_that_the_limits_know(authority: str) -> None:
    told = [text for severity, text in said(CURED_BELLY, authority) if severity == "broken"]
    assert len(told) == 1
    assert told[0].endswith("the product is cured, too: did you mean 'cured bacon'?")


def test_no_word_is_offered_where_the_law_has_none_that_allows_the_agent() -> None:
    """9 CFR 424.21(c): nitrate, not in bacon; what may be left of it after processing allows none.
    Sulphite asks for cereal, not for another product."""
    nitrate = CURED_BELLY.replace("sodium nitrite", "sodium nitrate")
    assert ("broken", "no limits row allows sodium nitrate in bacon") in said(nitrate)
    fresh = NO_CURE.replace("cooked cured comminuted", "fresh comminuted breakfast sausage")
    sulphite = fresh + line("preservative", 'contains = { "E223" = "100 %" }')
    lacking = "no limits row allows sodium metabisulphite in fresh comminuted breakfast sausage"
    lacking += "; a row allows it beside 6 % of what says cereal = true"
    assert ("broken", lacking) in said(sulphite, "gb")


def test_no_word_is_offered_that_contradicts_the_product() -> None:
    """A fresh sausage is no cured one, and no other word makes nitrite lawful in it."""
    told = said(GOOD.replace("cooked cured comminuted", "fresh comminuted sausage"))
    assert ("broken", "no limits row allows sodium nitrite in fresh comminuted sausage") in told


def test_the_same_agent_twice_is_a_mistake() -> None:
    twice = GOOD.replace('"sodium nitrite" =', '"Sodium Nitrite" = "0.6 %", "sodium nitrite" =')
    with pytest.raises(FileMistakes, match="sodium nitrite is there twice"):
        parse_formula(twice, "t.toml")


def test_signs_that_cannot_be_seen_hide_no_agent() -> None:
    hidden = GOOD.replace('"sodium nitrite"', '"sodium ni\u00adtrite"').replace("0.20", "0.26")
    assert any("162.5 mg/kg" in text for _, text in said(hidden))
