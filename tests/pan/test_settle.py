"""When a weight is settled: how still, how long, how often seen."""

from decimal import Decimal

import pytest

from station.pan.settle import Settling
from tests.benchside import FINE
from tests.panside import STABLE_ONLY, Side, reading


@pytest.mark.parametrize(("stable", "readings"), [(True, 6), (None, 11)])
def test_a_dwell_is_half_a_second_and_twice_that_where_the_scale_does_not_tell(
    stable: bool | None, readings: int
) -> None:
    side = Side(stable=stable)
    assert side.stands("10.00", readings - 1).settled is None
    assert side.stands("10.00", 1).settled is not None


def test_within_one_division_is_still_and_two_are_not() -> None:
    side = Side()
    side.stands("10.00", 5)
    assert side.stands("10.05", 1).settled is not None
    assert side.stands("10.10", 1).settled is None


def test_two_divisions_between_two_readings_never_settle() -> None:
    side = Side()
    for _ in range(10):
        side.stands("10.00", 1)
        assert side.stands("10.10", 1).settled is None


def test_two_readings_are_too_few_however_far_apart() -> None:
    side = Side()
    for step in range(4):
        side.watch.observe(reading("10.00", step * 0.5))
        assert side.watch.view().settled is None


def test_three_readings_settle_and_when_they_come_more_seldom_nothing_is() -> None:
    side = Side()
    for step in range(8):
        side.watch.observe(reading("10.00", step * 0.25))
        assert (side.watch.view().settled is not None) == (step >= 2)
    side.watch.observe(reading("10.00", 1.75 + 0.26))
    assert side.watch.view().settled is None


def test_motion_begins_the_dwell_anew() -> None:
    side = Side()
    side.stands("10.00")
    assert side.moves("10.00").settled is None
    assert side.stands("10.00", 5).settled is None
    assert side.stands("10.00", 1).settled is not None


def test_one_reading_of_a_scale_that_sends_only_on_stable_serves_five_seconds() -> None:
    side = Side(scale=STABLE_ONLY)
    assert side.stands("10.00", 1).settled is not None
    assert side.silent(5.0).settled is not None
    assert side.silent(0.1).settled is None
    assert not side.watch.view().troubles


def test_what_serves_is_counted_from_the_last_reading_not_from_the_first_of_its_weight() -> None:
    side = Side(scale=STABLE_ONLY)
    for _ in range(4):
        side.stands("10.00", 1)
        assert side.silent(3.0).settled is not None


def test_a_settled_weight_keeps_the_frame_of_the_first_reading_that_was() -> None:
    side = Side()
    settled = side.stands("10.00", 6).settled
    assert settled is not None and settled.time_s == 0.6
    assert bytes.fromhex(settled.raw) == b"10.00"
    assert side.stands("10.00", 50).settled is settled
    after = side.stands("10.05", 1).settled
    assert after is not None and bytes.fromhex(after.raw) == b"10.05"


@pytest.mark.parametrize("then", ["10.05", "9.95"])
def test_what_is_settled_is_the_weight_that_stands_now_whether_it_rose_or_fell(then: str) -> None:
    """A division more or less unsettles nothing, and is the weight from then on."""
    side = Side()
    side.stands("10.00")
    settled = side.stands(then, 1).settled
    assert settled is not None and settled.gross_g == Decimal(then)


def test_a_reading_that_comes_again_is_the_last_one_and_not_the_one_before() -> None:
    settling = Settling(FINE)
    settling.take(reading("10.00", 1.0), Decimal("10.00"))
    settling.take(reading("10.05", 1.1), Decimal("10.05"))
    settling.again(1.2)
    assert settling.since(1.1) == [(1.2, Decimal("10.05")), (1.1, Decimal("10.05"))]
