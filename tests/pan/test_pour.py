"""The pour watch: the past undone, the word in time, nothing said without need."""

import random

import pytest

from drivers.physics import STEP_S, Hand, Plate, PlateKind, Stream
from station.pan.pour import Advice, PourWatch, bearable_flow_g_s


def ramp(window_s: float, interval_s: float, flow: float, seconds: float = 20.0) -> list[Advice]:
    """What is advised while a steady flow is seen through an exact moving average."""
    watch = PourWatch(1e6, 1e6, 0.01, window_s, interval_s)
    told, now = [], 0.0
    while now < seconds:
        poured = flow * max(now - 1.0, 0.0)
        late = min(max(now - 1.0, 0.0), window_s)
        shown = poured - flow * late + flow * late**2 / (2 * window_s)
        told.append(watch.advise(now, round(shown, 2)))
        now += interval_s
    return told


@pytest.mark.parametrize("interval_s", [0.05, 0.1, 0.3, 0.5])
@pytest.mark.parametrize("window_s", [0.2, 0.5, 1.0])
def test_the_lag_of_the_average_is_undone(window_s: float, interval_s: float) -> None:
    """10 g/s: the true mass is half a window ahead of what is shown."""
    last = ramp(window_s, interval_s, 10.0)[-1]
    ended = (len(ramp(window_s, interval_s, 10.0)) - 1) * interval_s
    assert last.flow_g_s == pytest.approx(10.0, rel=0.02)
    assert last.mass_g == pytest.approx(10.0 * (ended - 1.0), abs=0.3)
    assert last.final_g == pytest.approx(last.mass_g + 0.35 * last.flow_g_s)


def poured(seed: int, flow: float, window_s: float = 0.5, taken_s: float = 0.5) -> float:
    """Salt, 400 g +/-2 % on d = 1 g, by a hand that obeys; `taken_s` is what the watch believes."""
    chance = random.Random(seed)
    hand, stream = Hand(flow, chance), Stream("clumps", 0.1, random.Random(seed))
    kind = PlateKind(12.0, 0.2, window_s, noise_g=0.35)
    start = 400 - 12 * flow
    plate = Plate(kind, random.Random(seed + 1), start)
    watch = PourWatch(408, 400, 1, taken_s, 0.1)
    for step in range(round(120 / STEP_S)):
        now = step * STEP_S
        stream.step(hand.flow_g_s(now) if now > 1 else 0.0)
        plate.step(start + stream.presses_g)
        if step % round(0.1 / STEP_S) == 0:
            hand.hear(watch.advise(now, round(plate.average_g)).word, now)
    return start + stream.left_g


def test_a_pour_that_obeys_ends_in_the_band() -> None:
    ends = [poured(seed, flow) for seed, flow in enumerate((5, 8, 12, 16, 20, 25, 30, 30))]
    assert all(392 <= end <= 408 for end in ends), ends


def test_a_window_taken_too_long_only_costs_some_of_the_band() -> None:
    ends = [poured(seed, 15, window_s=0.3, taken_s=1.0) for seed in range(6)]
    assert all(388 <= end <= 408 for end in ends), ends


def test_at_rest_nothing_is_said_whatever_the_noise() -> None:
    chance = random.Random(1)
    watch = PourWatch(408, 400, 1, 0.5, 0.1)
    told = [watch.advise(n / 10, round(200 + chance.gauss(0, 0.6))) for n in range(2000)]
    assert {advice.word for advice in told} == {"pour"}
    assert told[-1].flow_g_s < 0.5


def test_a_pour_that_slows_down_by_itself_is_not_stopped() -> None:
    watch, mass, said = PourWatch(408, 400, 1, 0.5, 0.1), 0.0, set()
    shown = [0.0] * 5
    for n in range(1500):
        mass += 0.1 * min(15.0, max(400 - mass, 0.0) / 4)
        shown = [*shown[1:], mass]
        said.add(watch.advise(n / 10, round(sum(shown) / 5)).word)
    assert "stop" not in said
    assert 399 < mass < 400


def test_a_flow_that_the_band_bears_needs_no_slower() -> None:
    """0.15 g/s of premix: 25 g +/-2 % on d = 0.1 g."""
    watch = PourWatch(25.5, 25.0, 0.1, 0.5, 0.1)
    said = {watch.advise(n / 10, round(0.015 * max(n - 10, 0), 1)).word for n in range(1720)}
    assert said == {"pour", "stop"}


def test_the_bearable_flow_is_the_published_one() -> None:
    """Our own trials: flow x (1.27 + 0.24 W + 0.62 Ts) + d/2 for one cue."""
    flow = bearable_flow_g_s(16.0, 1.0, 0.5, 0.1)
    assert flow * (1.27 + 0.24 * 0.5 + 0.62 * 0.1) + 0.5 == pytest.approx(16.0)


def test_stop_is_over_once_it_was_obeyed() -> None:
    watch = PourWatch(408, 400, 1, 0.5, 0.1)
    told = [watch.advise(n / 10, min(round(2.0 * n), 402)).word for n in range(260)]
    first = told.index("stop")
    assert first < 201 and "slower" in told[:first]
    assert told[-1] != "stop"


def test_memory_is_constant_and_old_readings_are_refused() -> None:
    watch = PourWatch(408, 400, 1, 1.0, 0.02)
    for n in range(300):
        watch.advise(n / 50, n / 10)
    nodes = watch._filter.size
    for n in range(300, 3000):
        last = watch.advise(n / 50, n / 10)
    assert watch._filter.size <= nodes + 1 < 30
    assert watch.advise(1.0, 999.0) == last
    anew = watch.advise(100.0, 50.0)  # after a gap it begins again
    assert (anew.mass_g, anew.flow_g_s, anew.word) == (50.0, 0.0, "pour")


def test_a_flow_that_is_not_yet_known_is_not_shouted_about() -> None:
    """A watch that begins in the middle of a pour says nothing before its window was seen."""
    watch = PourWatch(408, 400, 1, 0.5, 0.1)
    told = [watch.advise(n / 10, 100 + 3.0 * n) for n in range(40)]
    assert {advice.word for advice in told[:5]} == {"pour"}
    assert all(advice.word != "stop" for advice in told)


@pytest.mark.parametrize("halt_s", [1.0, 3.0])
def test_a_hand_that_halts_is_seen_to_halt(halt_s: float) -> None:
    watch, mass = PourWatch(408, 400, 1, 0.5, 0.1), 0.0
    shown, last = [0.0] * 5, None
    for n in range(round((12 + halt_s) * 10)):
        mass += 2.0 if 20 < n <= 120 else 0.0
        shown = [*shown[1:], mass]
        last = watch.advise(n / 10, round(sum(shown) / 5))
    assert last is not None and last.final_g < mass + (8 if halt_s < 2 else 2)


def test_a_hand_that_begins_is_seen_to_begin() -> None:
    watch, mass = PourWatch(408, 400, 1, 0.5, 0.1), 0.0
    shown = [0.0] * 5
    for n in range(320):
        mass += 1.5 if n >= 300 else 0.0
        shown = [*shown[1:], mass]
        last = watch.advise(n / 10, round(sum(shown) / 5))
    assert last.flow_g_s == pytest.approx(15.0, rel=0.3)


@pytest.mark.parametrize("begins_s", [3.0, 3.2, 3.4, 3.6, 3.8])
def test_a_scale_that_prints_once_a_second_is_stopped_in_time(begins_s: float) -> None:
    """12 g/s: nothing can be said between two readings, and the hand needs 0.4 s."""
    watch = PourWatch(408, 400, 1, 0.1, 1.0, two_cues=False)
    told = (
        now
        for now in range(60)
        if watch.advise(now, round(max(now - begins_s, 0) * 12.0)).word == "stop"
    )
    assert 370 < (next(told) - begins_s + 0.4) * 12.0 <= 408


def test_what_is_no_number_is_refused() -> None:
    watch = PourWatch(408, 400, 1, 0.5, 0.1)
    with pytest.raises(ValueError, match="no reading"):
        watch.advise(0.0, float("nan"))
    with pytest.raises(ValueError, match="division"):
        PourWatch(408, 400, 0, 0.5, 0.1)


def test_a_narrow_band_is_not_stopped_below_its_aim_by_a_grain() -> None:
    watch = PourWatch(5.075, 5.0, 0.05, 0.5, 0.1)
    words = [
        watch.advise(n / 10, round(0.002 * max(n - 20, 0) * 20) / 20).word for n in range(2480)
    ]
    assert "stop" not in words
