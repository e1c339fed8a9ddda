"""The state machine of what stands on the pan: what is held, what falls, which lift is told."""

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.panside import CURE, STABLE_ONLY, Side


def test_a_lift_tells_what_was_last_settled() -> None:
    lift = Side(CURE).filled("124.00").lift("60.00", "20.00")
    assert lift is not None and lift.at_once and lift.last_g is None
    assert (lift.held.gross_g, lift.stayed_g) == (Decimal("124.00"), 0)


def test_an_empty_pan_that_settles_again_tells_no_lift() -> None:
    side = Side(CURE)
    side.stands("0.00")
    side.moves("0.40")
    assert side.stands("0.05").lift is None


def test_a_lift_is_told_once() -> None:
    side = Side(CURE).filled()
    assert side.lift() is not None
    side.watch.lift_handled()
    assert side.stands("0.00").lift is None


@pytest.mark.parametrize(("unsettled", "believed"), [(10, True), (11, False)])
def test_a_lift_counts_if_the_pan_was_unsettled_for_at_most_a_second_before_the_fall(
    unsettled: int, believed: bool
) -> None:
    side = Side(CURE).filled("124.00")
    side.moves(*["124.00"] * unsettled)
    lift = side.lift()
    assert lift is not None and lift.at_once is believed


def test_what_dips_and_comes_up_again_was_not_lifted_then() -> None:
    """A second in all, half of it below: it counts from the last time it was up."""
    side = Side(CURE).filled("124.00")
    side.moves(*["110.00"] * 6)
    assert side.watch.view().falling
    side.moves(*["124.00"] * 6)
    assert not side.watch.view().falling
    lift = side.lift()
    assert lift is not None and not lift.at_once


@pytest.mark.parametrize(("grams", "falling"), [("121.55", False), ("121.50", True)])
def test_a_fall_is_a_fiftieth_of_the_weight(grams: str, falling: bool) -> None:
    side = Side(CURE).filled("124.00")
    assert side.moves(grams).falling is falling


@pytest.mark.parametrize(("grams", "falling"), [("4.85", False), ("4.80", True)])
def test_a_fall_of_a_light_thing_is_three_divisions(grams: str, falling: bool) -> None:
    side = Side(CURE)
    side.stands("0.00")
    side.stands("5.00")
    assert side.moves(grams).falling is falling


def test_the_weight_on_its_way_down_is_still_held_until_it_is_gone() -> None:
    side = Side(CURE).filled("124.00")
    held = side.watch.view().held
    assert side.moves("60.00").held is held is not None
    assert side.moves("0.20").held is held
    assert side.moves("0.15").held is None


def test_what_stays_on_the_pan_is_told_from_the_empty_reading_before() -> None:
    side = Side(CURE)
    side.stands("0.05")
    side.stands("124.00")
    side.moves("20.00")
    lift = side.stands("0.15").lift
    assert lift is not None and lift.stayed_g == Decimal("0.10")


def test_a_pan_lower_than_before_keeps_nothing() -> None:
    side = Side(CURE)
    side.stands("0.05")
    side.stands("124.00")
    side.moves("20.00")
    lift = side.stands("-0.05").lift
    assert lift is not None and lift.stayed_g == 0


@pytest.mark.parametrize(("grams", "believed"), [("0.15", True), ("0.20", False)])
def test_the_pan_is_empty_within_three_divisions(grams: str, believed: bool) -> None:
    side = Side(CURE).filled("124.00")
    side.moves("20.00")
    lift = side.stands(grams).lift
    assert lift is not None and lift.at_once is believed


@pytest.mark.parametrize(
    ("grams", "believed"), [("-0.15", True), ("-0.20", False), ("-3.00", False)]
)
def test_a_pan_that_settles_under_zero_ends_belief_in_what_was_held(
    grams: str, believed: bool
) -> None:
    """The zero moved under the load: what was held is not what was lifted."""
    side = Side(CURE).filled("124.00")
    side.watch.key()
    side.moves("20.00")
    lift = side.stands(grams).lift
    assert lift is not None and lift.at_once is believed and lift.keyed is believed


def test_no_lift_follows_from_zeroing_the_pan_after_that() -> None:
    side = Side(CURE).filled("124.00")
    side.moves("20.00")
    side.stands("-3.00")
    assert side.watch.view().troubles[0].reason == "zeroed"
    side.watch.lift_handled()
    zeroed = side.stands("0.00")
    assert zeroed.lift is None and not zeroed.troubles and zeroed.held is None


def test_what_is_put_back_before_the_pan_settled_was_gone_all_the_same() -> None:
    side = Side(CURE).filled("124.00")
    side.watch.key()
    side.moves("0.10", "124.00")
    back = side.stands("124.00")
    assert back.lift is not None and not back.lift.at_once
    assert not back.keyed and back.placed_g == Decimal("124.00")


def test_something_taken_out_is_no_lift_and_the_rest_is_held() -> None:
    side = Side(CURE).filled("130.00")
    side.watch.key()
    side.moves("126.00")
    out = side.stands("124.00")
    assert out.lift is None and not out.falling and not out.keyed
    assert out.held is not None and out.held.gross_g == Decimal("124.00")
    assert out.placed_g == Decimal("100.00")


def test_on_a_scale_that_sends_only_on_stable_the_first_lower_weight_is_held() -> None:
    side = Side(CURE, STABLE_ONLY)
    for grams in ("0.00", "100.00", "130.00", "124.00"):
        side.stands(grams, 1)
        side.silent(10)
    lift = side.stands("0.00", 1).lift
    assert lift is not None and lift.at_once and lift.held.gross_g == Decimal("124.00")


@pytest.mark.parametrize(("grams", "lifted"), [("99.85", False), ("99.80", True)])
def test_less_than_the_empty_vessel_is_another_thing(grams: str, lifted: bool) -> None:
    side = Side(CURE).filled("124.00")
    side.moves("110.00")
    seen = side.stands(grams)
    assert (seen.lift is not None) is lifted
    assert seen.placed_g == Decimal(grams if lifted else "100.00")
    assert seen.lift is None or not seen.lift.at_once


def test_a_thing_that_is_lighter_than_the_vessel_is_told_once_when_it_comes() -> None:
    """98.00 g is lower by a fiftieth of 100.00 g, 97.95 g by more."""
    side = Side(CURE)
    side.stands("0.00")
    side.stands("100.00")
    side.moves("99.00")
    assert side.stands("98.00").lift is None
    side.stands("100.00")
    side.moves("99.00")
    assert side.stands("97.95").lift is not None
    side.watch.lift_handled()
    assert side.stands("97.95").lift is None


def test_what_was_on_the_pan_before_one_lift_is_not_told_of_the_next() -> None:
    side = Side(CURE).filled("124.00")
    lift = side.lift(*["126.00"] * 6)
    assert lift is not None and lift.last_g == Decimal("126.00")
    assert side.watch.view().placed_g is None
    side.watch.lift_handled()
    side.stands("124.00")
    side.moves("60.00")
    other = side.stands("60.00").lift
    assert other is not None and other.last_g is None


def test_a_pan_that_swings_long_after_the_fall_still_tells_what_was_on_it() -> None:
    side = Side(CURE).filled("124.00")
    lift = side.lift(*["126.00"] * 6, "20.00", *["0.05", "0.00"] * 10)
    assert lift is not None and lift.last_g == Decimal("126.00")


def test_a_jump_that_nobody_explained_goes_with_the_lift() -> None:
    side = Side(CURE).filled("110.00")
    side.moves("124.00")
    assert side.stands("124.00").jump is not None
    lift = side.lift()
    assert lift is not None and lift.jumped


def test_readings_missing_leave_nothing_held() -> None:
    side = Side(CURE).filled("124.00")
    side.watch.key()
    side.silent(2)
    back = side.moves("124.00")
    assert back.held is None and not back.keyed
    assert side.stands("0.00").lift is None


def test_another_weighing_forgets_the_lift_and_the_key_of_the_last() -> None:
    side = Side(CURE).filled("124.00")
    side.watch.key()
    assert side.lift() is not None
    side.watch.task(replace(CURE, line="salt"))
    assert side.watch.view().lift is None
    side.stands("100.00")
    side.watch.key()
    side.watch.task(replace(CURE, line="premix"))
    assert not side.watch.view().keyed


def test_limits_that_move_forget_nothing() -> None:
    side = Side(CURE).filled("124.00")
    assert side.lift() is not None
    side.watch.task(replace(CURE, accept=(Decimal(23), Decimal(25))))
    assert side.watch.view().lift is not None


def test_what_a_person_named_is_no_longer_known_by_where_it_was_placed() -> None:
    side = Side(CURE).filled("124.00")
    side.watch.explain_vessel()
    assert side.watch.view().placed_g is None
    lift = side.lift()
    assert lift is not None and lift.placed_g is None


# the last moments before the fall


@pytest.mark.parametrize(("readings", "told"), [(3, False), (4, True)])
def test_grains_that_were_never_settled_count_and_a_hand_that_grips_does_not(
    readings: int, told: bool
) -> None:
    side = Side(CURE).filled("124.00")
    lift = side.lift(*["124.10"] * readings, "60.00")
    assert lift is not None
    assert (lift.last_g == Decimal("124.10")) is told and (lift.last_g is None) is not told


def test_one_division_more_is_what_was_held() -> None:
    lift = Side(CURE).filled("124.00").lift(*["124.05"] * 6)
    assert lift is not None and lift.last_g is None


@pytest.mark.parametrize(("grams", "told"), [("100.75", False), ("100.80", True)])
def test_an_empty_cup_may_be_handled_by_a_dozen_divisions(grams: str, told: bool) -> None:
    """It settled at 100.15, three divisions above its tare: nothing is in it."""
    side = Side(CURE)
    side.stands("0.00")
    side.stands("100.15")
    lift = side.lift(*[grams] * 8)
    assert lift is not None and (lift.last_g is not None) is told


def test_a_vessel_with_more_than_three_divisions_in_it_is_filled() -> None:
    side = Side(CURE)
    side.stands("0.00")
    side.stands("100.20")
    lift = side.lift(*["100.30"] * 8)
    assert lift is not None and lift.last_g == Decimal("100.30")


def test_more_that_was_taken_out_again_and_settled_does_not_count() -> None:
    side = Side(CURE).filled("126.00")
    side.moves("125.00")
    side.stands("124.00", 6)
    lift = side.lift("60.00")
    assert lift is not None and lift.last_g is None


def test_how_much_more_is_not_told_by_the_fall_nor_by_a_last_push() -> None:
    side = Side(CURE).filled("124.00")
    lift = side.lift(*["128.00"] * 12, "150.00", "150.00", "126.00")
    assert lift is not None and lift.last_g == Decimal("128.00")


def test_what_was_on_it_longer_ago_than_the_last_moments_does_not_count() -> None:
    side = Side(CURE).filled("124.00")
    lift = side.lift(*["128.00"] * 8, *["124.00"] * 15)
    assert lift is not None and lift.last_g is None
