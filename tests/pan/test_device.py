"""Another device under the scale's name, told from noise and from chance."""

from decimal import Decimal

import pytest

from station.metrology.scale import Scale
from tests.benchside import BENCH, FINE
from tests.panside import Side, reading

POUNDS = Scale("lb", Decimal("4535.9237"), Decimal("4.5359237"), "III", "lb", "continuous")
KILOS = Scale("kg", Decimal(15000), Decimal(2), "III", "kg", "continuous")


def reasons(side: Side) -> list[str]:
    return [trouble.reason for trouble in side.watch.view().troubles]


@pytest.mark.parametrize(
    ("grams", "sentence"),
    [
        ("12.34", "fine: it shows 12.34 g, but its division is 0.05 g"),  # off its grid
        ("12.345", "fine: it shows 12.345 g, but its division is 0.05 g"),  # in high resolution
        ("12.5", "fine: it shows 12.5 g, but its division is 0.05 g"),  # too few decimals
        ("612.00", "fine: it shows 612.00 g, but its Max is 600 g"),
    ],
)
def test_what_the_scale_cannot_show_blocks_with_its_cause(grams: str, sentence: str) -> None:
    side = Side()
    (trouble,) = side.stands(grams, 5).troubles
    assert (trouble.reason, trouble.sentence) == ("device", sentence)
    assert trouble.next == "attach the right scale, or mend station.toml"
    assert side.watch.view().gross_g is None


@pytest.mark.parametrize(("grams", "blocked"), [("600.45", False), ("600.50", True)])
def test_a_scale_may_show_nine_divisions_over_max(grams: str, blocked: bool) -> None:
    side = Side()
    side.stands(grams)
    assert ("device" in reasons(side)) is blocked


@pytest.mark.parametrize(
    ("scale", "value", "blocked"),
    [
        (BENCH, "1202", False), (BENCH, "1202.0", False), (BENCH, "1201", True),
        (KILOS, "1.202", False), (KILOS, "1.201", True), (KILOS, "1.20", True),
        (POUNDS, "3.21", False), (POUNDS, "3.215", True), (POUNDS, "3.2", True),
        (FINE, "-0.05", False),
    ],
)  # fmt: skip
def test_division_and_decimals_are_judged_in_the_unit_that_is_sent(
    scale: Scale, value: str, blocked: bool
) -> None:
    side = Side(scale=scale)
    for step in range(10):
        side.watch.observe(reading(value, step / 10, unit=scale.unit))
    assert ("device" in reasons(side)) is blocked


def test_a_division_written_with_a_zero_too_many_wants_no_more_decimals() -> None:
    side = Side(scale=Scale("fine", Decimal(600), Decimal("0.050"), "II", "g", "continuous"))
    side.stands("12.30", 10)
    assert reasons(side) == []


def test_a_scale_in_tens_of_grams_sends_no_decimals() -> None:
    side = Side(scale=Scale("big", Decimal(60000), Decimal(10), "III", "g", "continuous"))
    side.stands("1230", 10)
    assert reasons(side) == []


def test_five_readings_of_the_last_twenty_are_no_noise_and_four_are() -> None:
    side = Side()
    side.stands("12.30")
    for _ in range(10):
        side.one("92.31", True)
        side.stands("12.30", 4)  # never more than four of twenty
        assert reasons(side) == []
    side.stands("12.30", 20)
    for _ in range(4):
        side.one("92.31", True)
        side.stands("12.30", 3)
    assert reasons(side) == []
    side.one("92.31", True)
    assert reasons(side) == ["device"]


def test_noise_long_ago_is_forgotten_on_a_pan_that_nobody_touches() -> None:
    side = Side()
    for _ in range(10):
        side.one("92.31", True)
        side.stands("0.00", 100)
    assert reasons(side) == []


def test_a_garbled_frame_is_no_weight_and_unsettles() -> None:
    side = Side()
    side.stands("12.30")
    seen = side.one("92.31", True)
    assert (seen.gross_g, seen.settled, seen.troubles) == (Decimal("12.30"), None, ())
    assert side.stands("12.30", 5).settled is None
    assert side.stands("12.30", 1).settled is not None


def test_one_garbled_frame_of_a_scale_that_sends_only_on_stable_decides_nothing() -> None:
    scale = Scale("s", Decimal(600), Decimal("0.05"), "II", "g", "stable")
    side = Side(scale=scale)
    side.stands("12.30", 1)
    assert side.one("12.34", True).settled is None


def test_a_high_resolution_that_lies_on_the_grid_now_and_then_is_no_chance() -> None:
    side = Side()
    for step in range(40):
        side.one(f"{Decimal(10000 + 7 * step).scaleb(-3)}", False)
    assert reasons(side) == ["device"]


def test_the_right_scale_is_believed_again_after_a_few_seconds_and_has_a_gap() -> None:
    side = Side()
    side.stands("12.34", 20)
    assert side.stands("12.30", 15).gross_g is None
    assert side.stands("12.30", 1).gross_g == Decimal("12.30")
    assert reasons(side) == []


def test_while_it_cannot_be_believed_the_first_cause_stays_shown() -> None:
    side = Side()
    side.stands("12.34", 5)
    told = side.watch.view().troubles
    side.moves("13.37", "13.41")
    assert side.watch.view().troubles == told


def ramp(side: Side, *grams: str) -> None:
    """Moving through values, between two weights that stand."""
    side.stands("0.00")
    side.moves(*grams)
    side.stands("300.00")


def test_a_weight_that_moves_by_much_more_than_a_division_is_another_device() -> None:
    """2 g on a scale of 0.05 g, 40 divisions: six values by chance are one in 4 000 million."""
    side = Side()
    ramp(side, "2.00", "14.00", "36.00", "58.00", "74.00")
    assert reasons(side) == []
    side.moves("94.00", "120.00")
    (trouble,) = side.watch.view().troubles
    assert trouble.sentence == "fine: it moves by 2 g, but its division is 0.05 g"


def test_twice_the_division_takes_thirty_values_to_tell() -> None:
    side = Side()
    side.stands("0.00")
    side.moves(*[f"{2 + step / 10:.2f}" for step in range(30)])
    assert reasons(side) == []
    side.moves("5.00")
    assert reasons(side) == ["device"]


def test_one_value_between_says_that_the_scale_is_right() -> None:
    side = Side()
    ramp(side, "2.00", "14.05")
    ramp(side, *[f"{2 * step}.00" for step in range(1, 60)])
    assert reasons(side) == []


def test_a_value_between_clears_a_scale_that_was_blocked() -> None:
    side = Side()
    ramp(side, "2.00", "14.00", "36.00", "58.00", "74.00", "94.00")
    assert reasons(side) == ["device"]
    side.moves("120.05", "130.00")
    assert reasons(side) == []


def test_the_same_few_values_prove_nothing_however_often() -> None:
    side = Side()
    for _ in range(20):
        ramp(side, "20.00", "-20.00", "120.00", "-120.00")
    assert reasons(side) == []


def test_weights_that_stand_are_chosen_and_prove_nothing() -> None:
    """Check weights of whole tens, set down and lifted, on a scale that shows nothing between."""
    side = Side()
    for grams in range(10, 300, 10):
        side.stands(f"{grams}.00")
        side.stands("0.00")
    assert reasons(side) == []


def test_zero_lies_on_every_grid_and_proves_nothing() -> None:
    side = Side()
    ramp(side, "2.00", "0.00", "14.00", "0.00", "36.00", "0.00", "58.00", "0.00", "74.00")
    assert reasons(side) == []


@pytest.mark.parametrize("how", ["cable", "silence"])
def test_after_a_gap_the_device_is_proved_anew_but_blame_stays(how: str) -> None:
    def gap(side: Side) -> None:
        if how == "cable":
            side.watch.link(False, "out", "plug in")
            side.watch.link(True)
        else:
            side.silent(5)

    coarse = ("2.00", "14.00", "36.00", "58.00", "74.00", "94.00")
    side = Side()
    ramp(side, "14.05")
    gap(side)
    ramp(side, *coarse)
    assert reasons(side) == ["device"]
    gap(side)
    side.stands("300.00")
    assert reasons(side) == ["device"]


def test_what_was_shown_before_a_gap_did_not_move_through_it() -> None:
    side = Side()
    side.stands("0.00")
    side.moves("74.00")
    side.silent(5)
    ramp(side, "94.00", "120.00", "136.00", "158.00", "172.00")
    assert reasons(side) == []


def test_the_first_value_of_all_did_not_come_from_another() -> None:
    side = Side()
    side.moves("2.00", "14.00", "36.00", "58.00", "74.00", "94.00", "120.00")
    assert reasons(side) == []
    side.moves("136.00")
    assert reasons(side) == ["device"]


def test_a_finer_grid_that_many_values_keep_to_is_still_too_coarse() -> None:
    side = Side()
    ramp(side, *[f"{2 * step}.00" for step in range(1, 40)])
    side.moves("50.10", "60.00")
    (trouble,) = side.watch.view().troubles
    assert trouble.sentence == "fine: it moves by 0.1 g, but its division is 0.05 g"
