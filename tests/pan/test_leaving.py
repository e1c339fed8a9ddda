"""What was on the pan just before it fell: how much of it, for how long, how long ago."""

from decimal import Decimal

import pytest

from station.pan.leaving import more_than_held


def told(*grams: str, apart_s: float = 0.125, ago_s: float = 0.125) -> Decimal | None:
    """Readings before a fall at 10 s, the newest last, over 124 g held on a scale of 0.05 g."""
    newest_s = 10.0 - ago_s
    readings = [(newest_s - n * apart_s, Decimal(g)) for n, g in enumerate(reversed(grams))]
    return more_than_held(Decimal(124), readings, 10.0, Decimal("0.05"), filled=True)


@pytest.mark.parametrize(("apart_s", "poured"), [(0.25, False), (0.26, True)])
def test_a_grip_lasts_a_quarter_of_a_second(apart_s: float, poured: bool) -> None:
    assert (told("125", "125", apart_s=apart_s) is not None) is poured


@pytest.mark.parametrize(("ago_s", "counts"), [(1.0, True), (1.125, False)])
def test_the_last_moments_are_a_second_and_a_half(ago_s: float, counts: bool) -> None:
    """Two readings half a second apart: without the older one nothing lasted."""
    assert (told("125", "125", apart_s=0.5, ago_s=ago_s) is not None) is counts


def test_how_much_is_the_upper_quartile_of_what_was_above() -> None:
    assert told("125", "126", "127", "128") == 128
    assert told("125", "126", "127", "128", "129", "130", "140", "150") == 140
    assert told("60", "90", "125", "125", "125", "20") is None


def test_nothing_above_is_what_was_held() -> None:
    assert told() is None
    assert told("124.05", "124.05", "124.05", "124.05") is None
