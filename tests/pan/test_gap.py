"""What nobody saw while readings were missing: what goes on by itself, what a person is asked."""

from dataclasses import replace
from decimal import Decimal

import pytest

from station.pan.gap import GapWatch
from station.pan.view import Task
from tests.benchside import FINE
from tests.panside import CURE

PEPPER = replace(CURE, line="pepper", guarded=False)
BEFORE = Decimal("124.00")


def silent(task: Task | None = CURE, grams: str | None = "124.00") -> GapWatch:
    """Readings went missing while so much stood on the pan."""
    watch = GapWatch(FINE)
    watch.begin(task, None if grams is None else Decimal(grams))
    return watch


def asked(watch: GapWatch, grams: str, task: Task | None = CURE) -> str | None:
    """The question about a weight that stands on the pan."""
    trouble = watch.trouble(task, Decimal(grams))
    return None if trouble is None else trouble.asks


@pytest.mark.parametrize(
    ("grams", "question"),
    [("124.15", None), ("124.20", "gone"), ("123.85", None), ("123.80", "gone")],
)
def test_within_three_divisions_of_the_last_weight_the_weighing_goes_on(
    grams: str, question: str | None
) -> None:
    watch = silent()
    watch.settled(Decimal(grams))
    assert asked(watch, grams) == question
    assert (watch.moving() is not None) is (question is not None)


def test_a_weight_that_was_another_in_between_is_asked_about_when_it_is_back() -> None:
    """Something may have been taken out and something else put in."""
    watch = silent()
    watch.settled(Decimal("90.00"))
    watch.settled(BEFORE)
    assert asked(watch, "124.00") == "away"


@pytest.mark.parametrize(
    ("grams", "question"),
    [("124.15", "away"), ("124.20", "gone"), ("123.85", "away"), ("123.80", "gone")],
)
def test_a_regulated_line_can_be_accepted_only_once_its_weight_is_back(
    grams: str, question: str
) -> None:
    watch = silent()
    watch.settled(Decimal("90.00"))
    assert asked(watch, grams) == question
    assert asked(watch, grams, PEPPER) == asked(watch, grams, None) == "away"


@pytest.mark.parametrize(
    ("task", "grams"),
    [
        (None, "124.00"),
        (replace(CURE, tare_g=None), "124.00"),
        (CURE, None),
        (CURE, "0.15"),
        (CURE, "0.00"),
    ],
)
def test_where_nothing_was_being_weighed_nothing_is_remembered(
    task: Task | None, grams: str | None
) -> None:
    """Before the vessel is tared, or within 3 d of an empty pan."""
    watch = silent(task, grams)
    watch.settled(Decimal("90.00"))
    assert watch.moving() is None and asked(watch, "90.00") is None


def test_more_than_three_divisions_on_the_pan_are_remembered() -> None:
    assert silent(CURE, "0.20").moving() is not None


def test_a_second_silence_does_not_forget_the_weight_before_the_first() -> None:
    watch = silent()
    watch.begin(CURE, Decimal("90.00"))
    watch.settled(Decimal("90.00"))
    assert asked(watch, "90.00") == "gone" and asked(watch, "124.00") == "away"


def test_a_new_start_of_the_station_is_asked_about_in_any_case() -> None:
    watch = GapWatch(FINE)
    watch.resume(True, BEFORE)
    assert asked(watch, "90.00") == "gone"
    watch.settled(BEFORE)
    assert watch.moving() is None and asked(watch, "124.00") == "away"
    unknown = GapWatch(FINE)
    unknown.resume(True, None)
    assert asked(unknown, "124.00") == "away"


def test_a_new_start_without_a_weighing_asks_nothing() -> None:
    watch = GapWatch(FINE)
    watch.resume(False, BEFORE)
    assert watch.moving() is None and asked(watch, "90.00") is None


def test_an_answer_ends_the_question_and_leaves_nothing_for_the_next_silence() -> None:
    watch = silent()
    watch.resume(True, BEFORE)
    watch.settled(Decimal("90.00"))
    watch.explain()
    assert watch.moving() is None and asked(watch, "124.00") is None
    watch.begin(CURE, BEFORE)
    watch.settled(BEFORE)
    assert asked(watch, "124.00") is None


def test_what_stood_before_and_what_stands_now_are_both_told() -> None:
    watch = silent()
    moving, still = watch.moving(), watch.trouble(CURE, Decimal("90.00"))
    assert moving is not None and moving.sentence == "fine: 124.00 g before it fell silent"
    assert still is not None
    assert still.sentence == "fine: 124.00 g before it fell silent, 90.00 g now"
