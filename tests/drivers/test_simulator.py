"""The simulated scale behaves like one."""

import os
import termios
from pathlib import Path

from drivers.grammar import compile_grammar
from drivers.parser import Parser
from drivers.reading import Condition, Kind, Reading
from drivers.simulator import STEP_S, BenchScale, PtyScale, ScaleKind
from station.resources import packaged
from station.service.clock import Clock

FINE = ScaleKind(max_g=600, division_g=0.05, decimals=2)


def settle(scale: BenchScale, seconds: float = 2.0) -> Reading:
    for _ in range(round(seconds / STEP_S)):
        scale.step()
    return read(scale.frame())


def read(frame: bytes) -> Reading:
    text = (packaged() / "scales" / "sma-scp-0499.toml").read_text(encoding="utf-8")
    (item,) = Parser(compile_grammar(text, "sma")).feed(frame, 0.0)
    assert isinstance(item, Reading)
    return item


def test_the_same_seed_and_hands_give_the_same_run() -> None:
    runs = []
    for _ in range(2):
        scale = BenchScale(FINE, seed=3)
        scale.set_down("cup", 98.45)
        scale.pour("cup", 20, 4.0)
        frames = []
        for _ in range(400):
            scale.step()
            frames.append(scale.frame())
        runs.append(frames)
    assert runs[0] == runs[1]
    assert len(set(runs[0])) > 50


def test_a_load_settles_on_the_grid_within_a_division_and_lags_while_poured() -> None:
    scale = BenchScale(FINE, seed=1)
    scale.set_down("cup", 98.45)
    settled = settle(scale)
    assert settled.stable and settled.value is not None
    assert abs(float(settled.value) - 98.45) <= FINE.division_g
    scale.pour("cup", 100, 20.0)
    pouring = settle(scale, 1.0)
    assert pouring.stable is False and pouring.value is not None
    assert 2 < 98.45 + 20 - float(pouring.value) < 8  # half the window of 0.5 s behind


def test_a_pinch_on_an_empty_tracked_pan_is_swallowed_and_in_a_cup_is_not() -> None:
    """Zero tracking may follow 0.5 d/s near zero: OIML R 76-1."""
    empty, cup = BenchScale(FINE, seed=2), BenchScale(FINE, seed=2)
    empty.set_down("pinch", 0.0)
    cup.set_down("pinch", 50.0)
    settle(empty), settle(cup)
    for scale in (empty, cup):
        scale.pour("pinch", 0.2, 0.01)
    assert settle(empty, 22).value == 0
    assert abs(float(settle(cup, 22).value or 0) - 50.2) <= FINE.division_g


def test_overload_underload_tare_and_zero_are_said() -> None:
    scale = BenchScale(FINE, seed=1)
    scale.set_down("pig", 700)
    assert settle(scale).condition is Condition.OVERLOAD
    scale.lift("pig")
    scale.set_down("cup", 100)
    settle(scale)
    scale.press_tare()
    assert (scale.frame()[3:4], read(scale.frame()).kind) == (b"N", Kind.NET)
    scale.clear_tare()
    scale.press_zero()
    scale.lift("cup")
    assert settle(scale).condition is Condition.UNDERLOAD


def test_a_port_at_another_speed_gets_no_frame(tmp_path: Path) -> None:
    scale = PtyScale(BenchScale(FINE, seed=1), tmp_path / "port", Clock())
    scale.plug()
    port = os.open(scale.link, os.O_RDWR | os.O_NOCTTY)
    try:
        scale.send(scale.scale.frame())
        assert read(os.read(port, 100)).condition is Condition.OK
        attributes = termios.tcgetattr(port)
        attributes[4] = attributes[5] = termios.B2400
        termios.tcsetattr(port, termios.TCSANOW, attributes)
        scale.send(scale.scale.frame())
        assert all(byte >= 0x80 for byte in os.read(port, 100))
    finally:
        os.close(port)
        scale.unplug()
