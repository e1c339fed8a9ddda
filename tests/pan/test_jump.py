"""Something set down is told from a pour: how much, within how long, and where it is watched."""

from dataclasses import replace
from decimal import Decimal

import pytest

from station.pan.view import Task
from tests.panside import CURE, Side

SALT = replace(CURE, line="salt", jump_g=Decimal(60))


def seated(task: Task = SALT) -> Side:
    side = Side(task)
    side.stands("0.00")
    side.stands("110.00")
    return side


@pytest.mark.parametrize(("grams", "jump"), [("170.00", False), ("170.05", True)])
def test_a_rise_of_more_than_the_tasks_is_a_jump(grams: str, jump: bool) -> None:
    seen = seated().moves(grams)
    assert (seen.jump is not None) is jump
    assert seen.jump is None or seen.jump.before_g == Decimal("110.00")


@pytest.mark.parametrize(("grams", "jump"), [("110.60", False), ("110.65", True)])
def test_a_dozen_divisions_are_never_a_jump(grams: str, jump: bool) -> None:
    seen = seated(replace(SALT, jump_g=Decimal("0.10"))).moves(grams)
    assert (seen.jump is not None) is jump


@pytest.mark.parametrize(("between", "jump"), [(5, True), (6, False)])
def test_the_rise_is_counted_within_six_tenths_of_a_second(between: int, jump: bool) -> None:
    side = seated()
    side.moves(*["140.00"] * between)
    assert (side.moves("170.05").jump is not None) is jump


@pytest.mark.parametrize("task", [None, replace(SALT, jump_g=None), replace(SALT, tare_g=None)])
def test_where_no_jump_is_watched_none_is_told(task: Task | None) -> None:
    side = Side(task)
    side.stands("0.00")
    side.stands("110.00")
    assert side.moves("300.00").jump is None


def test_the_vessel_itself_is_no_jump_nor_when_it_comes_back() -> None:
    side = Side(SALT)
    side.stands("0.00")
    assert side.moves("110.00").jump is None
    side.stands("110.00")
    side.moves("20.00")
    side.stands("0.00")
    assert side.moves("180.00", "190.00").jump is None


def test_less_than_the_vessel_is_not_seated() -> None:
    side = Side(SALT)
    side.stands("0.00")
    side.stands("99.80")
    assert side.moves("170.00").jump is None
    side = Side(SALT)
    side.stands("0.00")
    side.stands("99.85")
    assert side.moves("170.00").jump is not None


def test_a_task_that_comes_while_the_weight_stands_is_watched_at_once() -> None:
    side = Side()
    side.stands("0.00")
    side.stands("110.00", 30)
    side.watch.task(SALT)
    side.stands("110.00", 1)
    assert side.moves("175.00").jump is not None


@pytest.mark.parametrize(
    ("grams", "over"), [("110.15", True), ("110.20", False), ("99.85", True), ("99.80", False)]
)
def test_a_jump_is_over_when_it_is_taken_off_again(grams: str, over: bool) -> None:
    side = seated()
    side.moves("175.00")
    side.moves(grams)
    assert side.watch.view().jump is not None  # it must settle
    assert (side.stands(grams).jump is None) is over


def test_a_jump_explained_wants_a_new_settling_and_counts_from_there() -> None:
    side = seated()
    side.stands("175.00")
    side.watch.explain_jump()
    seen = side.watch.view()
    assert seen.jump is None and seen.settled is None
    assert side.stands("175.00", 5).settled is None
    assert side.stands("175.00", 5).settled is not None
    assert side.watch.view().jump is None
    assert side.moves("240.00").jump is not None


def test_a_jump_explained_at_once_is_not_seen_again_in_the_readings_before_it() -> None:
    side = seated()
    side.moves("175.00")
    side.watch.explain_jump()
    assert side.moves("175.00").jump is None


def test_another_weighing_forgets_a_jump() -> None:
    side = seated()
    side.moves("175.00")
    side.watch.task(replace(SALT, line="garlic"))
    assert side.watch.view().jump is None
