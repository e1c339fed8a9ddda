"""The key of a cure is good for what was settled when it was pressed, and for nothing else."""

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.panside import CURE, STABLE_ONLY, Side


def keyed(grams: str = "124.00") -> Side:
    side = Side(CURE).filled(grams)
    side.watch.key()
    assert side.watch.view().keyed
    return side


def test_a_key_goes_with_the_lift_and_is_spent_by_it() -> None:
    side = keyed()
    lift = side.lift("60.00")
    assert lift is not None and lift.keyed
    assert not side.watch.view().keyed


def test_a_key_on_an_empty_pan_is_none() -> None:
    side = Side(CURE)
    side.stands("0.00")
    side.watch.key()
    assert not side.watch.view().keyed


@pytest.mark.parametrize(("grams", "valid"), [("124.05", True), ("124.10", False)])
def test_one_reading_of_more_than_a_division_above_voids_the_key(grams: str, valid: bool) -> None:
    side = keyed()
    assert side.moves(grams).keyed is valid
    lift = side.lift("60.00")
    assert lift is not None and lift.keyed is valid


def test_grains_after_the_key_are_not_forgiven_when_the_weight_comes_down_again() -> None:
    side = keyed()
    side.moves("125.00")
    assert not side.stands("124.00").keyed


@pytest.mark.parametrize("grams", ["123.90", "124.10"])
def test_a_settled_weight_more_than_a_division_off_voids_the_key(grams: str) -> None:
    side = keyed()
    assert not side.stands(grams).keyed


@pytest.mark.parametrize(("grams", "valid"), [("123.95", True), ("123.90", False)])
def test_a_scale_that_shows_nothing_between_voids_the_key_by_what_it_shows_next(
    grams: str, valid: bool
) -> None:
    side = Side(CURE, STABLE_ONLY)
    for standing in ("0.00", "100.00", "124.00"):
        side.stands(standing, 1)
    side.watch.key()
    assert side.stands(grams, 1).keyed is valid


def test_a_division_at_a_time_is_counted_from_the_key() -> None:
    side = keyed("123.90")
    assert side.stands("123.95").keyed
    assert not side.stands("124.00").keyed


@pytest.mark.parametrize(("grams", "off"), [("123.40", "123.35"), ("124.30", "124.35")])
def test_a_weight_that_creeps_out_of_the_limits_voids_the_key(grams: str, off: str) -> None:
    assert keyed(grams).stands(grams).keyed
    assert not keyed(grams).stands(off).keyed


def test_limits_are_those_of_the_sum_with_what_was_accepted_before() -> None:
    side = keyed()
    side.watch.task(replace(CURE, accept=(Decimal("23.80"), Decimal("24.00"))))
    assert side.stands("124.00", 3).keyed
    side.watch.task(replace(CURE, accept=(Decimal("23.80"), Decimal("23.95"))))
    assert not side.stands("124.00", 3).keyed
    side = Side(replace(CURE, base_g=Decimal(10), accept=(Decimal(34), Decimal(35)))).filled()
    side.watch.key()
    assert side.stands("124.00", 3).keyed


@pytest.mark.parametrize(("readings", "valid"), [(10, True), (11, False)])
def test_a_second_of_motion_voids_the_key(readings: int, valid: bool) -> None:
    side = keyed()
    assert side.moves(*["124.00"] * readings).keyed is valid


@pytest.mark.parametrize(("readings", "valid"), [(3, True), (4, False)])
@pytest.mark.parametrize("grams", ["123.50", "110.00"])
def test_a_weight_that_lingers_below_is_something_taken_out(
    grams: str, readings: int, valid: bool
) -> None:
    side = keyed()
    assert side.moves(*[grams] * readings).keyed is valid


def test_a_fall_that_stops_halfway_is_something_taken_out() -> None:
    side = keyed()
    side.moves("118.00", "112.00", "110.00", "110.00", "110.00", "110.00")
    assert side.watch.view().keyed
    assert not side.moves("110.00").keyed


def test_a_touch_of_the_cup_that_lets_go_again_leaves_the_key() -> None:
    side = keyed()
    side.moves("123.50", "123.50", "123.95", "123.50", "123.50")
    assert side.stands("124.00").keyed


@pytest.mark.parametrize(("by", "valid"), [("0.80", False), ("0.85", True)])
def test_a_lift_takes_off_a_fiftieth_in_a_quarter_of_a_second(by: str, valid: bool) -> None:
    """124 g: 2.48 g in the three readings after the first below; 0.80 g each are 2.40 g."""
    side, gross = keyed(), Decimal("124.00")
    for _ in range(8):
        gross -= Decimal(by)
        side.moves(str(gross))
    assert side.watch.view().keyed is valid


def test_a_slow_filter_still_lets_go_of_the_key_only_with_the_lift() -> None:
    """A one-pole filter of 1 s (a window of 2 s): the last half of its fall is slow."""
    side, gross = keyed(), Decimal("124.00")
    for _ in range(80):
        gross = (gross * Decimal("0.905") / Decimal("0.05")).quantize(Decimal(1)) * Decimal("0.05")
        side.moves(str(gross))
    assert side.watch.view().keyed
