"""A maker's own rows and rules stand beside the law and only limit."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.law import Law, findings, with_own
from station.formula.model import Formula, Step
from station.tomlfile import FileMistakes
from tests.formula.made import formula, law_of, thing

US = law_of("us")
OWN = """authority = "own"
[[row]]
words = ["cured"]
agents = ["sodium nitrite"]
basis = "meat block"
maximum = "110 mg/kg"
source = "Ansel, after the tasting of March"
since = "2026-03-01"
"""
KILO = Fraction(1000)


def own(text: str = OWN) -> Law:
    return with_own(US, text, "mine/limits/own.toml")


def broken(made: Formula, law: Law) -> list[str]:
    return [f"{f.text} ({f.source})" for f in findings(made, law, KILO) if f.severity == "broken"]


@pytest.mark.parametrize(("grams", "lawful"), [("1.76", True), ("1.761", False)])
def test_a_row_of_ones_own_is_enforced_and_named(grams: str, lawful: bool) -> None:
    """110 mg/kg from a premix of 6.25 % are 1.76 g/kg (computed)."""
    made = formula(thing(much=grams))
    assert broken(made, US) == []
    assert (broken(made, own()) == []) is lawful
    assert lawful or "Ansel, after the tasting of March" in broken(made, own())[0]


def test_a_kinder_row_changes_nothing() -> None:
    """156.25 mg/kg (9 CFR 424.21(c)) stay the most."""
    kinder = own(OWN.replace("110", "400"))
    assert (
        broken(formula(thing(much="2.6")), kinder) == broken(formula(thing(much="2.6")), US) != []
    )


def test_it_allows_no_agent_that_the_law_does_not() -> None:
    sorbate = own(OWN.replace("sodium nitrite", "potassium sorbate"))
    made = formula(thing(), thing("more", "1", "preservative", {"potassium sorbate": Decimal(1)}))
    (told,) = broken(made, US)
    assert "no limits row allows potassium sorbate" in told and told in broken(made, sorbate)


@pytest.mark.parametrize("kind", ["as needed", "residual"])
def test_only_a_most_or_a_least_can_be_ones_own(kind: str) -> None:
    with pytest.raises(FileMistakes, match="kind"):
        own(f'{OWN}kind = "{kind}"\n')


def test_no_row_of_a_law_hides_in_the_makers_file() -> None:
    with pytest.raises(FileMistakes, match="found 'us' in a file named own"):
        own(OWN.replace('"own"', '"us"'))


def test_a_rule_of_ones_own_is_judged_too() -> None:
    rule = '[[composition]]\nwords = []\nwhat = "added water"\nmost = "4 %"\n'
    rule += 'source = "Brida"\nseen = true\n'
    wet = formula(thing("ice", "50", "water", {}))
    assert broken(wet, US) == []
    (told,) = broken(wet, own(OWN + rule))
    assert "added water" in told and "Brida" in told


def test_how_cold_the_maker_wants_it_is_advised_beside_the_law() -> None:
    """5 degC by the US (41 degF), 3 by the maker."""
    text = OWN + '[[cold]]\nwords = ["fresh"]\nmost = "3 degC"\nsource = "the counter"\n'
    step = Step("cold", after="filling", time="<= 2 h", temperature="<= 4 degC", since="first meat")
    made = formula(product="fresh comminuted", steps=(step,))
    told = [f.text for f in findings(made, own(text), KILO)]
    assert "made is to be 3 degC at most, and the step lets it be warmer" in told
    assert not any("is to be" in f.text for f in findings(made, US, KILO))
