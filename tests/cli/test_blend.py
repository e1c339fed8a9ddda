"""`station formula blend`: what it tells, and the way on where nothing can be made."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from station.cli.formula import formula
from station.resources import packaged

RING = packaged() / "formulas" / "garlic-ring.toml"
LINK = packaged() / "formulas" / "herb-link.toml"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(formula, ["blend", *map(str, words)])


def test_a_leaner_belly_takes_more_of_it_for_the_same_fat() -> None:
    """18 and 53 % in 60 and 40 parts are 32 %; a belly of 48 % wants 14 of 30 parts (by hand)."""
    result = run(RING, "--at-hand", "pork belly=48 %", "--json")
    told = json.loads(result.stdout)
    assert (result.exit_code, told["fat_percent"]) == (0, "32")
    (blend,) = told["blends"]
    assert (blend["blend"], blend["price_per_kg"]) == ("as the formula", None)
    assert [(row["share_percent"], row["grams"]) for row in blend["meats"]] == [
        ("53.33", "5333.3"), ("46.67", "4666.7"),
    ]  # fmt: skip
    assert "32 % of fat" in run(RING, "--at-hand", "pork belly=48 %").stdout


def test_fat_of_the_mix_is_more_of_the_meat() -> None:
    told = json.loads(run(RING, "--fat", "25 % of mix", "--json").stdout)
    of_meat = json.loads(run(RING, "--fat", "25 %", "--json").stdout)
    assert float(told["fat_percent"]) > float(of_meat["fat_percent"]) == 25


def test_with_prices_the_cheapest_stands_beside_it() -> None:
    prices = ("--price", "pork shoulder=5", "--price", "pork belly=4")
    told = json.loads(run(RING, *prices, "--json").stdout)
    assert [(b["blend"], b["price_per_kg"]) for b in told["blends"]] == [
        ("as the formula", "4.6"), ("cheapest", "4.6"),
    ]  # fmt: skip
    assert "cheapest, 32 % of fat, 4.6 a kg" in run(RING, *prices).stdout


def test_what_cannot_be_made_is_told_with_what_can() -> None:
    result = run(RING, "--fat", "60 %")
    assert result.exit_code == 1
    assert "18 to 53 % can be made; add a leaner or a fatter meat" in result.stdout
    told = json.loads(run(RING, "--fat", "60 %", "--json").stdout)
    assert told["reachable"] == {"low_percent": "18", "high_percent": "53"}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((LINK,), "nobody says how fat pork shoulder is"),
        ((LINK, "--at-hand", "pork shoulder=18 %"), "the file's meats do not all say their fat"),
        ((RING, "--at-hand", "goose=18 %"), "'goose' is no meat of it"),
        ((RING, "--at-hand", "pork belly=4,8 %"), "write a point"),
        ((RING, "--at-hand", "pork belly=48 %", "--at-hand", "pork belly=4 %"), "twice"),
        ((RING, "--price", "pork belly=4"), "no price of pork shoulder"),
        ((RING, "--price", "pork belly=4 %"), "a number such as"),
        ((RING, "--price", "pork belly=-4"), "a price of nothing or more"),
        ((RING, "--fat", "25 % of pickle"), "found '25 % of pickle'"),
        ((RING, "--fat", "fat"), "fat: found 'fat'"),
    ],
)
def test_what_is_asked_wrongly_is_said_with_the_way_to_ask(
    words: tuple[str | Path, ...], says: str
) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert says in result.stderr
