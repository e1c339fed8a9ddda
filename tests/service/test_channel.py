"""From bytes to the desk: late chunks are no gaps, lost frames are."""

from drivers.grammar import compile_grammar
from drivers.parser import Parser
from drivers.reading import Reading
from station.resources import Config
from station.service.channel import Channel
from station.service.clock import Clock
from station.service.metrics import Counts
from station.settings import load_settings

FRAME = b"\n 0G  " + b"    216.40" + b"g  \r"


class Desk:
    """Takes down what a channel hands over."""

    def __init__(self) -> None:
        self.times: list[float] = []
        self.said: list[str] = []
        self.counts = Counts()

    def reading(self, scale: str, reading: Reading) -> None:
        self.times.append(round(reading.time_s, 3))

    def link(self, scale: str, up: bool, reason: str, next_step: str) -> None: ...

    def babble(self, scale: str, sample: str) -> None:
        self.said.append(sample)


def channel() -> tuple[Channel, Desk]:
    desk = Desk()
    settings = load_settings(Config()).scales[0]
    return Channel(settings, Clock(), desk), desk  # type: ignore[arg-type]


def heard(found: Channel, data: bytes, time_s: float) -> None:
    """Whole frames arrive at the channel's port."""
    parser = Parser(compile_grammar(*Config().read("scales/sma-scp-0499.toml")))
    found.take(list(parser.feed(data, time_s)), time_s)


def test_frames_that_arrive_together_were_sent_one_after_the_other() -> None:
    found, desk = channel()
    for step in range(10):
        heard(found, FRAME, 10 + step / 10)
    heard(found, FRAME * 15, 12.4)  # the machine was busy for a second and a half
    gaps = [round(b - a, 2) for a, b in zip(desk.times, desk.times[1:], strict=False)]
    assert len(desk.times) == 25
    assert max(gaps) <= 0.11


def test_frames_that_never_came_leave_a_gap() -> None:
    found, desk = channel()
    for step in range(10):
        heard(found, FRAME, 10 + step / 10)
    heard(found, FRAME * 2, 14.0)
    assert desk.times[-2] - desk.times[-3] > 2.5


def test_foreign_bytes_are_told_with_a_sample() -> None:
    found, desk = channel()
    heard(found, b"\x9c\x12\x80\r" * 5, 1.0)
    assert len(desk.said) == 1
    assert "9c 12 80" in desk.said[0]
