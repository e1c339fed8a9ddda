"""Additive law is a positive list: what no row names is refused, other lines pass."""

from fractions import Fraction

import msgspec
import pytest

from station.formula.curing import check_targets
from station.formula.law import Law, findings
from station.formula.limits import rows_for
from station.formula.sheet import parse_formula
from tests.formula.made import COMMON
from tests.formula.test_sheet import GOOD
from tests.formula.told import NO_CURE, US, broken, line, said


def test_a_lawful_cure_passes() -> None:
    assert broken("") == []


@pytest.mark.parametrize(
    ("role", "contains", "says"),
    [
        ("accelerator", 'contains = { "sorbic acid" = "100 %" }', "no limits row allows"),
        ("accelerator", "", "must say which agent"),
        ("phosphate", 'contains = { "calcium phosphate" = "100 %" }', "no limits row allows"),
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
    found = check_targets(weak, US, Fraction(10_000))
    advice = [finding for finding in found if "under 120 mg/kg" in finding.text]
    assert [finding.severity for finding in advice] == ["advice"]
    enforced = rows_for(weak, US)
    assert enforced and all(row.seen and row.kind == "ingoing" for row in enforced)


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
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    told = [finding for finding in found if "only together with a curing agent" in finding.text]
    assert [finding.severity for finding in told] == ["broken"]


def test_what_is_left_after_processing_is_never_compared_with_what_goes_in() -> None:
    """200 mg/kg of nitrite and nitrate may be left: 9 CFR 424.21(c), 2015 edition."""
    much = 'amount = "0.24 %"\nrole = "cure"\ncontains = { "sodium nitrate" = "50 %" }'
    nitrate = GOOD + f'\n[[addition]]\nname = "second"\n{much}\n'  # 1200 mg/kg of nitrate
    found = check_targets(parse_formula(nitrate, "t.toml"), US, Fraction(10_000))
    assert [f.severity for f in found if "no scale can judge" in f.text] == ["advice"]
    assert not [f for f in found if f.severity == "broken"]


@pytest.mark.parametrize("authority", ["eu", "gb"])
def test_no_residual_amount_is_named_where_its_text_was_not_read(authority: str) -> None:
    """25 to 50 mg/kg as NO2 by category, seen second-hand; the 80 of Codex binds nobody there."""
    lean = GOOD.replace('amount = "0.20 %"', 'amount = "0.19 %"')
    assert not [text for _, text in said(lean, authority) if "no scale can judge" in text]
    assert not [text for severity, text in said(lean, authority) if severity == "broken"]


def test_a_product_that_no_row_covers_is_told_so() -> None:
    text = 'name = "x"\nrevision = 1\nproduct = "fresh burger"\n[[meat]]\nname = "beef"\n'
    burger = parse_formula(text + 'share = "100 %"\n', "x.toml")
    (finding,) = findings(burger, Law(US, (), False, "2026-11-26", COMMON), Fraction(10_000))
    assert finding.severity == "advice"
    assert "no limits row is about fresh burger" in finding.text


def test_a_required_amount_that_is_not_there_at_all_is_under() -> None:
    rows = tuple(msgspec.structs.replace(r, seen=True) for r in US if r.kind == "required")
    found = check_targets(parse_formula(NO_CURE, "t.toml"), rows, Fraction(1000))
    assert [f.severity for f in found if "0 mg/kg" in f.text and "under 120" in f.text] == [
        "broken"
    ]
    at = GOOD.replace('amount = "0.20 %"', 'amount = "1.92 g/kg"')  # 120 mg/kg exactly
    found = check_targets(parse_formula(at, "t.toml"), rows, Fraction(1000))
    assert not [f for f in found if "under" in f.text]
    less = GOOD.replace('amount = "0.20 %"', 'amount = "1.9199 g/kg"')
    found = check_targets(parse_formula(less, "t.toml"), rows, Fraction(1000))
    assert [f.severity for f in found if "119.99 mg/kg" in f.text] == ["broken"]


def test_a_product_called_cured_without_a_cure_is_told_so() -> None:
    assert any("no curing agent is in it" in text for _, text in said(NO_CURE))


def test_what_hangs_on_the_meat_is_said_and_judged_for_the_meat_given() -> None:
    """Fixed 25 g of a 6.25 % premix are 156.25 mg/kg of 10 kg, and more of less."""
    fixed = GOOD.replace('amount = "0.20 %"', 'amount = "25 g"')
    assert not [text for severity, text in said(fixed) if severity == "broken"]
    assert any("with less it is more" in text for _, text in said(fixed))
    assert any("156.27 mg/kg" in text for _, text in said(fixed, meat_g=9_999))


def test_a_figure_beside_its_limit_is_rounded_away_from_it() -> None:
    text = GOOD.replace('amount = "0.20 %"', 'amount = "2.50000001 g/kg"')
    assert any("156.26 mg/kg" in told and "over 156.25" in told for _, told in said(text))


def test_what_dries_away_counts_on_what_is_left() -> None:
    """0.49 % of phosphate on meat is over 0.5 % of a product that is 0.6 of its mix."""
    poly = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    poly = poly.replace("0.05 %", "0.49 %")
    whole = NO_CURE.replace("cooked cured", "raw")
    assert not [text for severity, text in said(whole + poly) if severity == "broken"]
    dried = whole.replace("raw comminuted", "raw dried comminuted")
    dried = dried.replace("revision = 1\n", 'revision = 1\nloss = "40 %"\n')
    assert any("over 5000 mg/kg" in text for _, text in said(dried + poly))


@pytest.mark.parametrize(
    ("product", "allowed"),
    [
        ("cooked comminuted sausage", True), ("fresh comminuted sausage", False),
        ("raw dried comminuted sausage", False), ("fresh comminuted burger", True),
        ("fresh ground comminuted", False),
    ],
)  # fmt: skip
def test_phosphate_is_for_cooked_sausage_and_patties(product: str, allowed: bool) -> None:
    """9 CFR 319.140, 319.15 and 424.21(c), 2015 edition: sausage holds none except cooked sausage,
    ground beef none, beef patties may."""
    poly = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    told = said(NO_CURE.replace("cooked cured comminuted", product) + poly.replace("0.05", "0.5"))
    refused = [text for severity, text in told if severity == "broken"]
    assert refused == ([] if allowed else [
        f"no limits row allows sodium tripolyphosphate in {product}"
    ])  # fmt: skip
    over = said(NO_CURE.replace("cooked cured comminuted", product) + poly.replace("0.05", "0.51"))
    assert any("over 5000 mg/kg" in text for _, text in over) is allowed
