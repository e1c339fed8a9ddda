"""The opponent: a cell that rings, an average, a stream that falls, a hand that needs its time."""

import math
import random
from itertools import pairwise
from statistics import mean, stdev

import pytest

from drivers.physics import REACTION_S, STEP_S, Hand, Plate, PlateKind, Stream


def chance(seed: int = 1) -> random.Random:
    return random.Random(seed)


@pytest.mark.parametrize(("f0", "damping"), [(8.0, 0.1), (20.0, 0.3)])
def test_a_cell_rings_as_a_damped_spring(f0: float, damping: float) -> None:
    """Textbook of the damped oscillator: period 1 / (f0 sqrt(1 - z^2)); each swing is smaller than
    the one before by exp(-2 pi z / sqrt(1 - z^2))."""
    plate = Plate(PlateKind(f0, damping, window_s=STEP_S), chance())
    seen = []
    for _ in range(round(1.5 / STEP_S)):
        plate.step(100.0)
        seen.append(plate.average_g - 100.0)
    ring = math.sqrt(1 - damping**2)
    tops = [n for n in range(1, len(seen) - 1) if seen[n - 1] < seen[n] > seen[n + 1]]
    if damping < 0.2:
        period = mean(b - a for a, b in pairwise(tops[:6])) * STEP_S
        assert period == pytest.approx(1 / (f0 * ring), rel=0.03)
        shrinks = seen[tops[1]] / seen[tops[0]]
        assert shrinks == pytest.approx(math.exp(-2 * math.pi * damping / ring), rel=0.1)
    assert abs(seen[-1]) < 0.1


def test_a_moving_average_answers_a_step_with_a_ramp_of_its_window() -> None:
    plate = Plate(PlateKind(200.0, 0.9, window_s=0.5), chance())
    shown = []
    for _ in range(round(0.6 / STEP_S)):
        plate.step(100.0)
        shown.append(plate.average_g)
    assert shown[round(0.25 / STEP_S) - 1] == pytest.approx(50.0, abs=2)
    assert shown[round(0.5 / STEP_S) + 2] == pytest.approx(100.0, abs=0.5)


def test_a_one_pole_filter_has_half_its_window_as_time_constant() -> None:
    plate = Plate(PlateKind(200.0, 0.9, 0.5, "one-pole"), chance())
    for _ in range(round(0.25 / STEP_S)):
        plate.step(100.0)
    assert plate.average_g == pytest.approx(100 * (1 - math.exp(-1)), abs=2)


@pytest.mark.parametrize("average", ["boxcar", "one-pole"])
def test_the_noise_of_the_average_is_what_was_asked_for(average: str) -> None:
    plate = Plate(PlateKind(12.0, 0.2, 0.1, average, noise_g=0.5), chance(3))  # type: ignore[arg-type]
    shown = []
    for n in range(60_000):
        plate.step(0.0)
        if n % 100 == 99:  # far enough apart to be independent
            shown.append(plate.average_g)
    assert stdev(shown) == pytest.approx(0.5, rel=0.1)


def test_a_steady_stream_presses_as_much_as_has_left_the_hand() -> None:
    """Momentum: what lands in a second, flow x g x fall time, presses as a weight of flow x fall
    time, which is what is in the air of a steady stream."""
    stream = Stream("stream", 0.25, chance(7))
    ahead = []
    for n in range(round(20 / STEP_S)):
        stream.step(10.0)
        if n > 1 / STEP_S:
            ahead.append(stream.presses_g - stream.left_g)
            assert stream.landed_g < stream.left_g
    assert mean(ahead) == pytest.approx(0.0, abs=0.1)  # of 2.3 g in the air


@pytest.mark.parametrize("manner", ["stream", "taps", "clumps"])
def test_every_manner_keeps_its_mean_flow_and_nothing_is_lost(manner: str) -> None:
    stream = Stream(manner, 0.1, chance(11))  # type: ignore[arg-type]
    for _ in range(round(200 / STEP_S)):
        stream.step(5.0)
    assert stream.left_g / 200 == pytest.approx(5.0, rel=0.1)
    for _ in range(round(1 / STEP_S)):
        stream.step(0.0)
    assert stream.landed_g == pytest.approx(stream.left_g)


def test_a_hand_obeys_after_its_reaction_and_hears_each_word_once() -> None:
    hand = Hand(8.0, chance(5))
    hand.hear("slower", 1.0)
    hand.hear("slower", 1.2)
    slow = hand.reaction_s["slower"]
    assert REACTION_S[0] <= slow <= REACTION_S[1]
    assert hand.flow_g_s(1.0 + slow - 0.01) == 8.0
    assert 1.6 <= hand.flow_g_s(1.0 + slow + 0.01) <= 2.4
    hand.hear("stop", 3.0)
    assert hand.flow_g_s(3.0 + hand.reaction_s["stop"] + 0.01) == 0.0


def test_a_fork_goes_on_as_the_original_would() -> None:
    stream, plate = Stream("taps", 0.1, chance(2)), Plate(PlateKind(noise_g=0.3), chance(4))

    def on(stream: Stream, plate: Plate) -> float:
        for _ in range(500):
            stream.step(3.0)
            plate.step(stream.presses_g)
        return plate.average_g

    on(stream, plate)
    forks = stream.fork(), plate.fork()
    assert on(*forks) == on(stream, plate)
