"""Labels scanned from bags: GS1 element strings, as scanners type them."""

from datetime import date

import pytest

from station.gs1 import NotGs1, looks_like, read_label

TODAY = date(2026, 11, 30)
CHANGED = "a part of the label is missing or changed"


@pytest.mark.parametrize(
    ("text", "lot", "expires"),
    [
        ("]C1010950600013435217270630" + "10P-41", "P-41", date(2027, 6, 30)),
        ("]d20109506000134352\x1d10P-41\x1d17270600", "P-41", date(2027, 6, 30)),
        ("10P-41\x1d17270630", "P-41", date(2027, 6, 30)),
        ("(01)09506000134352(17)270630(10)P-41", "P-41", date(2027, 6, 30)),
        ("(10)P-41", "P-41", None),
        ("]C13102001250" + "10P-41", "P-41", None),  # a weight of fixed length before the lot
        ("]C110L1\x1d2112345\x1d17280229", "L1", date(2028, 2, 29)),
        ("01095060001343521720010110OLD-2", "OLD-2", date(2020, 1, 1)),  # a scanner without prefix
        ("1720010110OLD-1", "OLD-1", date(2020, 1, 1)),
        ("\x1d1720010110OLD-1", "OLD-1", date(2020, 1, 1)),
        ("]C110P-41\x1d70032001011200", "P-41", date(2020, 1, 1)),
        ("(10)A(21)B", "A", None),
        ("]C110P-17260030", "P-17260030", None),  # ends like a date, and there is no such day
        ("]C110P-17261301", "P-17261301", None),
        ("]C110P-17260132", "P-17260132", None),
        ("112601011725063010P-41", "P-41", date(2025, 6, 30)),
        ("1525063010P-41", "P-41", date(2025, 6, 30)),  # best before counts as expiry
        ("]c11725063010P-41", "P-41", date(2025, 6, 30)),
    ],
)
def test_lot_and_expiry_are_read(text: str, lot: str, expires: date | None) -> None:
    """GTIN of the specifications' own examples; the rest invented."""
    assert looks_like(text)
    label = read_label(text, TODAY)
    assert (label.lot, label.expires) == (lot, expires)


def test_the_code_of_the_product_is_read_where_the_label_has_one() -> None:
    assert read_label("(01)09506000134352(10)P-41", TODAY).gtin == "09506000134352"
    assert read_label("(10)P-41", TODAY).gtin is None


@pytest.mark.parametrize(
    ("now", "digits", "year"),
    [
        (2026, "76", 2076),
        (2026, "77", 1977),
        (2026, "26", 2026),
        (2026, "99", 1999),
        (2060, "11", 2011),
        (2060, "10", 2110),
    ],
)
def test_a_year_of_two_digits_is_the_nearest(now: int, digits: str, year: int) -> None:
    """GS1 General Specifications, 7.12: 49 years back to 50 ahead (from memory)."""
    assert read_label(f"(10)A(17){digits}0101", date(now, 6, 1)).expires == date(year, 1, 1)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("]C117270630", "no lot"),
        ("(10)A(17)270631", "no date"),
        ("(10)A(17)270030", "no date"),
        ("(10)A(17)271330", CHANGED),
        ("]C11727063", CHANGED),
        ("(10)A(17)27063", CHANGED),
        ("(10)A(17)2706301", CHANGED),
        ("(10)A(11)260132", CHANGED),  # another date that cannot be: digits are lost before it
        ("(10)A(3102)12345", CHANGED),
        ("]C10109506000A3435210P-41", CHANGED),
        ("]C110P-41\x1d7003209121200", CHANGED),  # one lost: another day
        ("10756/90\x1d41078289645941717260628", CHANGED),  # one lost: (17) would be no (17)
        ("(10)A(7003)20010112000", CHANGED),
        ("]C1hello", CHANGED),
        ("(10A", CHANGED),
        ("(10)A(x", CHANGED),
        ("(10)P 41", CHANGED),
        ("(10)" + "x" * 21, CHANGED),
        ("]C110" + "x" * 21, CHANGED),
        ("]C110" + "x" * 20 + "17270630", "separator is missing"),
        ("]C110P-4117200101", "separator is missing"),
        ("]C110P-41^]17200101", "in place of the separator"),
        ("10P-41|17250630", "in place of the separator"),
        ("10P-41<GS>21X", "in place of the separator"),
        ("10P-41\x1d2", CHANGED),
        ("1326010121X1", "no lot"),
        ("17250630 10P-41", CHANGED),
        ("17250630", "no lot"),
        ("010950600013435299", CHANGED),
        ("00" + "095060001343523414" + "x", CHANGED),
        ("0209506000134353172706303712", "no lot"),
        ("11260101" + "17", CHANGED),
        ("10P-4117250630", "separator is missing"),
        ("(10)A(17)270630(17)300630", "twice and differs"),
        ("(10)A(17)\u00b2\u00b20101", "the scanner changed it"),
        ("(10)A(17)\u0662\u06670101", "the scanner changed it"),
    ],
)
def test_what_is_no_label_says_where(text: str, says: str) -> None:
    assert looks_like(text)
    with pytest.raises(NotGs1, match=says):
        read_label(text, TODAY)


@pytest.mark.parametrize(
    "text",
    [
        "P-41",
        "L2291",
        "1012345",
        "10 kg bag",
        "01095060001343531",
        "15260101",
        "1126130110A",
        "1017250630",
    ],
)
def test_a_lot_typed_by_hand_is_none(text: str) -> None:
    assert not looks_like(text)
