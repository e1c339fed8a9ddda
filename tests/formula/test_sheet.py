"""The formula file: what it means, and one clear message for each mistake."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.quantities import parse_amount, parse_band
from station.formula.scaling import meat_for_mix, meat_for_pieces, mix_of, target_of
from station.formula.sheet import parse_formula
from station.resources import Config
from station.tomlfile import FileMistakes

GOOD = """name = "ring"
revision = 1
product = "cooked cured comminuted"

[[meat]]
name = "pork"
share = "60 %"
[[meat]]
name = "belly"
share = "40 %"

[[addition]]
name = "premix"
amount = "0.20 %"
role = "cure"
contains = { "sodium nitrite" = "6.25 %", "salt" = "93.75 %" }

[[step]]
name = "knead"
after = "premix"
"""


def mistakes(text: str) -> list[str]:
    with pytest.raises(FileMistakes) as caught:
        parse_formula(text, "ring.toml")
    return list(caught.value.mistakes)


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ('role = "cure"', 'rolle = "cure"', ":14", "did you mean 'role'?"),
        ('role = "cure"', 'role = "cura"', ":15", "did you mean 'cure'?"),
        ('"0.20 %"', '"0.20"', ":14", "expected a share"),
        ('"0.20 %"', '"0,20 %"', ":14", "not a comma: '0.20 %'"),
        ('"0.20 %"', '"1 tsp"', ":14", "weigh it once and write the grams"),
        ('role = "cure"', 'role = "cure"\nband = "-0,5 g +0,5 g"', ":16", "'-0.5 g +0.5 g'"),
        ('role = "cure"', 'role = "curing salt"', ":15", "did you mean 'cure'?"),
        ('role = "cure"', 'role = "sugar"', ":15", "did you mean 'sweetener'?"),
        ('cooked cured comminuted', 'cured ham', ":3", "'ham'; did you mean 'cured whole'?"),
        ('cooked cured comminuted', 'minced beast', ":3", "'comminuted'?, 'beast'"),
        ('"0.20 %"', "0.20", ":14", "a text in quotes"),
        ('"40 %"', '"30 %"', "", "shares add up to 90 %"),
        ('"6.25 %"', '"96.25 %"', ":16", "adds up to 190 %"),
        ('after = "premix"', 'after = "premixx"', ":20", "did you mean 'premix'?"),
        ("cured", "curde", ":3", "did you mean 'cured'?"),
        ("revision = 1", "revision = 0", ":2", "whole number from 1"),
        ("revision = 1", 'revision = "one"', ":2", "whole number from 1"),
        ('name = "belly"', 'name = "premix"', "", "names two lines"),
        ('role = "cure"', 'role = "cure"\nweigh = "onto"', ":16", "always weighed aside"),
        ('contains = {', 'contents = {', ":16", "did you mean 'contains'?"),
        ('[[meat]]', '[[meta]]', "", "did you mean 'meat'?"),
        ('= 1', '= ', ":2", "not TOML"),
        ("= 1", f"= {'9' * 5000}", "", "too long"),
        ('= "0.20 %"', "= 0.20 %  # so", "", """in quotes: amount = "0.20 %\""""),
        ('= "0.20 %"', "= 0,20 %", "", """in quotes: amount = "0,20 %\""""),
        ('= "cure"', "= cure", "", 'in quotes: role = "cure"'),
        ("cooked cured", "cooked raw cured", ":3", "both cooked and raw"),
        ("revision = 1", 'revision = 1\nauthority = "uk"', ":3", "allowed us, eu, gb"),
        ("cooked cured comminuted", "cured bacon", ":3", "bacon is pumped, immersion or dry"),
        ('name = "belly"', 'name = "belly"\nspecies = "porc"', ":11", "did you mean 'pork'?"),
        ('name = "belly"', 'name = "belly"\nfat = "101 %"', ":11", "0 % to 100 %"),
        ('revision = 1', 'revision = 1\npiece = "-60 g"', ":3", "more than nothing"),
        ('after = "premix"', 'after = "premix"\ntime = "banana"', ":21", "a time"),
        ('after = "premix"', 'after = "premix"\ntime = "<= 0 min"', ":21", "more than nothing"),
        ('after = "premix"', 'after = "premix"\ntime = "<= 10 degC"', ":21", "a time"),
        ('after = "premix"', 'after = "premix"\ntemperature = "9 min"', ":21", "a temperature"),
        ('after = "premix"', 'after = "premix"\ntemperature = "<= 9 C"', ":21", "a temperature"),
        ('after = "premix"', 'after = "premix"\nsince = "first meat"', ":21", "there is no time"),
        (
            'after = "premix"', 'after = "premix"\ntime = "9 min"\nsince = "frist meat"', "",
            "did you mean 'first meat'?",
        ),
        ('after = "premix"', 'after = "premix"\ntime = "9 min"\nsince = "pork"', "", "'pork'"),
        ('after = "premix"', 'after = "premix"\ntime = "9 min"\nsince = "knead"', "", "for itself"),
        ('name = "belly"', 'name = "filling"', "", "is the name of a place"),
        ('name = "belly"', 'name = "first meat"', "", "is the name of a place"),
        ('role = "cure"', 'role = "cure"\nstand = { time = "soon" }', ":16", "a time"),
        ('role = "cure"', 'role = "cure"\ncost = "4.10"', ":16", 'a price such as "4.10 / kg"'),
        ("role = \"cure\"", "role = \"cure\"\ncost = \"-4.10 / kg\"", ":16", "below nothing"),
        ('role = "cure"', 'role = "cure"\ncost = "4 / 0 kg"', ":16", "more than nothing"),
        ('role = "cure"', 'role = "cure"\ncost = "4 / day"', ":16", "a mass"),
        ("revision = 1", 'revision = 1\npiece_band = "-5 % +5 %"', ":3", "is missing, such as"),
        ('revision = 1', 'revision = 1\nloss = "100 %"', ":3", "less than 100 %"),
        ('revision = 1', 'revision = 1\nloss = "３ %"', ":3", "expected a share"),
        ('"0.20 %"', '"2 g / ４ kg"', ":14", "expected a share"),
        ('"0.20 %"', '"٢ sachets / 4 kg"', ":14", "expected a"),
        ('role = "cure"', 'role = "cure"\nband = "-４ % +2 %"', ":16", "both sides"),
        ('role = "cure"', 'role = "cure"\nband = "-200 % +9 %"', ":16", "nothing at all"),
        ('name = "belly"', 'name = "be\\u001blly"', ":9", "signs that can be shown"),
        ('"0.20 %"', '"0.2000000000000001 %"', ":14", "at most 15 digits"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_place(old: str, new: str, where: str, says: str) -> None:
    assert old in GOOD
    found = mistakes(GOOD.replace(old, new, 1))
    assert any(says in text for text in found), found
    assert all(text.startswith("ring.toml") for text in found)


def test_every_mistake_gets_its_own_message_with_its_line() -> None:
    found = mistakes(GOOD.replace('"0.20 %"', '"0.20"').replace('"60 %"', '"sixty"'))
    assert [text.split(": ")[0] for text in found[:2]] == ["ring.toml:7", "ring.toml:14"]


def test_a_cure_without_strength_is_refused() -> None:
    text = "\n".join(line for line in GOOD.splitlines() if not line.startswith("contains"))
    assert any("without its strength" in said for said in mistakes(text))


def test_a_cure_stays_alone_aside_and_required() -> None:
    premix = parse_formula(GOOD, "ring.toml").addition("premix")
    assert (premix.alone, premix.onto, premix.required) == (True, False, True)


@pytest.mark.parametrize(
    ("text", "on", "share"),
    [
        ("0.20 %", "meat", Fraction(1, 500)),
        ("2 g/kg", "meat", Fraction(1, 500)),
        ("1.7 % of mix", "mix", Fraction(17, 1000)),
        ("25 g / 100 kg", "meat", Fraction(1, 4000)),
        ("1 sachet / 100 kg", "count", Fraction(1, 100_000)),
        ("35 g", "fixed", Fraction(35)),
    ],
)
def test_amounts_are_exact(text: str, on: str, share: Fraction) -> None:
    amount = parse_amount(text)
    assert (amount.on, amount.share) == (on, share)


@pytest.mark.parametrize(
    "text", ["", "0 %", "-1 %", "2 g of mix", "3 kg / 0 kg", "1 %% of mix", "5"]
)
def test_a_senseless_amount_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_amount(text)


def test_bands_in_percent_grams_or_both() -> None:
    assert parse_band("-4 % +2 %").upper == Decimal("0.02")
    both = parse_band("-4 % -1 g +2 % +0.5 g")
    assert (both.lower_g, both.upper_g) == (1, Decimal("0.5"))
    for wrong in ("-4 %", "4 % 2 %", "-4 % +2 % wide", "-4 % -3 % +2 %"):
        with pytest.raises(ValueError):
            parse_band(wrong)


def test_mix_and_pieces_lead_back_to_the_meat() -> None:
    text = GOOD.replace("product", 'piece = "180 g"\nloss = "3 %"\nproduct')
    text += '\n[[addition]]\nname = "ice"\namount = "5 % of mix"\nrole = "water"\n'
    text += '\n[[addition]]\nname = "garlic"\namount = "35 g"\nrole = "seasoning"\n'
    formula = parse_formula(text, "ring.toml")
    meat = Fraction(12_000)
    mix = mix_of(formula, meat)
    assert mix == (meat * Fraction("1.002") + 35) / Fraction("0.95")
    assert meat_for_mix(formula, mix) == meat
    assert target_of(formula.addition("ice").amount, formula, meat) == mix * Fraction("0.05")
    meat = meat_for_pieces(formula, 40)
    assert mix_of(formula, meat) == 40 * Fraction(180) / Fraction("0.97")


def test_steps_and_parts_stand_in_their_place() -> None:
    crumb = parse_formula(*Config().read("formulas/herb-link.toml"))
    names = [item.name for item in crumb.sequence]
    assert names[-4:] == [
        "dried crumb", "chilled water", "soaked crumb stands", "packs into the cold",
    ]  # fmt: skip
    ring = parse_formula(*Config().read("formulas/garlic-ring.toml"))
    assert [item.name for item in ring.sequence][1:3] == ["curing premix", "knead until tacky"]
    before = GOOD.replace('after = "premix"', 'before = "premix"')
    assert [item.name for item in parse_formula(before, "r").sequence] == ["knead", "premix"]


@pytest.mark.parametrize(
    ("water", "says"), [("-50 kg", "more than nothing"), ("0 kg", "more than nothing")]
)
def test_a_pickle_has_water(water: str, says: str) -> None:
    pickle = GOOD.replace("comminuted", "whole").replace(
        "revision = 1\n",
        f'revision = 1\nmethod = "immersion"\n[pickle]\nwater = "{water}"\n',
    )
    assert any(says in text for text in mistakes(pickle))


def test_salt_says_how_much_salt_it_is() -> None:
    salt = (
        '[[addition]]\nname = "s"\namount = "1 %"\nrole = "salt"\ncontains = { "iodine" = "1 %" }\n'
    )
    assert any("how much salt" in text for text in mistakes(GOOD + salt))


def test_bounds_stay_as_they_are_written() -> None:
    text = GOOD + 'time = "<= 10 min"\ntemperature = "<= 4 °C"\n'
    found = parse_formula(text, "r")
    assert (found.steps[0].time, found.steps[0].temperature) == ("<= 10 min", "<= 4 °C")


def test_species_go_by_their_everyday_names() -> None:
    found = parse_formula(GOOD.replace('name = "belly"', 'name = "belly"\nspecies = "Pig"'), "r")
    assert found.meats[1].species == "pork"


@pytest.mark.parametrize("word", ["spice", "herb", "herbs", "Spice", " spices "])
def test_a_spice_and_a_herb_are_seasonings(word: str) -> None:
    head = f'\n[[addition]]\nrole = "{word}"\n'
    sage = f'{head}name = "sage"\namount = "2 g/kg"\n'
    parts = f'{head}name = "cup"\nparts = [{{ name = "a", amount = "1 %" }}]\n'
    found = parse_formula(GOOD + sage + parts, "r")
    assert (found.addition("sage").role, found.addition("a").role) == ("seasoning", "seasoning")


def test_a_key_that_belongs_to_the_parts_is_one_mistake() -> None:
    cup = '\n[[addition]]\nname = "cup"\nrole = "other"\namount = "1 %"\n'
    (told,) = mistakes(GOOD + cup + 'parts = [{ name = "a", amount = "1 %" }]\n')
    assert "belongs to the parts" in told


@pytest.mark.parametrize(
    ("text", "price"),
    [("4.10 / kg", "4.10"), ("0.85/100 g", "8.5"), ("0 / kg", "0"), ("2 / lb", "4.409245")],
)
def test_a_cost_is_the_price_of_a_kilogram(text: str, price: str) -> None:
    found = parse_formula(GOOD.replace('role = "cure"', f'role = "cure"\ncost = "{text}"'), "r")
    premix = next(a for a in found.additions if a.role == "cure")
    assert premix.price is not None and round(premix.price, 6) == Decimal(price)
    assert all(meat.price is None for meat in found.meats)


PACK = '\n[[pack]]\nnominal = "400 g"\nstore = "fridge"\nkeeps = "4 d"\n'


def test_packs_have_a_weight_a_place_and_days() -> None:
    found = parse_formula(GOOD + PACK + PACK.replace("fridge", "freezer"), "r")
    assert [(p.nominal_g, p.store, p.keeps_days) for p in found.packs] == [
        (400, "fridge", 4), (400, "freezer", 4),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (PACK + PACK, "the same weight for the same place is there already"),
        (PACK.replace("4 d", "36 h"), "whole days such as 4 d"),
        (PACK.replace("4 d", "0 d"), "more than nothing"),
        (PACK.replace("400 g", "0 g"), "more than nothing"),
        (PACK.replace('"fridge"', '"fridge, top"'), "a place such as fridge"),
        (PACK.replace("keeps", "kept"), "did you mean 'keeps'?"),
    ],
)
def test_a_wrong_pack_says_what_is_wrong(text: str, says: str) -> None:
    assert any(says in told for told in mistakes(GOOD + text))


def test_a_byte_order_mark_is_no_mistake() -> None:
    assert parse_formula("\ufeff" + GOOD, "r").name == "ring"


def test_a_circle_of_times_is_a_mistake_of_each_that_waits_for_itself() -> None:
    steps = "".join(
        f'[[step]]\nname = "{name}"\nafter = "premix"\ntime = "9 min"\nsince = "{since}"\n'
        for name, since in (("one", "two"), ("two", "one"), ("three", "two"))
    )
    told = [text for text in mistakes(GOOD + steps) if "waits for itself" in text]
    assert sorted(text.rpartition(": ")[2] for text in told) == [
        "'one' waits for itself", "'two' waits for itself",
    ]  # fmt: skip


def test_what_comes_before_the_filling_comes_before_what_comes_after_it() -> None:
    steps = (
        '[[step]]\nname = "cool"\nafter = "filling"\n'
        '[[step]]\nname = "hang"\nafter = "cool"\n'
        '[[step]]\nname = "soak"\nbefore = "filling"\n'
        '[[step]]\nname = "rest"\nafter = "premix"\n'
        '[[step]]\nname = "early"\nbefore = "soak"\n'
    )
    formula = parse_formula(GOOD + steps, "ring.toml")
    names = [item.name for item in formula.sequence]
    assert names[-4:] == ["early", "soak", "cool", "hang"]
    assert names.index("rest") < names.index("early")
    later = [step.name for step in formula.steps if formula.after_filling(step)]
    assert later == ["cool", "hang"]


def test_what_comes_after_a_line_that_stands_waits_until_it_has_stood() -> None:
    step = '[[step]]\nname = "knead"\nafter = "soaked crumb"\n'
    formula = parse_formula(f"{Config().read('formulas/herb-link.toml')[0]}\n{step}", "link")
    names = [item.name for item in formula.sequence]
    assert names[-4:-1] == ["chilled water", "soaked crumb stands", "knead"]
