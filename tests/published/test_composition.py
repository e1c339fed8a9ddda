"""What a mix is made of, against published rules; the source stands beside each check."""

from fractions import Fraction

import pytest

from station.formula.composition import composition, judge, meat_counted, parse_rules
from station.formula.model import Formula
from station.formula.sheet import parse_formula
from station.resources import Config

US, GB = (parse_rules(*Config().read(f"limits/{name}.toml")) for name in ("us", "gb"))


def formula(
    *lines: tuple[str, str, str], product: str = "fresh comminuted sausage", fat: str = "28 %",
    species: str = "pork",
) -> Formula:  # fmt: skip
    text = f'name = "x"\nrevision = 1\nproduct = "{product}"\n[[meat]]\nname = "meat"\n'
    text += f'share = "100 %"\nspecies = "{species}"\nfat = "{fat}"\n'
    for name, amount, role in lines:
        text += f'[[addition]]\nname = "{name}"\namount = "{amount}"\nrole = "{role}"\n'
    return parse_formula(text, "x.toml")


@pytest.mark.parametrize(
    ("fat", "limit", "counted"),
    [
        ("0.40", "0.30", "0.8571"),  # pork
        ("0.28", "0.30", "1"),
        ("0.5301", "0.30", "0.6713"),  # pork belly, USDA SR24 10005
        ("0.40", "0.25", "0.80"),  # a mixture with beef or mutton
    ],
)
def test_fat_above_the_limit_is_no_meat(fat: str, limit: str, counted: str) -> None:
    """Regulation (EU) No 1169/2011, Annex VII B 17; figures computed from the definition."""
    found = meat_counted(Fraction(fat), Fraction(limit))
    assert abs(found - Fraction(counted)) < Fraction("0.0001")


@pytest.mark.parametrize(("ice", "passes"), [("3 kg", True), ("3.001 kg", False)])
def test_three_kilos_of_ice_to_ninety_seven_of_meat_is_three_percent(
    ice: str, passes: bool
) -> None:
    """9 CFR 319, 2015: added water at most 3 % of all ingredients. 97.00 kg + 3.00 kg is exactly
    that (computed): at a limit no rounding flips a verdict."""
    grams = Fraction(ice.split()[0]) / 97
    text = f"{ice} / 97 kg"
    batch = formula(("ice", text, "water"))
    assert composition(batch).added_water == grams / (1 + grams)
    assert (judge(batch, US) == []) is passes


def test_fresh_pork_sausage_is_half_fat_at_most() -> None:
    """9 CFR 319.141, 2015 edition."""
    assert judge(formula(fat="50 %"), US) == []
    (finding,) = judge(formula(fat="50.1 %"), US)
    assert "fat 50.1 % of all ingredients is over 50 %" in finding.text


def test_binders_together_are_three_and_a_half_percent_at_most() -> None:
    """9 CFR 424.21, 2015 edition: 3.5 % alone or together, here of all ingredients."""
    crumb = formula(("crumb", "2 %", "binder"), ("milk powder", "1.7 %", "binder"))
    (finding,) = judge(crumb, US)
    assert "binders" in finding.text
    assert judge(formula(("crumb", "2 %", "binder"), ("milk powder", "1.6 %", "binder")), US) == []


def test_a_sausage_with_pork_is_a_third_meat() -> None:
    """SI 2014/3001, Sch. 1: 32 % raw meat, fat above 30 % not counted."""
    lean = formula(("crumb", "100 %", "binder"), ("water", "100 %", "water"), fat="28 %")
    assert composition(lean).meat == Fraction(1, 3)
    assert judge(lean, GB) == []
    fat = formula(("crumb", "100 %", "binder"), ("water", "100 %", "water"), fat="40 %")
    (finding,) = judge(fat, GB)
    assert "meat 28.57 % of all ingredients is under 32 %" in finding.text


def test_what_the_meat_lines_do_not_say_is_not_judged() -> None:
    text = (
        'name = "x"\nrevision = 1\nproduct = "fresh comminuted sausage"\n[[meat]]\nname = "meat"\n'
        'share = "100 %"\n'
    )
    found = composition(parse_formula(text, "x.toml"))
    assert (found.fat, found.meat) == (None, None)
