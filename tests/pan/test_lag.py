"""How late a scale is, told by what is set down and lifted."""

import random
from decimal import Decimal

import pytest

from drivers.physics import STEP_S, Average, Plate, PlateKind
from station.batch import events as ev
from station.pan.lag import StepWatch, WeightStep, refined, told_by
from station.weighing import commands as do
from tests.benchside import Bench


def steps(window_s: float, average: Average, hz: float, grams: float = 50.0) -> list[WeightStep]:
    """A weight set down and lifted three times on a scale of d = 0.05 g."""
    chance = random.Random(7)
    plate = Plate(PlateKind(14.0, 0.2, window_s, average, noise_g=0.01), chance)
    watch, every = StepWatch(0.05), round(1 / hz / STEP_S)
    for n in range(round(48 / STEP_S)):
        now = n * STEP_S
        plate.step(grams if now % 8 > 4.013 else 0.0)
        if n % every == 0:
            watch.take(now, round(plate.average_g / 0.05) * 0.05)
    return list(watch.steps)


@pytest.mark.parametrize("hz", [10, 20])
@pytest.mark.parametrize("window_s", [0.5, 0.7, 1.0])
@pytest.mark.parametrize("average", ["boxcar", "one-pole"])
def test_a_window_is_told_to_a_few_milliseconds(
    average: Average, window_s: float, hz: float
) -> None:
    told = told_by(steps(window_s, average, hz))
    assert told is not None and told.shape == average
    assert told.window_s == pytest.approx(window_s, abs=0.01)
    assert told.steps >= 5


def test_what_cannot_be_told_says_why() -> None:
    seldom = steps(0.2, "boxcar", 5)
    assert told_by(seldom) is None
    assert {step.why for step in seldom} == {"the scale prints too seldom to tell its window"}
    light = steps(0.5, "boxcar", 20, grams=1.5)
    assert told_by(light) is None and light
    assert all("too light" in step.why for step in light)


def test_a_pour_is_no_step() -> None:
    watch = StepWatch(0.05)
    for n in range(200):  # a cup, then a quick pour, then rest
        watch.take(n / 10, 0.0 if n < 20 else 80.0 if n < 60 else min(80 + (n - 60) * 2.0, 120.0))
    assert [round(step.grams) for step in watch.steps] == [80]


def step(window_s: float) -> WeightStep:
    return WeightStep(0.0, 50.0, "boxcar", window_s)


def test_ordinary_work_tells_by_its_shortest_steps() -> None:
    """A hand that sets down slowly only makes a ramp longer."""
    assert refined(None, [step(0.5)] * 7) is None  # too few
    hands = [step(w) for w in (0.9, 0.51, 0.8, 0.7, 0.55, 0.6, 0.9, 1.2)]
    told = refined(1.0, hands)
    assert told is not None and told.window_s == 0.6
    assert refined(0.58, hands) is None
    assert refined(1.0, hands, may_shorten=False) is None  # a person measured it
    assert refined(0.3, hands, may_shorten=False) is not None  # too short is dangerous


def test_one_step_alone_never_shortens_what_is_known() -> None:
    assert refined(0.5, [*([step(0.5)] * 7), step(0.12)]) is None


def test_a_hand_that_presses_tells_nothing() -> None:
    """200 g, and 60 % more for a quarter of a second, as the scale shows it."""
    plate, watch = Plate(PlateKind(14.0, 0.2, 0.5), random.Random(1)), StepWatch(0.05)
    for n in range(round(9 / STEP_S)):
        now = n * STEP_S
        pressing = 120.0 if 4 < now < 4.25 else 0.0
        plate.step(200.0 + pressing if now > 4 else 0.0)
        if n % 10 == 0:
            watch.take(now, round(plate.average_g / 0.05) * 0.05)
    (pressed,) = watch.steps
    assert pressed.window_s is None and "pressed" in pressed.why


def test_the_newest_steps_count_where_the_filter_was_changed() -> None:
    told = told_by([step(0.5)] * 4 + [step(1.5)] * 3)
    assert told is not None and (told.window_s, told.steps) == (1.5, 3)
    assert told_by([step(0.5), step(0.5), step(1.5)]) is None  # they disagree


def weight(bench: Bench, window: int = 5) -> None:
    """One weight set down and lifted on the fine scale, which averages five readings."""
    for ends in (100.0, 0.0):
        begins = 100.0 - ends
        for n in range(1, window):
            bench.move("fine", f"{begins + (ends - begins) * n / window:.2f}")
        bench.show("fine", str(Decimal(ends).quantize(Decimal("0.01"))))


def test_a_measured_lag_is_kept_and_used() -> None:
    bench = Bench()
    assert bench.refused(do.RecordLag("fine")).code == "no-steps"
    weight(bench)
    refused = bench.refused(do.RecordLag("fine"))
    assert "2 clear steps" in refused.sentence
    weight(bench)
    answer = bench.say(do.RecordLag("fine"))
    assert "boxcar" in answer
    event = bench.last(ev.LagMeasured)
    assert isinstance(event, ev.LagMeasured) and not event.in_use
    assert float(event.window_s) == pytest.approx(0.5, abs=0.01)
    assert bench.pans()["fine"].window_s == float(event.window_s)
    assert bench.refused(do.RecordLag("fine")).code == "no-steps"  # those steps are told
    assert bench.refused(do.RecordLag("attic")).code == "unknown-scale"


def test_ordinary_work_refines_it_unasked() -> None:
    bench = Bench()
    for _ in range(4):
        weight(bench)
    event = bench.last(ev.LagMeasured)
    assert isinstance(event, ev.LagMeasured) and event.in_use
    assert bench.station.lags["fine"].window_s == pytest.approx(0.5, abs=0.01)
