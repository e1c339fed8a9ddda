"""What a mix is made of, against published rules; the source stands beside each check."""

from decimal import Decimal
from fractions import Fraction

import msgspec
import pytest

from station.formula.composition import (
    Rule,
    composition,
    finished,
    judge,
    parse_rules,
)
from station.formula.counting import meat_counted
from station.formula.limits import agents_of
from station.formula.model import Formula
from station.formula.sheet import parse_formula
from station.resources import Config
from tests.formula.made import COUNTING

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
    assert composition(batch, COUNTING).added_water == grams / (1 + grams)
    assert (judge(batch, US, COUNTING) == []) is passes


def test_fresh_pork_sausage_is_half_fat_at_most() -> None:
    """9 CFR 319.141, 2015 edition."""
    assert judge(formula(fat="50 %"), US, COUNTING) == []
    (finding,) = judge(formula(fat="50.1 %"), US, COUNTING)
    assert "fat 50.1 % of all ingredients is over 50 %" in finding.text


def test_binders_together_are_three_and_a_half_percent_at_most() -> None:
    """9 CFR 424.21, 2015 edition: 3.5 % alone or together, here of all ingredients."""
    crumb = formula(("crumb", "2 %", "binder"), ("milk powder", "1.7 %", "binder"))
    (finding,) = judge(crumb, US, COUNTING)
    assert "binders" in finding.text
    assert (
        judge(formula(("crumb", "2 %", "binder"), ("milk powder", "1.6 %", "binder")), US, COUNTING)
        == []
    )


def test_a_sausage_with_pork_is_a_third_meat() -> None:
    """SI 2014/3001, Sch. 1: 32 % raw meat, fat above 30 % not counted."""
    lean = formula(("crumb", "100 %", "binder"), ("water", "100 %", "water"), fat="28 %")
    assert composition(lean, COUNTING).meat == Fraction(1, 3)
    assert [finding for finding in judge(lean, GB, COUNTING) if finding.severity == "broken"] == []
    fat = formula(("crumb", "100 %", "binder"), ("water", "100 %", "water"), fat="40 %")
    (finding,) = [finding for finding in judge(fat, GB, COUNTING) if finding.severity == "broken"]
    assert "meat 28.57 % of all ingredients is under 32 %" in finding.text


@pytest.mark.parametrize(
    ("species", "fat", "passes"),
    [("beef", "30 %", True), ("beef", "30.1 %", False), ("pork", "30.1 %", True)],
)
def test_fresh_beef_sausage_is_three_tenths_fat_at_most(
    species: str, fat: str, passes: bool
) -> None:
    """9 CFR 319.142, 2015 edition."""
    assert (broken(formula(fat=fat, species=species), US) == []) is passes


@pytest.mark.parametrize(
    ("peppers", "fat", "says"),
    [
        ("15 g / 85 g", "28 %", None),
        ("15.1 g / 85 g", "28 %", "meat block 84.91 % of all ingredients is under 85 %"),
        ("0.1 g / 100 g", "35 %", None),
        ("0.1 g / 100 g", "35.1 %", "fat 35.07 % of all ingredients is over 35 %"),
    ],
)
def test_italian_sausage_is_nearly_all_meat_and_not_too_fat(
    peppers: str, fat: str, says: str | None
) -> None:
    """9 CFR 319.145, 2015 edition: meat 85 %, fat 35 %. Fat meat is meat there."""
    made = formula(
        ("peppers", peppers, "other"), product="fresh italian comminuted sausage", fat=fat
    )
    assert broken(made, US) == ([says] if says else [])


@pytest.mark.parametrize(
    ("role", "says"), [("water", "added water"), ("binder", "binders"), ("salt", None)]
)
def test_ground_beef_holds_neither_water_nor_binder_and_a_patty_may(
    role: str, says: str | None
) -> None:
    """9 CFR 319.15 and 424.21(c), 2015 edition."""
    more = ("more", "0.1 %", role)
    found = broken(formula(more, product="fresh ground comminuted", species="beef"), US)
    assert found == ([f"{says} 0.1 % of all ingredients is over 0 %"] if says else [])
    assert broken(formula(more, product="fresh comminuted burger", species="beef"), US) == []


@pytest.mark.parametrize(
    ("product", "crumb", "least"),
    [("sausage", "70 g / 30 g", None), ("sausage", "71 g / 30 g", "30"),
     ("burger", "38 g / 62 g", None), ("burger", "39 g / 62 g", "62")],
)  # fmt: skip
def test_pork_with_beef_is_judged_as_other_meat(
    product: str, crumb: str, least: str | None
) -> None:
    """SI 2014/3001, Sch. 1: 32 and 67 are for pigs only, mixtures 30 and 62."""
    pork = formula(("crumb", crumb, "binder"), product=f"fresh comminuted {product}", fat="5 %")
    half = Decimal("0.5")
    beef = msgspec.structs.replace(pork.meats[0], name="beef", species="beef", share=half)
    mixed = (msgspec.structs.replace(pork.meats[0], share=half), beef)
    found = broken(msgspec.structs.replace(pork, meats=mixed), GB)
    assert [text.partition("under ")[2] for text in found] == ([f"{least} %"] if least else [])


@pytest.mark.parametrize(
    ("product", "fat", "water", "loss", "says"),
    [
        ("frankfurter", "30 %", "0.01 %", "0 %", None),
        ("frankfurter", "30.1 %", "0.01 %", "0 %", "fat 30.1 % of the product"),
        ("frankfurter", "30 %", "15 g / 90 g", "0 %", None),
        ("frankfurter", "28 %", "20 g / 80 g", "0 %", "fat and added water 42.4 % of the product"),
        ("frankfurter", "28 %", "20 g / 80 g", "4 %", None),  # 22.4 and 16 of 96: the rest is lost
        ("frankfurter", "29 %", "0.01 %", "4 %", "fat 30.21 % of the product, at a planned loss"),
        ("sausage", "20 %", "10 g / 90 g", "0 %", None),
        ("sausage", "20 %", "11 g / 90 g", "0 %", "added water 10.9 % of the product"),
        ("sausage", "20 %", "14 g / 86 g", "5 %", None),  # 9 of 95
    ],
)
def test_figures_on_the_finished_product_go_by_the_planned_loss(
    product: str, fat: str, water: str, loss: str, says: str | None
) -> None:
    """9 CFR 319.180, 2015 edition: frankfurter, fat 30 %, fat and added water 40 %, and no 10 % of
    its own; 319.140: other cooked sausage, added water 10 %. Shares computed by hand."""
    made = formula(("ice", water, "water"), product=f"cooked cured comminuted {product}", fat=fat)
    found = broken(msgspec.structs.replace(made, loss=Decimal(loss[:-1]) / 100), US)
    assert len(found) == (1 if says else 0)
    assert says is None or found[0].startswith(says)


def test_more_is_lost_than_was_added_and_no_water_is_less_than_none() -> None:
    dry = finished(composition(formula(fat="20 %"), COUNTING), Fraction(1, 10))
    assert (dry.fat, dry.added_water) == (Fraction(2, 9), 0)


@pytest.mark.parametrize(
    ("soy", "share", "says"),
    [
        ("2 g / 98 g", "1", None),
        ("2.01 g / 98 g", "1", "isolated soy protein 2.01 % of all ingredients is over 2 %"),
        ("3 g / 97 g", "0.5", None),  # half of the line is carrier
        ("4.2 g / 96 g", "0.4", "binders 4.2 % of all ingredients is over 3.5 %"),
    ],
)
def test_isolated_soy_protein_is_two_percent_inside_three_and_a_half_of_binders(
    soy: str, share: str, says: str | None
) -> None:
    """9 CFR 424.21(c), 2015 edition: isolated soy protein 2 %, binders 3.5 %."""
    made = formula(("soy", soy, "binder"))
    line = msgspec.structs.replace(
        made.additions[0], contains={"isolated soy protein": Decimal(share)}
    )
    made = msgspec.structs.replace(made, additions=(line,))
    assert broken(made, US) == ([says] if says else [])
    assert agents_of(line.contains) == []


def test_what_the_meat_lines_do_not_say_is_not_judged() -> None:
    text = (
        'name = "x"\nrevision = 1\nproduct = "fresh comminuted sausage"\n[[meat]]\nname = "meat"\n'
        'share = "100 %"\n'
    )
    found = composition(parse_formula(text, "x.toml"), COUNTING)
    assert (found.fat, found.meat) == (None, None)


def broken(batch: Formula, rules: tuple[Rule, ...]) -> list[str]:
    return [
        finding.text for finding in judge(batch, rules, COUNTING) if finding.severity == "broken"
    ]


@pytest.mark.parametrize(
    ("species", "least"), [("pork", "32"), ("chicken", "26"), ("rabbit", "26"), ("beef", "30")]
)
def test_each_species_has_its_own_least_meat_in_a_sausage(species: str, least: str) -> None:
    """SI 2014/3001, Sch. 1: with pork 32, poultry or rabbit 26, other meat 30 %."""
    enough, short = 100 - int(least), 101 - int(least)  # grams of crumb to as much meat
    for crumb, meat, passes in ((enough, least, True), (short, least, False)):
        made = formula(("crumb", f"{crumb} g / {meat} g", "binder"), fat="5 %", species=species)
        assert any(f"under {least} %" in text for text in broken(made, GB)) is not passes


@pytest.mark.parametrize(("species", "least"), [("pork", "67"), ("turkey", "55"), ("beef", "62")])
def test_each_species_has_its_own_least_meat_in_a_burger(species: str, least: str) -> None:
    """SI 2014/3001, Sch. 1: burger 67, poultry or rabbit 55, other 62 %."""
    little = formula(("crumb", "100 %", "binder"), product="fresh comminuted burger",
                     fat="5 %", species=species)  # fmt: skip
    assert any(f"50 % of all ingredients is under {least} %" in t for t in broken(little, GB))
    enough = formula(("crumb", "40 %", "binder"), product="fresh comminuted burger",
                     fat="5 %", species=species)  # fmt: skip
    assert broken(enough, GB) == []


@pytest.mark.parametrize(("species", "least"), [("pork", 50), ("turkey", 41), ("beef", 47)])
def test_what_is_called_an_economy_burger_holds_less_meat(species: str, least: int) -> None:
    """SI 2014/3001, Sch. 1: economy burger 50, poultry or rabbit 41, other 47 %."""
    for meat, passes in ((least, True), (least - 1, False)):
        crumb = ("crumb", f"{100 - meat} g / {meat} g", "binder")
        made = formula(crumb, product="fresh comminuted economy burger", fat="5 %", species=species)
        assert (broken(made, GB) == []) is passes
        plain = formula(crumb, product="fresh comminuted burger", fat="5 %", species=species)
        assert broken(plain, GB) != []


@pytest.mark.parametrize(
    ("species", "fat", "meat"),
    [("pork", "40 %", "0.8571"), ("chicken", "40 %", "0.7059"), ("beef", "40 %", "0.8"),
     ("rabbit", "15 %", "1"), ("pork", "28 %", "1")],
)  # fmt: skip
def test_what_counts_as_meat_goes_by_the_species(species: str, fat: str, meat: str) -> None:
    """Regulation (EU) No 1169/2011, Annex VII B 17: 30, 15 and 25 % of fat (computed)."""
    found = composition(formula(fat=fat, species=species), COUNTING).meat
    assert found is not None and abs(found - Fraction(meat)) < Fraction("0.0001")


def test_a_mixture_falls_under_the_smaller_limit_of_other_mammals() -> None:
    """The same, for mixtures: 25 %; F = 40 % counts (100 - 40)/0.75 = 80 %."""
    two = formula(fat="40 %")
    beef = msgspec.structs.replace(two.meats[0], name="beef", species="beef", share=Decimal("0.5"))
    pork = msgspec.structs.replace(two.meats[0], share=Decimal("0.5"))
    assert composition(msgspec.structs.replace(two, meats=(pork, beef)), COUNTING).meat == Fraction(
        4, 5
    )


def test_meat_is_short_even_where_nobody_knows_its_fat() -> None:
    text = 'name = "x"\nrevision = 1\nproduct = "fresh comminuted sausage"\n[[meat]]\nname = "m"\n'
    text += 'share = "100 %"\nspecies = "pork"\n[[addition]]\nname = "crumb"\nrole = "binder"\n'
    short = parse_formula(text + 'amount = "300 %"\n', "x.toml")
    assert any("meat 25 % of all ingredients is under 32 %" in told for told in broken(short, GB))
    unknown = judge(parse_formula(text + 'amount = "100 %"\n', "x.toml"), GB, COUNTING)
    assert any("is not judged" in finding.text for finding in unknown)


def test_water_is_counted_wherever_it_is() -> None:
    """9 CFR 319, 2015 edition: 3 % of all ingredients in fresh sausage; in stock as in ice."""
    stock = formula(("stock", "20 %", "other"))
    wet = msgspec.structs.replace(stock.additions[0], contains={"water": Decimal("0.95")})
    stock = msgspec.structs.replace(stock, additions=(wet,))
    assert any("added water 15.84 %" in text for text in broken(stock, US))
    named = judge(formula(("cold water", "2 %", "other")), US, COUNTING)
    assert any("its name says water" in finding.text for finding in named)


def test_a_raw_sausage_takes_no_more_water_than_a_fresh_one() -> None:
    wet = formula(("ice", "20 %", "water"), product="raw comminuted sausage")
    assert any("added water" in text for text in broken(wet, US))


def test_a_fixed_mass_is_judged_for_the_meat_given() -> None:
    """300 g of ice are 2.91 % of 10.3 kg and 23.08 % of 1.3 kg."""
    ice = formula(("ice", "300 g", "water"))
    assert judge(ice, US, COUNTING, Fraction(10_000)) == []
    assert "23.08 %" in judge(ice, US, COUNTING, Fraction(1000))[0].text


def test_what_hangs_on_an_unknown_species_is_not_judged_and_said_so() -> None:
    wet = formula(("ice", "800 %", "water"), species="pork")
    nameless = msgspec.structs.replace(
        wet, meats=(msgspec.structs.replace(wet.meats[0], species=None),)
    )
    assert [f.text for f in judge(nameless, GB, COUNTING)] == [
        "meat is not judged: a meat line does not say its species"
    ]
