"""Which line settings and which grammar an unknown scale speaks. Pure: bytes in, fits out.

7E1 and 7O1 are ten bits on the wire like 8N1, so a port is tried by speed alone: the parity can be
read from bit 7 of what arrives.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from drivers.grammar import Grammar
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from drivers.unread import Suspicion, suspicion

SPEEDS = (9600, 4800, 19_200, 2400, 1200, 38_400, 57_600, 115_200)
"""The most usual first."""
SURE = Decimal("0.8")
"""Share of the bytes that a grammar must explain, and one of at least two frames."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How well a grammar explains bytes: how many readings, and which share of the bytes;
    `unread` where it seems to leave a checksum out."""

    grammar: str
    bits: str
    readings: int
    share: Decimal
    sample: str
    unread: Suspicion | None = None

    @property
    def sure(self) -> bool:
        return self.readings >= 2 and self.share >= SURE


def parity_of(data: bytes) -> str:
    """The line word that the bytes show: 7E1 or 7O1 where bit 7 is the parity of all others, as it
    is in every byte; else 8N1."""
    if len(data) < 8 or not any(byte & 0x80 for byte in data):
        return "8N1"
    ones = {byte.bit_count() % 2 for byte in data}
    if ones == {0}:
        return "7E1"
    return "7O1" if ones == {1} else "8N1"


def without_parity(data: bytes) -> tuple[bytes, str]:
    """Bytes taken at 8N1 as they were meant, and the line word that they show."""
    bits = parity_of(data)
    return (data if bits == "8N1" else bytes(byte & 0x7F for byte in data)), bits


def shown(data: bytes, grammar: Grammar) -> str:
    """The last weight that a grammar reads in bytes taken at 8N1, with its unit, as a display shows
    it; "" where it reads none."""
    values = [
        item
        for item in _items(data, grammar)
        if isinstance(item, Reading) and item.value is not None
    ]
    return f"{values[-1].value} {values[-1].unit or ''}".strip() if values else ""


def proves_nothing(weight: str) -> bool:
    """Whether the digits of a weight are the same from both ends, as 0.000 and 1.221 are: a format
    that sends them last first would show the same."""
    digits = [sign for sign in weight if sign.isdigit()]
    return digits == digits[::-1]


def fits(data: bytes, grammars: Iterable[Grammar]) -> list[Fit]:
    """Every grammar that reads something in bytes taken at 8N1, the best first: of two that read
    the same the one that checks it."""
    found = [
        (fit, grammar.checksum is None)
        for grammar in grammars
        if (fit := _fit(data, grammar)) is not None
    ]
    found.sort(key=lambda pair: (-pair[0].share, -pair[0].readings, pair[1], pair[0].grammar))
    return [fit for fit, _ in found]


def _fit(data: bytes, grammar: Grammar) -> Fit | None:
    items = _items(data, grammar)
    data, bits = without_parity(data)
    if grammar.parity is not None:  # it takes the parity off by itself, from eight bits
        data, bits = bytes(byte & 0x7F for byte in data), "8N1"
    readings = [item for item in items if isinstance(item, Reading)]
    if not readings:
        return None
    first = data.find(readings[0].raw)
    last = data.rfind(readings[-1].raw) + len(readings[-1].raw)
    whole = last - max(first, 0)  # half a frame at either end is nobody's fault
    share = Decimal(sum(len(reading.raw) for reading in readings)) / whole
    plain = [r for r in readings if r.value is not None]
    told = [r for r in plain if r.unit] or plain or readings
    sample = f"{told[-1].value if plain else '-'} {told[-1].unit or ''}".strip()
    if bits == "8N1" and grammar.line.bits[0] == "7" and grammar.parity is None:
        bits = grammar.line.bits  # all bits 7 are clear: the file knows better
    unread = suspicion(grammar, items)
    return Fit(grammar.name, bits, len(readings), min(share, Decimal(1)), sample, unread)


def unread_in(heard: Iterable[bytes], grammar: Grammar) -> Suspicion | None:
    """The checksum that a grammar seems to leave out, by all that was heard at 8N1."""
    return suspicion(grammar, [item for data in heard for item in _items(data, grammar)])


def _items(data: bytes, grammar: Grammar) -> list[Reading | Fault]:
    """What a grammar reads in bytes taken at 8N1."""
    meant = data if grammar.parity is not None else without_parity(data)[0]
    return list(Parser(grammar).feed(meant, 0.0))


def legible(data: bytes) -> float:
    """Share of the bytes that are signs, or marks around them: at another speed few are."""
    data, _ = without_parity(data)
    signs = sum(32 <= byte < 127 or byte in (2, 3, 10, 13) for byte in data)
    return signs / len(data) if data else 0.0


def hint(data: bytes) -> str:
    """What to look at when bytes arrive and nothing fits."""
    if not data:
        return "nothing arrived: is it on, does it send by itself, is the cable a crossed one?"
    if legible(data) > 0.9:
        return "the speed is right, these are signs: a page of TOML describes them (GRAMMARS.md)"
    if parity_of(data) != "8N1":
        return f"the speed is right, and the line is {parity_of(data)}: describe the frame in TOML"
    return "no signs among these bytes: another speed, or a format of binary bytes"
