"""Sulphite, which the cereal of the batch opens."""

import pytest

from station.formula.scaling import cereal_share
from tests.formula.made import formula, thing
from tests.formula.told import NO_CURE, line, said


def test_without_a_cereal_its_share_is_nothing() -> None:
    assert cereal_share(formula(thing())) == 0


def test_sulphite_wants_its_cereal() -> None:
    """Regulation (EC) 1333/2008, Annex II: breakfast sausage with 6 % cereal or more."""
    fresh = NO_CURE.replace("cooked cured comminuted", "fresh comminuted breakfast sausage")
    sulphite = line("preservative", 'contains = { "E223" = "100 %" }').replace("0.05", "0.06")
    rusk = '\n[[addition]]\nname = "rusk"\namount = "8 %"\nrole = "binder"\ncereal = true\n'
    told = said(fresh + sulphite, "gb")
    assert any("no limits row allows sodium metabisulphite" in text for _, text in told)
    told = said(fresh + rusk + sulphite, "gb")
    assert not [text for severity, text in told if severity == "broken"]
    much = rusk + sulphite.replace("0.06", "0.07")  # 472 mg/kg as SO2
    assert any("over 450 mg/kg" in text for _, text in said(fresh + much, "gb"))


@pytest.mark.parametrize("authority", ["eu", "gb"])
@pytest.mark.parametrize(
    ("word", "rusk_g", "more", "meat_g", "lawful"),
    [
        ("breakfast sausage", "638.7", "cereal = true", 10_000, True),  # 6 % of 10 645 g
        ("breakfast sausage", "638.5", "cereal = true", 10_000, False),
        ("breakfast sausage", "638.7", "cereal = true", 10_010, False),  # the same of more meat
        ("breakfast sausage", "2000", "", 10_000, False),  # milk powder binds, and is no cereal
        ("burger", "417", "cereal = true", 10_000, True),  # 4 % of 10 423 g
        ("burger", "416", "cereal = true", 10_000, False),
    ],
)
def test_sulphite_is_opened_by_the_cereal_of_the_batch_alone(
    word: str, rusk_g: str, more: str, meat_g: int, lawful: bool, authority: str
) -> None:
    """Regulation (EC) 1333/2008, Annex II: breakfast sausage with 6 % of cereal, burger meat with
    4 % of vegetable or cereal."""
    fresh = NO_CURE.replace("cooked cured comminuted", f"fresh comminuted {word}")
    sulphite = line("preservative", 'contains = { "E223" = "100 %" }')
    rusk = f'\n[[addition]]\nname = "rusk"\namount = "{rusk_g} g"\nrole = "binder"\n{more}\n'
    told = said(fresh + rusk + sulphite, authority, meat_g=meat_g)
    refused = [text for _, text in told if "no limits row allows sodium metab" in text]
    assert bool(refused) is not lawful
    least = {"breakfast sausage": "6", "burger": "4"}[word]
    assert all(f"beside {least} % of what says cereal = true" in text for text in refused)


@pytest.mark.parametrize("authority", ["eu", "gb"])
def test_no_other_sausage_may_have_sulphite_whatever_its_cereal(authority: str) -> None:
    """The text names breakfast sausage and burger meat alone."""
    fresh = NO_CURE.replace("cooked cured comminuted", "fresh comminuted sausage")
    sulphite = line("preservative", 'contains = { "E223" = "100 %" }')
    rusk = '\n[[addition]]\nname = "rusk"\namount = "8 %"\nrole = "binder"\ncereal = true\n'
    told = [text for severity, text in said(fresh + rusk + sulphite, authority)
            if severity == "broken"]  # fmt: skip
    assert told == ["no limits row allows sodium metabisulphite in fresh comminuted sausage"]
