"""Curing and salt against published figures; the source stands beside each check."""

from decimal import ROUND_DOWN, Decimal
from fractions import Fraction

import pytest

from station.formula.curing import check_targets, ingoing, ppm
from station.formula.limits import parse_limits
from station.formula.model import Formula
from station.formula.scaling import mix_of, planned_masses
from station.formula.sheet import parse_formula
from station.resources import Config
from station.units import SCALE_UNITS, fraction, mass

HEAD = """
name = "check"
revision = 1
product = "cured comminuted"
[[meat]]
name = "meat"
share = "100 %"
"""
US = parse_limits(*Config().read("limits/us.toml"))


def formula(*additions: str) -> Formula:
    return parse_formula(HEAD + "".join(f"[[addition]]\n{text}\n" for text in additions), "t.toml")


def line(name: str, amount: str, role: str = "other", contains: str = "") -> str:
    return f'name = "{name}"\namount = "{amount}"\nrole = "{role}"\n{contains}'


def test_method_6_batch_total_and_salt_percent() -> None:
    """9 CFR 318.10(c)(3)(i), Method 6, Table 4 note 1 (2015 edition; arithmetic only): pork 120 lb,
    salt 3.56, spices 2, wine 0.5, water and starter 1, sugar 0.8, nitrite 0.012 -> 127.872 lb,
    salt 2.93 % of the total less the dry ingredients (121.5 lb), rounded down to 2.9 %."""
    nitrite = 'contains = { "sodium nitrite" = "100 %" }'
    batch = formula(
        line("salt", "3.56 lb", "salt"),
        line("spices", "2 lb", "seasoning"),
        line("wine", "0.5 lb"),
        line("water and starter", "1 lb", "water"),
        line("sugar", "0.8 lb", "sweetener"),
        line("nitrite", "0.012 lb", "cure", nitrite),
    )
    pork = Fraction(mass("120 lb"))
    masses = planned_masses(batch, pork)
    pound = Fraction(mass("1 lb"))
    total = mix_of(batch, pork) / pound
    assert total == Fraction("127.872")
    dry = sum(masses[name] for name in ("salt", "spices", "sugar", "nitrite")) / pound
    assert total - dry == Fraction("121.5")
    percent = Decimal(round(masses["salt"] / pound * 10_000 / (total - dry))) / 100
    assert percent == Decimal("2.93")
    assert percent.quantize(Decimal("0.1"), rounding=ROUND_DOWN) == Decimal("2.9")


def test_bellies_with_a_weak_cure_take_200_ppm() -> None:
    """A supplier's example, low authority: 100 lb bellies, 5 lb cure of 0.40 % nitrite: 200 ppm."""
    cure = {"cure": {"sodium nitrite": Decimal("0.0040")}}
    agent = ingoing({"cure": Fraction(mass("5 lb"))}, cure, ["sodium nitrite"])
    assert ppm(agent, Fraction(mass("100 lb"))) == 200


@pytest.mark.parametrize(
    ("ppm_wanted", "grams_per_kg"),
    [("156.25", "2.5"), ("120", "1.92"), ("150", "2.4"), ("200", "3.2")],
)
def test_premix_per_kilogram(ppm_wanted: str, grams_per_kg: str) -> None:
    """Computed: of a 6.25 % premix 2.5 g/kg are exactly 156.25 ppm; 1.92, 2.4, 3.2 the others."""
    premix = {"premix": {"sodium nitrite": fraction("6.25 %")}}
    agent = ingoing({"premix": Fraction(Decimal(grams_per_kg))}, premix, ["sodium nitrite"])
    assert ppm(agent, Fraction(1000)) == Fraction(Decimal(ppm_wanted))


def test_a_weak_premix_brings_its_salt() -> None:
    """Computed: from a 0.5 % premix 150 ppm are 30 g/kg, which bring 29.85 g/kg of salt."""
    premix = {"premix": {"sodium nitrite": fraction("0.5 %"), "salt": fraction("99.5 %")}}
    masses = {"premix": Fraction(30)}
    assert ppm(ingoing(masses, premix, ["sodium nitrite"]), Fraction(1000)) == 150
    assert ingoing(masses, premix, ["salt"]) == Fraction("29.85")


def test_the_comminuted_limit_is_a_quarter_ounce_to_a_hundred_pounds() -> None:
    """9 CFR 424.21(c), 2015 edition: 1/4 oz per 100 lb = 156.25 ppm."""
    (row,) = [row for row in US if "comminuted" in row.words]
    assert Fraction(row.maximum) == Fraction(mass("0.25 oz")) / Fraction(mass("100 lb"))


@pytest.mark.parametrize(("per_kg", "lawful"), [("2.5 g/kg", True), ("2.50016 g/kg", False)])
def test_156_25_ppm_is_lawful_and_156_26_is_not(per_kg: str, lawful: bool) -> None:
    """The limit above with a 6.25 % premix: 2.50016 g/kg are 156.26 ppm."""
    premix = 'contains = { "sodium nitrite" = "6.25 %", "salt" = "93.75 %" }'
    batch = formula(line("premix", per_kg, "cure", premix))
    for meat_g in (Fraction(1000), Fraction(7340), Fraction(100_000, 3)):
        broken = [f for f in check_targets(batch, US, meat_g) if f.severity == "broken"]
        assert (not broken) is lawful
    if not lawful:
        assert "156.26 mg/kg" in broken[0].text
        assert "424.21(c)" in broken[0].source


def test_scaling_by_hand() -> None:
    """Common practice, by hand: 1 kg meat, crumb 100, water 200, salt 20, pepper 10, herb 2 g."""
    batch = formula(
        line("crumb", "10 %", "binder"),
        line("water", "20 %", "water"),
        line("salt", "2 %", "salt"),
        line("pepper", "1 %", "seasoning"),
        line("sage", "0.2 %", "seasoning"),
    )
    assert planned_masses(batch, Fraction(1000)) == {
        "crumb": 100, "water": 200, "salt": 20, "pepper": 10, "sage": 2,
    }  # fmt: skip


def test_the_pound_is_exact() -> None:
    """International avoirdupois pound, 0.45359237 kg; the ounce is a sixteenth of it."""
    assert SCALE_UNITS["lb"] == mass("1 lb") == Decimal("453.59237")
    assert SCALE_UNITS["oz"] * 16 == SCALE_UNITS["lb"]
