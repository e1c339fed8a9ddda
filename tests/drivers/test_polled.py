"""Scales that must be asked: as lists of what is sent, and what comes back when."""

import asyncio
import os
import pty
import tty
from collections.abc import AsyncIterator

import pytest

from drivers.grammar import Grammar, compile_grammar
from drivers.kinds.text import TextSource
from drivers.link import LinkState, PortSettings
from drivers.parser import Parser
from drivers.polled import Poller
from drivers.reading import Fault, Reading
from station.resources import packaged
from station.service.clock import Clock

ANSWER = b"S +  216.40  g G\r\n"
OTHER = b"S +  118.35  g G\r\n"


def asked() -> Grammar:
    path = packaged() / "scales" / "asked-by-letter.toml"
    return compile_grammar(path.read_text(encoding="utf-8"), path.name)


@pytest.fixture
def poller() -> Poller:
    grammar = asked()
    assert grammar.poll is not None
    parser = Parser(grammar)
    return Poller(grammar.poll, parser.feed, parser.reset)


def values(poller: Poller, data: bytes, time_s: float) -> list[str]:
    return [
        str(item.value) if isinstance(item, Reading) else "fault"
        for item in poller.take(data, time_s)
    ]


def test_an_answer_belongs_to_its_question(poller: Poller) -> None:
    assert poller.due(1.0) == b"W\r"
    assert poller.due(1.1) is None
    assert values(poller, ANSWER[:9], 1.1) == []
    assert values(poller, ANSWER[9:], 1.15) == ["216.40"]
    assert poller.due(1.16) is None  # its period is not over
    assert poller.due(1.2) == b"W\r"


def test_a_late_answer_is_never_taken_for_the_next_one(poller: Poller) -> None:
    """Question at 1.0, its answer at 1.6; the next question waits until the line has been still."""
    assert poller.due(1.0)
    assert poller.due(1.55) is None  # too late now: the line must be still for as long first
    assert values(poller, ANSWER, 1.6) == ["fault"]
    assert poller.due(2.5) is None
    assert poller.due(2.61) == b"W\r"
    assert values(poller, OTHER, 2.7) == ["118.35"]


def test_half_an_answer_that_came_in_time_is_not_finished_by_the_next(poller: Poller) -> None:
    assert poller.due(1.0)
    assert values(poller, ANSWER[:9], 1.1) == []
    assert poller.due(1.6) is None
    assert poller.due(2.7) == b"W\r"
    assert values(poller, OTHER, 2.8) == ["118.35"]


def test_the_tail_of_an_answer_is_not_the_head_of_the_next() -> None:
    text = "name = 'x'\nabout = 'x'\nend = \"\\n\"\nunit = 'g'\nregex = '(?P<value>[0-9.]+) g'\n"
    grammar = compile_grammar(text + "[poll]\nsend = 'W'\n", "x.toml")
    assert grammar.poll is not None
    parser = Parser(grammar)
    poller = Poller(grammar.poll, parser.feed, parser.reset)
    assert poller.due(0.0)
    assert values(poller, b"23.4 g\n1", 0.05) == ["23.4"]
    assert poller.due(0.2)
    assert values(poller, b"23.4 g\n", 0.25) == ["23.4"]


def test_a_scale_that_is_ever_later_is_waited_for_ever_longer(poller: Poller) -> None:
    """1.2 s late, timeout 0.5 s: after the second miss the line must be still for longer."""
    sent, accepted, time_s = [], [], 0.0
    while time_s < 12:
        if poller.due(time_s):
            sent.append(time_s)
        for asked_s in sent:
            if abs(time_s - asked_s - 1.2) < 0.005:
                accepted += [v for v in values(poller, ANSWER, time_s) if v != "fault"]
        time_s = round(time_s + 0.01, 2)
    assert accepted == []


def test_what_nobody_asked_for_is_a_fault(poller: Poller) -> None:
    assert values(poller, ANSWER, 0.5) == ["fault"]
    assert poller.due(1.1)
    assert values(poller, ANSWER + OTHER, 1.2) == ["216.40", "fault"]


class Scale:
    """The other end of a pty: answers by a table, or not at all."""

    def __init__(self, table: dict[bytes, bytes]) -> None:
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.name = os.ttyname(slave)
        self.table = table
        self.heard: list[bytes] = []
        os.set_blocking(self.master, False)
        asyncio.get_running_loop().add_reader(self.master, self._hear)

    def _hear(self) -> None:
        question = os.read(self.master, 100)
        self.heard.append(question)
        if question in self.table:
            os.write(self.master, self.table[question])


@pytest.fixture
async def scale() -> AsyncIterator[Scale]:
    found = Scale({b"W\r": ANSWER, b"Z\r": b"Z OK\r\n"})
    yield found
    asyncio.get_running_loop().remove_reader(found.master)
    os.close(found.master)


async def test_a_scale_on_a_port_is_asked_and_told(scale: Scale) -> None:
    items: list[Reading | Fault] = []
    states: list[LinkState] = []
    source = TextSource(
        asked(),
        PortSettings(scale.name, 9600, "8N1"),
        Clock(5),
        lambda found, time_s: items.extend(found),
        states.append,
    )
    task = asyncio.create_task(source.run())
    try:
        for _ in range(400):
            await asyncio.sleep(0.01)
            if len(items) >= 3:
                break
        assert [item.value for item in items[:3] if isinstance(item, Reading)] != []
        assert scale.heard[0] == b"W\r"
        assert await source.order("zero") is None
        assert b"Z\r" in scale.heard
        assert await source.order("clear-tare") == "it did not say that it did"
        assert await source.order("dance") is not None
        assert not any(b"T" in question for question in scale.heard)  # it is never tared
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
