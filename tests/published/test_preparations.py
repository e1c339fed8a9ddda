"""What the European Union and Great Britain let into which product: the case that must fail and the
nearest that must pass, the source beside each."""

from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace

from station.formula.law import Law, findings
from station.formula.limits import about
from station.formula.model import Addition, Formula
from tests.formula.made import NITRITE, formula, law_of, thing

EU, GB, US = (law_of(a) for a in ("eu", "gb", "us"))
BOTH = pytest.mark.parametrize("law", [EU, GB])
KILO = Fraction(1000)
PHOSPHATE = thing("phosphate", "3", "phosphate", {"sodium tripolyphosphate": Decimal(1)})
WEAK_NITRATE = {"sodium nitrate": Decimal("0.02"), "salt": Decimal("0.98")}
NITRATE = thing("nitrate salt", "5", "cure", WEAK_NITRATE)  # 100 mg/kg
DRIED = "raw cured dried comminuted"
CURE = thing("nitrite salt", "20", "cure", {"sodium nitrite": Decimal("0.005")})


def broken(made: Formula, law: Law) -> list[str]:
    return [f.text for f in findings(made, law, KILO) if f.severity == "broken"]


def advice(made: Formula, law: Law) -> list[str]:
    return [f.text for f in findings(made, law, KILO) if f.severity == "advice"]


@BOTH
@pytest.mark.parametrize(
    ("product", "lawful"),
    [
        ("cooked comminuted sausage", True),
        ("cured dried comminuted sausage", True),
        ("fresh comminuted sausage", False),
        ("fresh breakfast comminuted sausage", True),
        ("fresh breakfast comminuted", False),
        ("fresh ground comminuted", False),
        ("raw comminuted sausage", False),
    ],
)
def test_phosphate_goes_into_products_and_into_named_preparations(
    law: Law, product: str, lawful: bool
) -> None:
    """Regulation (EU) 2018/74, annex: of preparations breakfast sausage and burger meat."""
    told = [text for text in broken(formula(PHOSPHATE, product=product), law) if "tripoly" in text]
    assert (told == []) is lawful


@BOTH
@pytest.mark.parametrize(("cereal", "grams", "lawful"), [(True, "44", True), (True, "40", False),
                                                         (False, "44", False)])  # fmt: skip
def test_phosphate_in_burgers_asks_for_cereal_or_vegetable(
    law: Law, cereal: bool, grams: str, lawful: bool
) -> None:
    """Regulation (EU) 2018/74, annex: burger meat with at least 4 % vegetable or cereal. 44 g to a
    kg of meat and 3 g of phosphate are 4.2 % of all, 40 g 3.8 %; milk powder does not count."""
    rusk = thing("rusk", grams, "binder", {}, cereal=cereal)
    made = formula(PHOSPHATE, rusk, product="fresh comminuted burger")
    assert (not any("tripoly" in text for text in broken(made, law))) is lawful


def test_the_word_that_would_allow_a_phosphate_is_named() -> None:
    (told,) = broken(formula(PHOSPHATE, product="fresh comminuted sausage"), EU)
    assert "a row allows it where the product is breakfast, too" in told


@BOTH
@pytest.mark.parametrize(
    ("product", "lawful"),
    [
        ("raw cured comminuted", False),
        ("raw cured dried comminuted", True),
        ("raw cured fermented comminuted", True),
        ("cooked cured comminuted", True),
    ],
)
def test_nitrite_is_for_products_and_not_for_preparations(
    law: Law, product: str, lawful: bool
) -> None:
    """Meat preparations (08.2) hold nitrite only where they are named in the annex."""
    told = broken(formula(CURE, product=product), law)
    assert (told == []) is lawful


@pytest.mark.parametrize(
    ("product", "lawful"),
    [
        ("raw cured comminuted", False),
        ("raw cured comminuted traditional", False),
        ("raw cured comminuted sausage", False),
        ("raw cured dried comminuted", True),
        ("raw cured fermented comminuted", True),
        ("raw cured dried comminuted traditional", True),
        ("raw cured sterilised dried comminuted", False),
        ("raw cured sterilised dried comminuted traditional", False),
        ("cooked cured comminuted", False),
    ],
)
@BOTH
def test_nitrate_is_for_products_that_are_not_heated_and_not_for_preparations(
    law: Law, product: str, lawful: bool
) -> None:
    """Regulation (EC) 1333/2008, Annex II: nitrates in meat products that are not heat-treated; of
    preparations (08.2) only named ones hold any cure."""
    told = broken(formula(NITRATE, product=product), law)
    assert bool(told) is not lawful
    assert all("no limits row allows sodium nitrate" in text for text in told)


@pytest.mark.parametrize(("grams", "lawful"), [("7.5", True), ("7.6", False), ("12.5", False)])
def test_raw_dried_kinds_whose_names_were_not_read_keep_the_stricter_nitrate(
    grams: str, lawful: bool
) -> None:
    """Great Britain: 150 mg/kg, and 300 for one and 250 for another named raw dried kind without
    nitrite, water : protein under 1.7. Their names were not read, so 250 mg/kg are refused."""
    told = broken(formula(thing("nitrate salt", grams, "cure", WEAK_NITRATE), product=DRIED), GB)
    assert (told == []) is lawful
    assert all("mg/kg of the meat block" in text for text in told)
    (row,) = [r for r in about(formula(product=DRIED), GB.rows) if "sodium nitrate" in r.agents]
    assert "250 or 300" in row.source and "not named in what was read" in row.source


BACON = {"product": "raw cured whole traditional bacon", "method": "dry"}
STRONG = thing("premix", "8")  # 500 mg/kg
SAID = "dry cured for 14 days as ever, says Ansel"


@BOTH
def test_traditional_bacon_is_limited_in_what_is_left_by_the_makers_declaration(law: Law) -> None:
    """Regulation (EC) 1333/2008, Annex II: traditional immersion- and dry-cured bacon and ham have
    residual limits only."""
    (told,) = broken(formula(STRONG, **BACON), law)  # type: ignore[arg-type]
    assert "declaration = " in told
    declared = formula(STRONG, **BACON, declaration=SAID)  # type: ignore[arg-type]
    assert broken(declared, law) == []
    assert any(SAID in text and "no scale can judge that" in text for text in advice(declared, law))
    plain = replace(declared, product=("raw", "cured", "whole", "bacon"))
    assert any("is over" in text for text in broken(plain, law))


@BOTH
@pytest.mark.parametrize(
    ("product", "method", "says"),
    [
        ("raw cured dried comminuted traditional", "comminuted", "is over"),
        ("raw cured whole traditional bacon", "pumped", "is over"),
        ("raw cured dried comminuted traditional", "dry", "no limits row allows"),
    ],
)
def test_the_word_traditional_opens_no_other_product(
    law: Law, product: str, method: str, says: str
) -> None:
    made = formula(STRONG, product=product, method=method, declaration=SAID)
    assert any(says in text for text in broken(made, law))


def test_a_declaration_opens_nothing_in_the_united_states() -> None:
    strong = thing("premix", "10.1")  # 631 mg/kg, where dry cured meat may have 625
    made = formula(strong, product="raw cured whole traditional", method="dry", declaration=SAID)
    assert any("is over" in text for text in broken(made, US))


def celery(name: str = "celery powder", **fields: object) -> Addition:
    return thing(name, "0.1", "cure", NITRITE, **fields)


@BOTH
def test_nitrite_from_a_vegetable_wants_approval(law: Law) -> None:
    """Answer E-8-2017-004664 of the Commission, and a German court: used for its effect it is an
    additive."""
    product = "cooked cured comminuted"
    (told,) = broken(formula(celery(), product=product), law)
    assert "wants approval here" in told
    approved = formula(celery(approved="the local food authority"), product=product)
    assert broken(approved, law) == []
    assert any("approved by the local food authority" in text for text in advice(approved, law))
    part = formula(celery("powder", part_of="beetroot"), product=product)
    assert len(broken(part, law)) == 1
    assert broken(formula(celery("nitrite"), product=product), law) == []
    seasoning = thing("celery salt", "1", "seasoning", {"salt": Decimal("0.8")})
    assert broken(formula(CURE, seasoning, product=product), law) == []


def test_the_united_states_have_no_such_row() -> None:
    assert broken(formula(celery(), product="cooked cured comminuted"), US) == []


def test_who_else_follows_a_law_is_said() -> None:
    """Northern Ireland follows the EU; Denmark is stricter, Decision (EU) 2024/1225."""
    assert "Denmark" in EU.note and "Northern Ireland" in EU.note
    assert "Northern Ireland" in GB.note
    assert US.note == ""
