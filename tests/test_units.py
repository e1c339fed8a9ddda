"""People's text and a scale's unit words to grams, exactly; and numbers back to text."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.units import (
    UnitError,
    fraction,
    grams,
    is_mass,
    mass,
    more_than_nothing,
    number,
    per_mass,
    plain,
    rounded,
    seconds,
    shown,
    tidy,
)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("7340 g", "7340"), ("12 kg", "12000"), ("250 mg", "0.25"), ("1.5 t", "1500000"),
        ("1 lb", "453.59237"),  # exact: international avoirdupois pound
        ("16 oz", "453.59237"), ("1 ounce", "28.349523125"), ("-35 g", "-35"), ("+35g", "35"),
        ("  2  kilogram ", "2000"), ("0.1 g", "0.1"), ("1 milligram", "0.001"),
        ("1 tonne", "1000000"), ("2 pound", "907.18474"), ("2 lbs", "907.18474"),
    ],
)  # fmt: skip
def test_a_mass_is_exact_grams(text: str, found: str) -> None:
    assert mass(text) == Decimal(found)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("6.25 %", "0.0625"), ("2 g/kg", "0.002"), ("125 ppm", "0.000125"),
        ("156.25 mg/kg", "0.00015625"), ("1 oz/lb", "0.0625"), ("3 pct", "0.03"),
        ("35 g / kg", "0.035"), ("5 kg/t", "0.005"),
    ],
)  # fmt: skip
def test_a_share_is_an_exact_fraction(text: str, found: str) -> None:
    assert fraction(text) == Decimal(found)


@pytest.mark.parametrize(
    ("text", "found"),
    [("5 s", "5"), ("500 ms", "0.5"), ("2 min", "120"), ("1.5 h", "5400"), ("1 minute", "60"),
     ("1 hour", "3600"), ("1 millisecond", "0.001"), ("1 second", "1")],
)  # fmt: skip
def test_a_time_is_exact_seconds(text: str, found: str) -> None:
    assert seconds(text) == Decimal(found)


@pytest.mark.parametrize(
    "text",
    ["", "12", "kg", "1,5 kg", "12 G", "3 M", "1.5.2 g", "1 e3 g", "5 %", "5 s", "2 g/kg",
     "0x10 g", "1_000 g", ".5 g", "5. g", "nan g", "12 kg or so"],
)  # fmt: skip
def test_what_is_no_mass_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match="expected a mass with its unit"):
        mass(text)


def test_a_quantity_of_another_kind_is_refused() -> None:
    for text in ("5 g", "5 s", "5", "5 g/s"):
        with pytest.raises(UnitError, match="expected a share such as"):
            fraction(text)
    for text in ("5 g", "5 %", "5"):
        with pytest.raises(UnitError, match="expected a time with its unit"):
            seconds(text)


def test_a_comma_for_a_point_is_told_and_only_then() -> None:
    with pytest.raises(UnitError, match="write a point, not a comma"):
        mass("1,5 kg")
    with pytest.raises(UnitError) as told:
        mass("five, kg")
    assert "comma" not in str(told.value)


@pytest.mark.parametrize(("digits", "fine"), [("9" * 15, True), ("9" * 16, False)])
def test_fifteen_digits_are_exact_and_more_are_refused(digits: str, fine: bool) -> None:
    if fine:
        assert mass(f"{digits} oz") == Decimal("28349523124999971.650476875")
    else:
        with pytest.raises(UnitError, match="at most 15 digits"):
            mass(f"{digits} g")


def test_a_pair_of_masses_stays_a_pair() -> None:
    assert per_mass("25 g / 100 kg") == (25, 100_000)
    assert per_mass("1 oz/100 lb") == (Decimal("28.349523125"), Decimal("45359.237"))
    for text in ("25 g", "25 g / kg", "25 / 100 kg", "1 g / 2 g / 3 g"):
        with pytest.raises(UnitError):
            per_mass(text)


@pytest.mark.parametrize(
    ("text", "is_it"),
    [("35 g", True), ("0 kg", True), ("5 %", False), ("2 g/kg", False), ("5 s", False),
     ("35", False), ("g", False)],
)  # fmt: skip
def test_a_fixed_amount_is_told_from_a_share(text: str, is_it: bool) -> None:
    assert is_mass(text) is is_it


@pytest.mark.parametrize(("value", "fine"), [("0.0001", True), ("0", False), ("-1", False)])
def test_nothing_is_not_more_than_nothing(value: str, fine: bool) -> None:
    if fine:
        assert more_than_nothing(Decimal(value), "it") == Decimal(value)
    else:
        with pytest.raises(UnitError, match="found 'it', expected more than nothing"):
            more_than_nothing(Decimal(value), "it")


@pytest.mark.parametrize(
    ("word", "found"),
    [("g", "2"), ("G", "2"), ("KG", "2000"), ("mg", "0.002"), ("t", "2000000"),
     ("lb", "907.18474"), ("oz", "56.699046250")],
)  # fmt: skip
def test_a_scales_unit_word_counts_in_any_case(word: str, found: str) -> None:
    assert grams(Decimal(2), word) == Decimal(found)


@pytest.mark.parametrize("word", ["", "gr", "kgs", "ct", "%", "g/kg"])
def test_a_unit_word_that_no_scale_may_send_is_none(word: str) -> None:
    assert grams(Decimal(2), word) is None


@pytest.mark.parametrize(
    ("number", "places", "down", "up"),
    [("1.25", 1, "1.2", "1.3"), ("1.2", 1, "1.2", "1.2"), ("1.2000001", 1, "1.2", "1.3"),
     ("-1.25", 1, "-1.3", "-1.2"), ("156.254", 2, "156.25", "156.26"), ("7", 0, "7", "7"),
     ("7.01", 0, "7", "8")],
)  # fmt: skip
def test_rounding_goes_to_the_side_that_was_asked_for(
    number: str, places: int, down: str, up: str
) -> None:
    assert rounded(Decimal(number), places, up=False) == Decimal(down)
    assert rounded(Fraction(number), places, up=True) == Decimal(up)


def test_a_float_is_kept_to_a_thousandth() -> None:
    assert tidy(0.12345) == Decimal("0.123")
    assert tidy(0.9996) == Decimal("1.000")


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (Decimal("1E+3"), "1000"), (Decimal("9.50"), "9.5"), (Decimal("10"), "10"),
        (Decimal("100.00"), "100"), (Decimal("0"), "0"), (Decimal("0E-9"), "0"),
        (Decimal("-0.00"), "0"), (Decimal("0.000001"), "0.000001"),
        (Decimal("0.0000014"), "0.000001"), (Decimal("0.0000016"), "0.000002"),
        (Decimal("0.0000015"), "0.000002"), (Decimal("0.0000025"), "0.000002"),  # half to even
        (Fraction(1, 3), "0.333333"), (Fraction(2, 3), "0.666667"), (Fraction(5), "5"),
        (Fraction(-1, 2), "-0.5"),
    ],
)  # fmt: skip
def test_plain_text_has_no_exponent_and_no_idle_zeros(
    number: Decimal | Fraction, text: str
) -> None:
    assert plain(number) == text


@pytest.mark.parametrize(
    "text", ["1000000000000000000000000000001", "1000000000000000000000000.000001"]
)
def test_a_number_of_up_to_six_decimals_keeps_all_its_digits(text: str) -> None:
    """More than the 28 that arithmetic on decimals is rounded to."""
    assert plain(Decimal(text)) == text


@pytest.mark.parametrize(
    ("number", "division", "text"),
    [
        ("12.34", "0.05", "12.35"), ("12.32", "0.05", "12.30"), ("12.3", "0.1", "12.3"),
        ("12", "0.10", "12.0"), ("13", "2", "12"), ("15", "2", "16"), ("13.1", "2", "14"),
        ("1234", "10", "1230"), ("1234.5", "1", "1234"), ("-0.06", "0.05", "-0.05"),
        ("7", "0.001", "7.000"),
    ],
)  # fmt: skip
def test_a_screen_shows_the_nearest_weight_of_the_scale(
    number: str, division: str, text: str
) -> None:
    assert shown(Decimal(number), Decimal(division)) == text
    assert shown(Fraction(number), Decimal(division)) == text


@pytest.mark.parametrize("text", ["", "4 %", "4,10", "1e3", "4" * 400])
def test_a_number_has_no_unit_and_a_point(text: str) -> None:
    assert number(" 4.10 ") == Decimal("4.1")
    with pytest.raises(UnitError, match="expected a number such as"):
        number(text)
