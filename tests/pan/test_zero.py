"""Where the zero of a pan is: a little off is wandered, far under it a load was zeroed away."""

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.panside import CURE, Side


def reason(side: Side, grams: str) -> str | None:
    troubles = side.stands(grams).troubles
    return troubles[0].reason if troubles else None


@pytest.mark.parametrize(
    ("grams", "expected"),
    [
        ("0.15", None), ("0.20", "zero"), ("0.60", "zero"), ("0.65", None),
        ("-0.15", None), ("-0.20", "zero"), ("-0.60", "zero"), ("-0.65", "zeroed"),
    ],
)  # fmt: skip
def test_three_divisions_off_are_wandered_and_more_than_a_dozen_under_zeroed(
    grams: str, expected: str | None
) -> None:
    assert reason(Side(), grams) == expected


@pytest.mark.parametrize(
    ("grams", "expected"),
    [("0.35", "zero"), ("0.40", None), ("-0.35", "zero"), ("-0.40", "zeroed")],
)
def test_where_a_vessel_weighs_less_than_that_its_weight_counts(
    grams: str, expected: str | None
) -> None:
    assert reason(Side(replace(CURE, empty_below_g=Decimal("0.35"))), grams) == expected


def test_a_lightest_vessel_under_three_divisions_blocks_no_empty_pan() -> None:
    assert reason(Side(replace(CURE, empty_below_g=Decimal("0.10"))), "-0.15") is None


def test_what_was_zeroed_away_is_told_by_its_weight_until_it_is_handled() -> None:
    side = Side()
    side.stands("-124.00")
    assert side.watch.view().short_g == Decimal("124.00")
    side.watch.undershot_handled()
    seen = side.stands("-124.05")
    assert seen.short_g is None and seen.troubles[0].reason == "zeroed"


def test_a_vessel_set_down_on_a_false_zero_does_not_make_it_true() -> None:
    side = Side()
    side.stands("-124.00")
    seen = side.stands("50.00")
    assert seen.troubles[0].reason == "zeroed" and seen.short_g == Decimal("124.00")
    assert side.stands("0.20").short_g == Decimal("124.00")
    seen = side.stands("0.15")
    assert not seen.troubles and seen.short_g is None
