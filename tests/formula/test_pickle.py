"""The pickle for the meat there is: taken, left over, too little, as strong."""

import json
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner

from station.cli.formula import formula
from station.formula.compare import differing
from station.formula.pickle import Pickle, pickle_of
from station.formula.sheet import parse_formula
from station.tomlfile import FileMistakes

PUMPED = """name = "made"
revision = 1
product = "cured whole"
method = "pumped"
pump = "10 %"
pickle = { water = "850 g" }
[[meat]]
name = "pork"
share = "100 %"
[[addition]]
name = "salt"
role = "salt"
amount = "10 % of pickle"
in = "pickle"
[[addition]]
name = "premix"
role = "cure"
amount = "65 g"
in = "pickle"
contains = { "sodium nitrite" = "0.6 %", "salt" = "99.4 %" }
"""


def made(meat_g: int, text: str = PUMPED) -> Pickle:
    found = pickle_of(parse_formula(text, "made.toml"), Fraction(meat_g))
    assert found is not None
    return found


@pytest.mark.parametrize(("meat_g", "left"), [(9_000, 100), (10_000, 0), (11_000, -100)])
def test_the_meat_takes_its_gain_in_weight(meat_g: int, left: int) -> None:
    """850 + 85 + 65 g of pickle; gain = (pumped - green) / green (Directive 7620.3, 1995)."""
    found = made(meat_g)
    assert (found.made_g, found.left_g) == (1000, left)
    assert found.salt == Fraction(85 * 1000 + 65 * 994, 1_000_000)


def test_just_enough_is_as_strong_and_all_of_it_is_taken() -> None:
    found = made(11_000)
    enough = found.just_enough()
    assert enough is not None and enough.left_g == 0
    assert (enough.water_g, enough.lines_g["premix"]) == (935, Fraction("71.5"))
    assert sum(enough.lines_g.values()) + enough.water_g == enough.made_g == 1100
    assert enough.salt == found.salt


def test_what_nobody_says_is_not_guessed() -> None:
    text = PUMPED.replace('"pumped"\npump = "10 %"', '"immersion"')
    found = made(10_000, text)
    assert (found.takes_g, found.left_g, found.just_enough()) == (None, None, None)
    minced = PUMPED.partition("[[addition]]")[0].replace(
        'method = "pumped"\npump = "10 %"\npickle = { water = "850 g" }\n', ""
    )
    assert pickle_of(parse_formula(minced, "made.toml"), Fraction(1000)) is None


BY_MEAT = PUMPED.replace('"850 g"', '"8.5 % of meat"').replace('"65 g"', '"6.5 g / 85 g of pickle"')


@pytest.mark.parametrize("meat_g", [9_000, 10_000, 11_000])
def test_water_that_goes_by_the_meat_is_scaled_with_it(meat_g: int) -> None:
    """What is 850 + 85 + 65 g to 10 kg is as much to a kg of any other, and none is left over."""
    found = made(meat_g, BY_MEAT)
    assert (found.water_g, found.left_g) == (Fraction(85 * meat_g, 1000), 0)
    assert found.lines_g == {"salt": Fraction(85 * meat_g, 10_000),
                             "premix": Fraction(65 * meat_g, 10_000)}  # fmt: skip
    assert found.salt == made(10_000).salt


@pytest.mark.parametrize(
    "water", ["10 % of mix", "10 % of pickle", "1 sachet / 100 kg", "0 %", "0 kg", "10 l"]
)
def test_water_of_a_pickle_is_a_mass_or_so_much_of_the_meat(water: str) -> None:
    with pytest.raises(FileMistakes, match="pickle") as told:
        made(10_000, PUMPED.replace("850 g", water))
    assert len(told.value.mistakes) == 1


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            'pickle = { water = "850 g" }\n',
            "",
            "missing, a pumped product needs [pickle] with water",
        ),
        ('"pumped"\npump = "10 %"', '"dry"', "pickle: a dry product has none"),
        ("water", "watr", "pickle.water: missing"),
    ],
)
def test_a_pickle_belongs_to_what_is_pumped_or_immersed(old: str, new: str, says: str) -> None:
    text = PUMPED.partition("[[addition]]")[0]
    assert old in text
    with pytest.raises(FileMistakes) as told:
        parse_formula(text.replace(old, new), "made.toml")
    assert says in told.value.mistakes[0]


def test_another_pickle_is_a_difference_of_two_formulas() -> None:
    one, two = (parse_formula(text, "made.toml") for text in (PUMPED, BY_MEAT))
    assert differing(one, two) == {"pickle_water": ("850 g", "8.5 % of meat")}


def scaled(tmp_path: Path, *words: str, text: str = PUMPED) -> str:
    file = tmp_path / "made.toml"
    file.write_text(text, "utf-8")
    result = CliRunner().invoke(formula, ["scale", str(file), *words])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_scale_tells_the_water_that_goes_by_the_meat(tmp_path: Path) -> None:
    said = scaled(tmp_path, "--meat", "7340 g", text=BY_MEAT)
    assert "pickle: 734 g, 623.9 g of that water" in said
    assert "the meat takes 734 g, 0 g is left over" in said


def test_scale_tells_what_is_left_or_that_it_is_too_little(tmp_path: Path) -> None:
    said = scaled(tmp_path, "--meat", "9 kg")
    assert "pickle: 1000 g, 850 g of that water, salt 14.96 % of it" in said
    assert "the meat takes 900 g, 100 g is left over" in said
    assert "takes 1000 g, 0 g is left over" in scaled(tmp_path, "--meat", "10 kg")
    said = scaled(tmp_path, "--meat", "11 kg")
    assert "TOO LITTLE: the meat takes 1100 g, 100 g more" in said
    assert "just enough, as strong: water 935 g, salt 93.5 g, premix 71.5 g" in said
    told = json.loads(scaled(tmp_path, "--meat", "11 kg", "--json"))["pickle"]
    assert (told["left_g"], told["just_enough"]["water_g"]) == ("-100", "935")
    immersed = PUMPED.replace('"pumped"\npump = "10 %"', '"immersion"')
    said = scaled(tmp_path, "--meat", "9 kg", text=immersed)
    assert "what the meat takes of it is not said" in said
