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
        (units.metres, "12 m", "12"),
        (units.metres, "80 cm", "0.8"),
        (units.metres, "10 in", "0.254"),  # exact: the international inch
        (units.number, "4.10", "4.10"),
        (units.number, "1234567890.1234", "1234567890.1234"),  # fifteen signs
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
        (units.metres, "12"),
        (units.metres, "12 kg"),
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
    ("text", "bounds"),
    [
        ("<= 10 min", (None, 600)),
        ("< 10 min", (None, 600)),
        ("≤ 10 min", (None, 600)),
        (" <= 10 min", (None, 600)),
        (">= 10 min", (600, None)),
        ("> 10 min", (600, None)),
        ("≥ 10 min", (600, None)),
        ("10 min", (600, None)),
    ],
)
def test_a_bound_is_a_most_or_a_least_and_a_bare_figure_a_least(
    text: str, bounds: tuple[int | None, int | None]
) -> None:
    assert units.least_and_most(text, units.seconds) == bounds


@pytest.mark.parametrize(
    "text", ["", "<=", "=< 10 min", "<= <= 10 min", "about 10 min", "<= 1o min"]
)
def test_a_bound_without_a_figure_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        units.bound(text, units.seconds)


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("0,20 %", "'0.20 %'"),
        ("1,5 g/kg", "'1.5 g/kg'"),
        ("1,500 g", "'1.500 g' or '1500 g'"),
        ("0,125 g", "'0.125 g'"),  # nobody divides thousands behind a nought
        ("1234,567 g", "'1234.567 g'"),
        ("12,34 g", "'12.34 g'"),
        ("1.234,5 g", "'1234.5 g'"),
        ("1,234.5 g", "'1234.5 g'"),
        ("1,234,567 g", "'1234567 g'"),
    ],
)
def test_a_comma_is_pointed_at_with_the_right_form_and_never_taken(text: str, right: str) -> None:
    for parse in (units.mass, units.fraction):
        with pytest.raises(UnitError) as told:
            parse(text)
        assert str(told.value).endswith(f"; write a point, not a comma: {right}")


@pytest.mark.parametrize(
    "text",
    ["1 tsp", "1 tsp/kg", "1/2 tsp", "2 Tbsp", "3 tablespoons", "a pinch", "20 ml/kg", "1 l"],
)
def test_a_volume_is_refused_with_the_reason_and_what_to_do(text: str) -> None:
    for parse in (units.fraction, units.mass, units.per_mass):
        with pytest.raises(UnitError, match="is a volume and no weight: weigh it once") as told:
            parse(text)
        assert repr(text) in str(told.value)


@pytest.mark.parametrize("text", ["5 lbs", "5 mlb", "2 cloves / kg", "small", "5 pct of all"])
def test_only_a_volume_is_called_one(text: str) -> None:
    with pytest.raises(UnitError) as told:
        units.fraction(text)
    assert "volume" not in str(told.value)


@pytest.mark.parametrize("text", ["4 °C", "4°C", "4 ºC", "4 ˚C", "4 ℃", "4 degC"])
def test_a_degree_is_understood_by_any_of_its_signs(text: str) -> None:
    assert units.celsius(text) == 4
    assert units.bound(f"≤ {text}", units.celsius) == f"≤ {text}"


def test_fahrenheit_is_understood_by_its_sign_too() -> None:
    assert units.celsius("41 ℉") == units.celsius("41 °F") == 5


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
    ("text", "found"),
    [
        ("8 degC", ["8"]),
        ("8 degC, tacky", ["8"]),
        ("tacky, 8 degC", ["8"]),
        ("8 degC, 41 °F", ["8", "5"]),
        ("tacky", []),
        ("12 min", []),
        ("8,5 degC", []),  # refused when it is typed
        ("", []),
    ],
)
def test_every_temperature_in_what_was_found_is_read(text: str, found: list[str]) -> None:
    """41 °F is 5 °C (exact)."""
    assert units.temperatures(text) == tuple(map(Decimal, found))


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
