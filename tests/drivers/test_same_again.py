"""A frame like the last one is not read again: only its time is new."""

import pytest

from drivers.grammar import compile_grammar
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from station.resources import Config

FINE, MORE = b"\n 0G      231.20g  \r", b"\n 0G      231.25g  \r"


def read(*frames: bytes) -> list[Reading | Fault]:
    parser = Parser(compile_grammar(*Config().read("scales/sma-scp-0499.toml")))
    return [item for n, frame in enumerate(frames) for item in parser.feed(frame, float(n))]


def test_the_same_bytes_are_the_same_reading_at_another_time() -> None:
    alone = [item for n, frame in enumerate((FINE, MORE)) for item in read(*[b""] * n, frame)]
    first, same, more, again = read(FINE, FINE, MORE, FINE)
    assert first == alone[0]
    assert isinstance(same, Reading) and isinstance(again, Reading)
    assert (same.value, same.raw, same.time_s) == (alone[0].value, FINE, 1.0)  # type: ignore[union-attr]
    assert (more.value, more.time_s) == (alone[1].value, 2.0)  # type: ignore[union-attr]
    assert (again.value, again.time_s) == (alone[0].value, 3.0)  # type: ignore[union-attr]


@pytest.mark.parametrize("wrong", [b"\n 0G      23x.20g  \r", b"\n 0G      231.2\r"])
def test_what_is_no_frame_is_a_fault_each_time(wrong: bytes) -> None:
    items = read(FINE, wrong, wrong, FINE)
    assert [type(item) for item in items] == [Reading, Fault, Fault, Reading]
    assert [item.time_s for item in items] == [0.0, 1.0, 2.0, 3.0]


def test_half_a_frame_before_it_is_not_forgotten() -> None:
    first, torn, again = read(FINE, b"\n 0G   ", FINE)
    assert isinstance(first, Reading) and isinstance(again, Reading)
    assert isinstance(torn, Fault) and torn.raw == b"\n 0G   "


def test_bytes_with_other_parity_are_not_the_frame_that_they_were() -> None:
    grammar = compile_grammar(*Config().read("scales/parity-left-on.toml"))
    assert grammar.parity is not None
    parser = Parser(grammar)
    plain = b"S   1.250kg\r"
    frame = bytes(byte | (0x80 if byte.bit_count() % 2 == 0 else 0) for byte in plain)
    (good,) = parser.feed(frame, 0.0)
    assert isinstance(good, Reading) and good.raw != frame
    assert [type(item) for item in parser.feed(frame, 1.0)] == [Reading]
    assert all(isinstance(item, Fault) for item in parser.feed(good.raw, 2.0))


def test_a_frame_that_only_the_next_one_ends_is_waited_for() -> None:
    grammar = compile_grammar(*Config().read("scales/start-only.toml"))
    frame = b"=0118.35"
    parser = Parser(grammar)
    counts = [len(list(parser.feed(frame, float(n)))) for n in range(4)]
    assert counts == [0, 1, 1, 1]
    parser.reset()
    assert list(parser.feed(frame, 5.0)) == []
