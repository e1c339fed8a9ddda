"""Formats that nobody wrote: frames of weights, with whatever field stands behind them."""

import random
from collections.abc import Callable

from drivers.grammar import Grammar, compile_grammar
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from drivers.sums import SUMS, Code, Order, SumName

START, END = b"\x1e", b"\r\n"
TEXT = """name = "x"
about = "A mark, a letter, sign and seven signs of number, unit, and what nobody reads"
start = "\\u001e"
end = "\\r\\n"
regex = '(?P<state>[SM])(?P<value>[-+ 0-9.]{8})(?P<unit>kg| g)%s'
%s
[status.state]
S = "stable"
M = "moving"
"""


def grammar(filler: str = ".*", more: str = "") -> Grammar:
    return compile_grammar(TEXT % (filler, more), "x.toml")


def bodies(seed: int, many: int, most: int = 99_999) -> list[bytes]:
    """Different frames without marks and check, as a pan makes them that is loaded at random."""
    rng, found = random.Random(seed), dict[bytes, None]()
    while len(found) < many:
        weight = f"{rng.randrange(most) / 100:8.2f}"
        found[f"{rng.choice('SSM')}{weight}{rng.choice(['kg', 'kg', ' g'])}".encode()] = None
    return list(found)


def sent_as(number: int, bits: int, code: Code, order: Order) -> bytes:
    """A sum as a scale sends it."""
    if code == "decimal":
        return f"{number:0{len(str((1 << bits) - 1))}d}".encode()
    raw = number.to_bytes(bits // 8, "big" if order == "high-first" else "little")
    return raw if code == "binary" else raw.hex().upper().encode()


def checked(body: bytes, kind: SumName, code: Code = "hex", order: Order = "high-first") -> bytes:
    """The body with its check behind it, over all from the first byte on."""
    found = SUMS[kind]
    return body + sent_as(found.of(body), found.bits, code, order)


def read(
    grammar: Grammar, bodies: list[bytes], frame: Callable[[bytes], bytes] | None = None
) -> list[Reading | Fault]:
    data = b"".join(frame(body) if frame else START + body + END for body in bodies)
    return list(Parser(grammar).feed(data, 0.0))
