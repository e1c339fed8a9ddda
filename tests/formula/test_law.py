"""Additive law is a positive list: what no row names is refused, other lines pass."""

from fractions import Fraction

import pytest

from station.formula.curing import check_targets
from station.formula.limits import parse_limits, rows_for
from station.formula.sheet import parse_formula
from station.resources import Config
from tests.formula.test_sheet import GOOD

US = parse_limits(*Config().read("limits/us.toml"))


def broken(extra: str, product: str = "cooked cured comminuted") -> list[str]:
    text = GOOD.replace("cooked cured comminuted", product) + extra
    findings = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    return [finding.text for finding in findings if finding.severity == "broken"]


def line(role: str, contains: str) -> str:
    return f'\n[[addition]]\nname = "more"\namount = "0.05 %"\nrole = "{role}"\n{contains}\n'


def test_a_lawful_cure_passes() -> None:
    assert broken("") == []


@pytest.mark.parametrize(
    ("role", "contains", "says"),
    [
        ("accelerator", 'contains = { "citric acid" = "100 %" }', "no limits row allows"),
        ("accelerator", "", "must say which agent"),
        ("phosphate", 'contains = { "sodium triphosphate" = "100 %" }', "no limits row allows"),
        ("cure", 'contains = { "potassium sorbate" = "4 %" }', "no limits row allows"),
    ],
)
def test_a_regulated_line_that_no_row_covers_is_refused(
    role: str, contains: str, says: str
) -> None:
    assert any(says in text for text in broken(line(role, contains)))


def test_a_cure_in_a_product_that_no_row_covers_is_refused() -> None:
    assert any("no limits row allows" in text for text in broken("", "fresh comminuted"))


def test_nitrite_hidden_in_a_seasoning_counts() -> None:
    hidden = line("seasoning", 'contains = { "sodium nitrite" = "7 %" }')
    assert any("160 mg/kg" in text for text in broken(hidden))


def test_a_seasoning_needs_no_row() -> None:
    assert broken(line("seasoning", 'contains = { "salt" = "10 %" }')) == []


def test_a_row_from_memory_advises_and_never_becomes_a_limit() -> None:
    """The policy minimum of 120 mg/kg is known second-hand: it advises."""
    weak = parse_formula(GOOD.replace('amount = "0.20 %"', 'amount = "0.15 %"'), "t.toml")
    findings = check_targets(weak, US, Fraction(10_000))
    advice = [finding for finding in findings if "under 120 mg/kg" in finding.text]
    assert [finding.severity for finding in advice] == ["advice"]
    assert all(row.seen and row.kind == "ingoing" for row in rows_for(weak, US))


@pytest.mark.parametrize(
    ("amount", "says"),
    [("0.0546875 %", None), ("0.054688 %", "over 546.875 mg/kg")],
)
def test_an_accelerator_at_its_limit_passes_and_over_it_does_not(
    amount: str, says: str | None
) -> None:
    """9 CFR 424.21(c), 2015 edition: sodium ascorbate or erythorbate, 7/8 oz to 100 lb."""
    text = line("accelerator", 'contains = { "sodium erythorbate" = "100 %" }')
    found = broken(text.replace("0.05 %", amount))
    assert found == [] if says is None else any(says in told for told in found)


def test_an_accelerator_without_a_cure_is_refused() -> None:
    """9 CFR 424.21(c): only together with a curing agent."""
    text = GOOD.replace('role = "cure"', 'role = "seasoning"').replace(
        '"sodium nitrite" = "6.25 %", ', ""
    )
    text += line("accelerator", 'contains = { "ascorbic acid" = "100 %" }').replace("0.05", "0.04")
    findings = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    assert any("only together with a curing agent" in finding.text for finding in findings)


@pytest.mark.parametrize("amount", ["0.02 %", "2 %"])
def test_a_tenth_or_ten_times_the_usual_cure_is_called_out(amount: str) -> None:
    text = GOOD.replace('amount = "0.20 %"', f'amount = "{amount}"')
    findings = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    assert any("far from what is usual" in finding.text for finding in findings)


def test_a_cure_and_an_accelerator_in_one_cup_are_called_out() -> None:
    """21 CFR 170.60 for nitrite with other things; that they react is common practice."""
    parts = (
        '\n[[addition]]\nname = "cup"\nrole = "cure"\nparts = ['
        '{ name = "a", amount = "0.1 %", role = "cure",'
        ' contains = { "sodium nitrite" = "6.25 %" } },'
        '{ name = "b", amount = "0.05 %", role = "accelerator",'
        ' contains = { "sodium ascorbate" = "100 %" } } ]\n'
    )
    findings = check_targets(parse_formula(GOOD + parts, "t.toml"), US, Fraction(10_000))
    assert any("one vessel" in finding.text for finding in findings)


def test_a_phosphate_after_the_salt_is_called_out() -> None:
    salt = '\n[[addition]]\nname = "salt itself"\namount = "1 %"\nrole = "salt"\n'
    late = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    findings = check_targets(parse_formula(GOOD + salt + late, "t.toml"), US, Fraction(10_000))
    assert any("after the salt" in finding.text for finding in findings)


def test_what_is_left_after_processing_is_never_compared_with_what_goes_in() -> None:
    eu = parse_limits(*Config().read("limits/eu.toml"))
    lean = parse_formula(GOOD.replace('amount = "0.20 %"', 'amount = "0.19 %"'), "t.toml")
    findings = check_targets(lean, eu, Fraction(10_000))
    assert [f.severity for f in findings if "no scale can judge" in f.text] == ["advice"]
    assert not [f for f in findings if f.severity == "broken"]


def test_a_product_that_no_row_covers_is_told_so() -> None:
    text = 'name = "x"\nrevision = 1\nproduct = "fresh burger"\n[[meat]]\nname = "beef"\n'
    burger = parse_formula(text + 'share = "100 %"\n', "x.toml")
    (finding,) = check_targets(burger, US, Fraction(10_000))
    assert finding.severity == "advice"
    assert "no limits row is about fresh burger" in finding.text
