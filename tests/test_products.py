"""The list of goods: what is in it is right, or it says what is wrong."""

from decimal import Decimal
from pathlib import Path

import pytest

from station.products import Product, fitting, load_products, strengths
from station.resources import Config
from station.tomlfile import FileMistakes

PREMIX = """
[[product]]
name = "curing premix 6.25"
contains = { "sodium nitrite" = "6.25 %", "salt" = "93.75 %" }
gtin = "9506000134352"
"""
"""The code is the example of the GS1 General Specifications."""


def load(folder: Path, text: str) -> tuple[Product, ...]:
    (folder / "lots.toml").write_text(text)
    return load_products(Config(folder))


def test_a_product_has_a_name_a_strength_and_perhaps_a_code(tmp_path: Path) -> None:
    (product,) = load(tmp_path, PREMIX)
    assert product.gtin == "09506000134352"
    assert product.contains == {"sodium nitrite": Decimal("0.0625"), "salt": Decimal("0.9375")}
    assert product.says == "curing premix 6.25: sodium nitrite 6.25 %, salt 93.75 %"


def test_a_bag_has_a_size_where_that_is_said(tmp_path: Path) -> None:
    assert load(tmp_path, PREMIX)[0].bag_g is None
    assert load(tmp_path, PREMIX + 'bag = "1 kg"')[0].bag_g == 1000
    with pytest.raises(FileMistakes):
        load(tmp_path, PREMIX + 'bag = "full"')


def test_what_it_costs_is_the_price_of_a_kilogram(tmp_path: Path) -> None:
    assert load(tmp_path, PREMIX)[0].price is None
    assert load(tmp_path, PREMIX + 'cost = "4.90 / 500 g"')[0].price == Decimal("9.8")
    with pytest.raises(FileMistakes):
        load(tmp_path, PREMIX + 'cost = "cheap"')


def test_the_list_that_is_shipped_names_nothing_that_somebody_may_not_have() -> None:
    assert load_products(Config()) == ()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("9506000134352", "9506000134353"), "expected a GTIN"),
        (("9506000134352", "950600013435x"), "expected a GTIN"),
        (("9506000134352", "4352"), "expected a GTIN"),
        (("6.25 %", "6.25"), "expected"),
        (('"6.25 %"', '"0 %"'), "expected a share"),
        (('"93.75 %"', '"93.76 %"'), "more than 100 %"),
        (("sodium nitrite", "curing salt"), "the name of no one agent"),
        (('"salt" =', '"E250" ='), "named twice"),
        (("gtin", "code"), "code"),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, change: tuple[str, str], says: str) -> None:
    wrong = PREMIX.replace(*change)
    assert wrong != PREMIX
    with pytest.raises(FileMistakes, match=says):
        load(tmp_path, wrong)


@pytest.mark.parametrize(
    ("change", "says"),
    [(("x", "x"), "named 'curing premix 6.25'"), (("premix 6.25", "premix b"), "coded")],
)
def test_two_products_are_told_apart_by_name_and_by_code(
    tmp_path: Path, change: tuple[str, str], says: str
) -> None:
    with pytest.raises(FileMistakes, match=says):
        load(tmp_path, PREMIX + PREMIX.replace(*change))


def test_those_that_hold_an_agent_of_the_line_fit_it() -> None:
    premix = Product("a", {"sodium nitrite": Decimal("0.0625"), "salt": Decimal("0.9375")})
    salt = Product("b", {"salt": Decimal(1)})
    assert fitting((premix, salt), ["sodium nitrite", "salt"]) == (premix,)
    assert fitting((premix, salt), ["sodium nitrate"]) == ()


def test_all_of_a_strength_is_a_share() -> None:
    assert strengths([("salt", "100 %")]) == {"salt": 1}
