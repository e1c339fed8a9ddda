"""Scales that send text or bytes, by themselves or when asked: a grammar describes them."""

import asyncio
import re

from drivers.grammar import Grammar, compile_grammar
from drivers.grammar_file import LineSettings, Order
from drivers.kinds import OnItems, OnMeasured, OnState
from drivers.link import Clock, Link, LinkState, PortSettings
from drivers.measured import MeasuringParser, as_plain, measured
from drivers.parser import Parser
from drivers.polled import Poller
from drivers.reading import Fault, Reading

LOOKS_S = 0.01
"""How often a scale that must be asked is looked after."""


class TextKind:
    """A grammar as a kind of scale."""

    def __init__(self, grammar: Grammar) -> None:
        self.grammar = grammar

    @property
    def name(self) -> str:
        return self.grammar.name

    @property
    def line(self) -> LineSettings:
        return self.grammar.line

    @property
    def measures(self) -> str:
        return self.grammar.measures

    @property
    def asked(self) -> bool:
        return self.grammar.poll is not None

    @property
    def orders(self) -> frozenset[str]:
        return frozenset(self.grammar.orders)

    def parser(self) -> Parser:
        return Parser(self.grammar)

    def source(
        self, port: PortSettings, clock: Clock, on_items: OnItems, on_state: OnState
    ) -> "TextSource":
        return TextSource(self.grammar, port, clock, on_items, on_state)


class TextInstrument:
    """A grammar as an instrument that is no scale."""

    def __init__(self, grammar: Grammar) -> None:
        self.grammar = grammar
        self.name, self.line, self.measures = grammar.name, grammar.line, grammar.measures
        self.asked = grammar.poll is not None

    def parser(self) -> MeasuringParser:
        return MeasuringParser(self.grammar)

    def source(
        self, port: PortSettings, clock: Clock, on_items: OnMeasured, on_state: OnState
    ) -> "TextSource":
        quantity = self.parser().quantity

        def take(items: list[Reading | Fault], time_s: float) -> None:
            on_items(list(measured(quantity, items)), time_s)

        return TextSource(as_plain(self.grammar), port, clock, take, on_state)


def compile_kind(text: str, filename: str) -> TextKind | TextInstrument:
    """Raises `GrammarError`."""
    grammar = compile_grammar(text, filename)
    return TextKind(grammar) if grammar.measures == "weight" else TextInstrument(grammar)


class TextSource:
    """A link and a parser; a poller between them where the scale must be asked."""

    def __init__(
        self,
        grammar: Grammar,
        port: PortSettings,
        clock: Clock,
        on_items: OnItems,
        on_state: OnState,
    ) -> None:
        self._grammar = grammar
        self._clock = clock
        self._on_items = on_items
        self._on_state = on_state
        self._parser = Parser(grammar)
        self._poller: Poller | None = None
        if grammar.poll is not None:
            self._poller = Poller(grammar.poll, self._parser.feed, self._parser.reset)
        self._ack: tuple[re.Pattern[bytes], asyncio.Future[bool]] | None = None
        self._heard = b""
        self._link = Link(port, clock, self._take, self._state)

    @property
    def rest(self) -> bytes:
        """Bytes that arrived and were no frame yet."""
        return self._parser.rest

    @property
    def hangs_s(self) -> float:
        return self._link.opening_s

    async def run(self) -> None:
        if self._poller is None:
            await self._link.run()
            return
        async with asyncio.TaskGroup() as group:
            group.create_task(self._link.run())
            group.create_task(self._ask(self._poller))

    async def _ask(self, poller: Poller) -> None:
        while True:
            question = poller.due(self._clock.monotonic())
            if question is not None:
                self._link.send(question)
            await self._clock.sleep(LOOKS_S)

    async def order(self, name: str) -> str | None:
        order = self._grammar.orders.get(name)
        if order is None:
            return f"{self._grammar.name} has no order {name}"
        if self._ack is not None:
            return "an order is under way"
        wait_s = order.timeout_ms / 1000
        if self._poller is not None:
            self._poller.pause(self._clock.monotonic(), wait_s)
        return await self._send_order(order, wait_s)

    async def _send_order(self, order: Order, wait_s: float) -> str | None:
        done: asyncio.Future[bool] = asyncio.get_running_loop().create_future()
        self._ack, self._heard = (re.compile(order.ack.encode("latin-1")), done), b""
        try:
            if not self._link.send(order.send.encode("latin-1")):
                return "its port is not open"
            await asyncio.wait_for(done, wait_s)
        except TimeoutError:
            return "it did not say that it did"
        finally:
            self._ack = None
            if self._poller is not None:
                self._poller.resume(self._clock.monotonic())
        return None

    def _take(self, data: bytes, time_s: float) -> None:
        if self._ack is not None:
            pattern, done = self._ack
            self._heard = (self._heard + data)[-256:]
            if pattern.search(self._heard) and not done.done():
                done.set_result(True)
        feed = self._poller.take if self._poller is not None else self._parser.feed
        items: list[Reading | Fault] = []
        for item in feed(data, time_s):
            items.append(item)
            if len(items) >= 256:  # a flood: hand it on before it is all in memory
                self._on_items(items, time_s)
                items = []
        if items:
            self._on_items(items, time_s)

    def _state(self, state: LinkState) -> None:
        self._parser.reset()
        if self._poller is not None:
            self._poller.reset()
        self._on_state(state)
