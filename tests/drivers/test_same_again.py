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
