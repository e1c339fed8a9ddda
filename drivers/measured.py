"""What an instrument says that is no scale: a temperature or a pH. Pure.

A type of its own, that has no gross and no grams: what wants a weight takes a `Reading` and no
other, so that a temperature is never taken for one.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Literal

import msgspec

from drivers.grammar import Grammar
from drivers.parser import Parser
from drivers.reading import Condition, Fault, Reading

Quantity = Literal["temperature", "pH"]


class Measured(msgspec.Struct, frozen=True):
    """One understood frame of an instrument.

    `value` is the number exactly as sent, None unless `condition` is ok; in `unit`, which is degC
    or degF for a temperature, and None for a pH, which has none. `stable`, `time_s`, `raw` and
    `word` are as in a `Reading`.
    """

    quantity: Quantity
    value: Decimal | None
    unit: str | None
    stable: bool | None
    condition: Condition
    time_s: float
    raw: bytes
    word: str = ""

    def __post_init__(self) -> None:
        if (self.value is None) == (self.condition is Condition.OK):
            raise ValueError(f"a value goes with condition ok and no other: {self!r}")


TEMPERATURE_WORDS = {
    "degC": "degC", "C": "degC", "\u00b0C": "degC", "degF": "degF", "F": "degF", "\u00b0F": "degF",
}  # fmt: skip
"""What an instrument may send for its unit, and which that is."""


class MeasuringParser:
    """Turns the bytes of an instrument into what it measured, and faults."""

    def __init__(self, grammar: Grammar) -> None:
        self.quantity: Quantity = _quantity(grammar)
        self._parser = Parser(as_plain(grammar))

    @property
    def rest(self) -> bytes:
        """Bytes that nothing was told of yet."""
        return self._parser.rest

    def feed(self, data: bytes, time_s: float) -> Iterator[Measured | Fault]:
        """Yield what `data`, arrived at `time_s`, completes. Must be consumed to the end."""
        return measured(self.quantity, self._parser.feed(data, time_s))


def as_plain(grammar: Grammar) -> Grammar:
    """The same frames for the parser alone; what it makes of them goes through `measured`."""
    return replace(grammar, measures="weight")


def measured(quantity: Quantity, items: Iterable[Reading | Fault]) -> Iterator[Measured | Fault]:
    """What a parser understood, as what it is. A temperature in no unit of temperature is a
    fault."""
    for item in items:
        if isinstance(item, Fault):
            yield item
            continue
        unit = TEMPERATURE_WORDS.get(item.unit or "")  # the file of a pH has none
        if quantity == "temperature" and unit is None and item.value is not None:
            yield Fault(f"{item.unit!r} is no unit of temperature", item.time_s, item.raw)
            continue
        yield Measured(
            quantity, item.value, unit, item.stable, item.condition, item.time_s, item.raw,
            item.word,
        )  # fmt: skip


def _quantity(grammar: Grammar) -> Quantity:
    if grammar.measures == "weight":
        raise ValueError(f"{grammar.name} measures a weight")
    return grammar.measures
