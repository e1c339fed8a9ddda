"""Additive law is a positive list: what no row names is refused, other lines pass."""

from fractions import Fraction

import pytest

from station.formula.curing import check_targets
from station.formula.limits import parse_limits
from station.formula.sheet import parse_formula
from station.resources import Config
from station.tomlfile import FileMistakes
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
        ("accelerator", 'contains = { "sodium ascorbate" = "100 %" }', "no limits row allows"),
        ("accelerator", "", "must say which agent"),
        ("phosphate", 'contains = { "sodium triphosphate" = "100 %" }', "no limits row allows"),
        ("cure", 'contains = { "sodium nitrate" = "4 %" }', "no limits row allows sodium nitrate"),
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


def test_a_row_from_memory_never_becomes_a_limit() -> None:
    text, name = Config().read("limits/us.toml")
    with pytest.raises(FileMistakes, match="seen"):
        parse_limits(text.replace("seen = true", "seen = false"), name)
