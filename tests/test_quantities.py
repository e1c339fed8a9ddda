"""What people may write for a quantity, and what is no quantity at all."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from station import units
from station.units import UnitError

Parse = Callable[[str], Any]


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (units.mass, "12 kg", "12000"),
        (units.mass, "1 lb", "453.59237"),  # exact: international avoirdupois pound
        (units.mass, "16oz", "453.592370000"),
        (units.mass, "250 mg", "0.250"),
        (units.mass, "0.5 t", "500000.0"),
        (units.fraction, "6.25 %", "0.0625"),
        (units.fraction, "125 mg/kg", "0.000125"),
        (units.fraction, "125 ppm", "0.000125"),
        (units.seconds, "500 ms", "0.5"),
        (units.seconds, "2 min", "120"),
        (units.seconds, "3 d", "259200"),
        (units.seconds, "1.5 h", "5400"),
        (units.celsius, "4 °C", "4"),
        (units.celsius, "4 degC", "4"),
        (units.celsius, "-18 °C", "-18"),
        (units.celsius, "32 °F", "0"),  # the two scales by definition: 32 and 212 °F
        (units.celsius, "212 degF", "100"),
        (units.celsius, "40 °F", "4.444444444"),
        (units.celsius, "41 °F", "5"),  # ninths must not leave 4.999... under a bound of 5
    ],
)
def test_a_quantity_is_exactly_what_was_written(parse: Parse, text: str, value: str) -> None:
    assert parse(text) == Decimal(value)


@pytest.mark.parametrize(
    ("parse", "text"),
    [
        (units.mass, "12"),
        (units.mass, "kg"),
        (units.mass, "12 G"),  # gauss in a full registry
        (units.mass, "12 Kg"),
        (units.mass, "12 mm"),
        (units.mass, "2 g kg / kg"),
        (units.mass, "2 g * 3"),
        (units.mass, "1e3 g"),
        (units.mass, "1_000 g"),
        (units.mass, "４ kg"),
        (units.mass, "٤ kg"),
        (units.mass, "1.٤ kg"),
        (units.fraction, "2 M"),  # molar in a full registry
        (units.fraction, "2 g"),
        (units.fraction, "2 kg/g/kg"),
        (units.fraction, "６.25 %"),
        (units.seconds, "5 m"),  # metres
        (units.seconds, "5 degC"),
        (units.celsius, "8"),
        (units.celsius, "8 C"),  # coulomb in a full registry
        (units.celsius, "8 F"),
        (units.celsius, "8 °"),
        (units.celsius, "8 degC/min"),
        (units.celsius, "8 min"),
    ],
)
def test_what_is_no_such_quantity_is_refused_with_what_was_found(parse: Parse, text: str) -> None:
    with pytest.raises(UnitError, match="expected a ") as caught:
        parse(text)
    assert repr(text) in str(caught.value)


@pytest.mark.parametrize("text", ["1,5 kg", "0,20 kg"])
def test_a_decimal_comma_gets_a_hint(text: str) -> None:
    with pytest.raises(UnitError, match="a point, not a comma"):
        units.mass(text)


def test_fifteen_digits_are_enough_for_anybody() -> None:
    assert units.mass("1.23456789012345 g") == Decimal("1.23456789012345")
    with pytest.raises(UnitError, match="15 digits"):
        units.mass("1.234567890123456 g")


@pytest.mark.parametrize("text", ["<= 10 min", ">=10 min", "< 10 min", "> 10 min", "10 min"])
def test_a_bound_keeps_its_text_and_its_figure_is_read(text: str) -> None:
    assert units.bound(text, units.seconds) == text
    with pytest.raises(UnitError, match="a temperature"):
        units.bound(text, units.celsius)


@pytest.mark.parametrize(
    "text", ["", "<=", "=< 10 min", "<= <= 10 min", "about 10 min", "<= 1o min"]
)
def test_a_bound_without_a_figure_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        units.bound(text, units.seconds)


@pytest.mark.parametrize(
    ("text", "money", "per_g"),
    [
        ("4.10 / kg", "4.10", 1000),
        ("4/kg", "4", 1000),
        ("0.90 / 100 g", "0.90", 100),
        ("0 / kg", "0", 1000),
    ],
)
def test_a_cost_is_money_per_mass(text: str, money: str, per_g: int) -> None:
    assert units.cost_per_mass(text) == (Decimal(money), per_g)


@pytest.mark.parametrize(
    "text",
    [
        "4.10",
        "4.10 kg",
        "4,10 / kg",
        "/ kg",
        "4 / min",
        "4 / 0 kg",
        "４ / kg",
        "4 / ４ kg",
        "-4 / kg",
    ],
)
def test_what_is_no_cost_per_mass_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        units.cost_per_mass(text)


@pytest.mark.parametrize(
    "text",
    [
        "8 degC",
        "8 degC, tacky",
        "tacky",
        "pH 5.3",
        "12 min",
        "32 mm",
        "1.2 m",
        "3 %",
        "+2 °C",
        "250 g",
    ],
)
def test_a_value_found_is_figures_with_units_and_words(text: str) -> None:
    assert units.found_value(text) == text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("8", "'8'"),
        ("5.3", "pH 5.3"),
        ("8 C", "'8 C'"),
        ("tacky, 8", "'8'"),
        ("8,5 degC", "a point, not a comma"),
        ("-8 M", "'-8 M'"),
        ("٨ degC", "with its unit"),
    ],
)
def test_a_figure_found_that_nobody_can_read_is_refused(text: str, says: str) -> None:
    with pytest.raises(UnitError) as caught:
        units.found_value(text)
    assert says in str(caught.value)
