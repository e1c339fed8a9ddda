"""A cure is never taken for salt or spice, whatever it is called and whatever its role.

The words are common practice; none of them has a published list.
"""

from fractions import Fraction

import pytest

from station.formula.curing import check_targets
from station.formula.limits import parse_limits
from station.formula.names import WHICH, means_cure, saltpetre, sounds_regulated
from station.formula.sheet import parse_formula
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.formula.test_sheet import GOOD

US = parse_limits(*Config().read("limits/us.toml"))
FRESH = GOOD[: GOOD.index("[[addition]]")].replace("cooked cured", "fresh")
MATCHED = 'contains = { "sodium nitrite" = "0.5 %", "salt" = "99.5 %" }\n'


def line(name: str, role: str = "seasoning", amount: str = "1.8 %", more: str = "") -> str:
    head = f'\n[[addition]]\nname = "{name}"\namount = "{amount}"\nrole = "{role}"\n'
    return head + more


def broken(text: str) -> list[tuple[str, str]]:
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    return [(f.line, f.text) for f in found if f.severity == "broken"]


@pytest.mark.parametrize(
    "name",
    [
        "sodium nitrite", "nitrite", "nitrited salt", "NaNO2", "KNO3", "E250 mix", "e 252", "E-249",
        "curing salt", "Curing Salt No. 1", "curing salt no 1", "cure #1", "cure no 2",
        "quick cure", "pink salt", "pink salts", "tinted salt", "dyed mix",
        "brine salt with nitrite", "pickling salt", "prague powder", "Himalayan pink curing salt",
        "Pökelsalz", "Poekelsalz", "Nitritpökelsalz", "Pökelsalz ohne Nitrit", "NPS",
        "sel nitrité", "sel rose", "sel de salaison", "sels à salaison",
        "sale nitritato", "sale rosa", "sal de cura", "sal curante", "sal nitrificante",
        "nitrietzout", "pekelzout", "colorozozout", "nitraat", "nitriittisuola", "nitritsalt",
        "sól peklowa", "peklosól", "sól peklująca", "azotyn sodu", "azotan potasu", "azotit",
        "dusitanová sůl", "dusičnan", "rychlosůl", "rýchlosoľ", "pácsó", "kürleme tuzu",
        "kolorozósó", "nitro",
        "нитритная соль", "нитрат натрия", "νιτρώδες νάτριο", "亚硝酸钠", "亜硝酸塩",
    ],
)  # fmt: skip
def test_a_name_that_means_a_cure_is_one_in_any_language(name: str) -> None:
    assert means_cure(name)
    assert sounds_regulated(name)
    assert not saltpetre(name)


@pytest.mark.parametrize(
    "name",
    [
        "saltpetre", "saltpeter", "Salpeter", "salpêtre", "salitre", "salnitro", "sal nitro",
        "saletra", "salétrom", "silitră", "šalitra", "salpietari", "sanytr", "Chile saltpetre",
        "селитра", "硝石",
    ],
)  # fmt: skip
def test_saltpetre_is_a_cure_and_does_not_say_which(name: str) -> None:
    assert saltpetre(name) and means_cure(name)


@pytest.mark.parametrize(
    "name",
    [
        "salt", "sea salt", "rock salt", "himalayan pink salt", "sale rosa dell'Himalaya",
        "cured ham cubes", "nitrogen", "kurkuma", "petersilie", "sorbitol", "peklo chilli",
        "spice nitrite free", "nitrite-free salt", "no nitrite mix", "salt (no nitrite)",
        "salt without added nitrite", "salt free of sodium nitrite", "E100",
        "sodium nitrite free salt",
    ],
)  # fmt: skip
def test_a_name_that_only_looks_like_an_agent_passes(name: str) -> None:
    assert not sounds_regulated(name)
    assert broken(FRESH + line(name)) == []


@pytest.mark.parametrize(
    "name",
    [
        "nitrite (no iodine)", "iodine-free curing salt", "curing salt no 1", "nitrite, no salt",
        "curing salt without nitrite", "sodium nitrite free flowing", "sodium nitrite free-flowing",
        "nitrite free running", "curing salt free of iodine",
    ],
)  # fmt: skip
def test_a_name_is_without_only_what_it_says(name: str) -> None:
    assert means_cure(name)


@pytest.mark.parametrize(
    "name",
    [
        "E300 powder", "E202 mix", "E450", "E339", "celery powder", "celery juice", "accelerator",
        "cure accelerator", "Umrötehilfsmittel", "phosphate blend", "sulfite", "sulphur diox",
        "sorbate mix", "sorbic mix", "benzoate", "benzoic mix", "ascorbat", "erythorbat",
    ],
)  # fmt: skip
def test_a_name_of_another_agent_is_regulated_and_no_cure(name: str) -> None:
    assert sounds_regulated(name) and not means_cure(name)
    (told,) = broken(FRESH + line(name))
    assert told == (
        name, f"the name {name!r} says that it holds a regulated agent: say what it contains"
    )  # fmt: skip


@pytest.mark.parametrize("role", ["salt", "seasoning", "other", "binder", "water", "culture"])
@pytest.mark.parametrize("name", ["curing salt no 1", "pink salt", "nitrite (no iodine)"])
def test_a_cure_by_name_is_refused_in_every_role_with_what_it_would_have_been(
    name: str, role: str
) -> None:
    """1.8 % of a 6.25 % premix taken for salt is 1125 mg/kg: 18 g x 0.0625 in a kg of meat."""
    assert (
        name,
        f"the name {name!r} says that it is a cure: say what it contains; as the usual premix of"
        " 6.25 % it would bring 1125 mg/kg of sodium nitrite",
    ) in broken(FRESH + line(name, role))


@pytest.mark.parametrize(
    ("name", "amount", "says"),
    [
        ("sodium nitrite", "1 %", "; pure, it would bring 10000 mg/kg of sodium nitrite"),
        ("sodium nitrite", "0.00012345 %", "; pure, it would bring 1.23 mg/kg of sodium nitrite"),
        ("E252", "35 g", "; pure, it would bring 3500 mg/kg of potassium nitrate"),
        ("saltpetre", "0.1 %", f"; pure, it would be 1000 mg/kg; {WHICH}"),
        ("curing salt", "1 sachet / 10 kg", "is a cure: say what it contains"),
    ],
)  # fmt: skip
def test_what_it_would_have_been_is_told_by_its_amount(name: str, amount: str, says: str) -> None:
    ((_, text),) = broken(FRESH + line(name, amount=amount))
    assert text.endswith(says)


@pytest.mark.parametrize(
    "contains", ['"pepper" = "5 %"', '"salt" = "100 %"', '"sodium ascorbate" = "1 %"']
)
def test_a_cure_by_name_must_say_how_much_nitrite_or_nitrate(contains: str) -> None:
    """Something else said of it is no answer."""
    text = GOOD + line("curing salt", amount="0.01 %", more=f"contains = {{ {contains} }}\n")
    assert [said for said in broken(text) if "is a cure: say what it contains" in said[1]]


def test_a_name_of_another_agent_must_say_that_agent_or_another() -> None:
    text = GOOD + line("phosphate blend", more='contains = { "pepper" = "5 %" }\n')
    assert [said for said in broken(text) if "regulated agent: say what" in said[1]]


def test_a_cure_by_name_that_says_what_it_contains_is_judged_by_that() -> None:
    """1.8 % of 0.5 % nitrite are 90 mg/kg."""
    cured = GOOD[: GOOD.index("[[addition]]")]
    assert broken(cured + line("Nitritpökelsalz", "salt", more=MATCHED)) == []
    told = broken(cured + line("Nitritpökelsalz", "salt", "3.2 %", MATCHED))
    assert ["160 mg/kg" in text for _, text in told] == [True]


def test_a_group_called_a_cure_may_have_a_part_that_is_none() -> None:
    parts = (
        '\n[[addition]]\nname = "cure slurry"\nrole = "other"\nparts = [\n'
        '  { name = "premix", amount = "0.1 %", contains = { "sodium nitrite" = "6.25 %" } },\n'
        '  { name = "chilled water", amount = "3 %", role = "water" },\n]\n'
    )
    cured = GOOD[: GOOD.index("[[addition]]")]
    assert broken(cured + parts) == []
    hidden = parts.replace(', contains = { "sodium nitrite" = "6.25 %" }', "")
    assert {name for name, _ in broken(cured + hidden)} == {"premix", "chilled water"}
    assert "1937.5 mg/kg" in broken(cured + hidden)[0][1]  # 31 g of it in a kg, all parts together


def test_what_saltpetre_may_be_is_told() -> None:
    for agent in ("potassium nitrate", "sodium nitrate", "sodium nitrite"):
        assert agent in WHICH


def test_contains_asks_which_saltpetre() -> None:
    with pytest.raises(FileMistakes, match=r":16: .*saltpetre has meant .* write which"):
        parse_formula(GOOD.replace('"sodium nitrite"', '"saltpetre"'), "t.toml")


@pytest.mark.parametrize("agent", ["sodium nitrite", "sodium ascorbate", "celery powder", "gdl"])
def test_what_contains_a_limited_agent_is_weighed_aside_in_any_role(agent: str) -> None:
    onto = 'weigh = "onto"\ncontains = { "%s" = "1 %%", "salt" = "1 %%" }\n'
    with pytest.raises(FileMistakes, match=r"weigh: it contains .*weighed aside, never onto"):
        parse_formula(GOOD + line("mixed ice", "water", more=onto % agent), "t.toml")
    parse_formula(GOOD + line("salted ice", "water", more=onto % "sugar"), "t.toml")


@pytest.mark.parametrize(
    ("name", "sounds"),
    [
        ("salt", False), ("sodium chloride", False), ("sodium nitrite", True), ("natamycin", True),
        ("saltpetre", True), ("curing salt", True), ("celery powder", True), ("pepper", False),
        ("E 250 mix", True), ("e-252", True), ("E299", True), ("E300", True), ("E309", True),
        ("E319", True), ("E320", False), ("E338", True), ("E339", True), ("E337", False),
        ("E343", True), ("E344", False), ("E450", True), ("E452", True), ("E453", False),
        ("E1250", False), ("type 250", False), ("nitrite-free spice", False),
        ("mix without nitrite", False), ("no nitrate", False), ("notes of nitrite", True),
    ],
)  # fmt: skip
def test_a_name_that_sounds_regulated_is_known_by_its_words_and_e_numbers(
    name: str, sounds: bool
) -> None:
    """Words of the trade and E numbers of preservatives, antioxidants, phosphates: common practice.
    E 200 to 299, 300 to 319, 338 to 343, 450 to 452 (Regulation (EC) 1333/2008, from memory)."""
    assert sounds_regulated(name) is sounds
