"""The bytes of frames that no group of the grammar reads. Pure.

A group whose words are told by a pattern does not count as read: `.*` passes over all.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product

from drivers.grammar import Grammar
from drivers.measured import Measured
from drivers.reading import Fault, Reading

Item = Reading | Measured | Fault
"""What a parser of a scale or of another instrument tells."""
DAMAGED = 8
"""One frame of so many may be damaged, and belie what holds in all others."""
_TRAIL = 4
"""Bytes behind the end mark at most that may belong to the frame before them."""
_REACH = 24
"""Varying places, from the end of a frame, at which a field may begin or end."""
_LONGEST = 5
"""Bytes of a check field at most: sixteen bits in decimal digits."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame: its bytes, the places that no group reads, and where its groups are."""

    data: bytes
    unread: frozenset[int]
    groups: dict[str, tuple[int, int]]
    weight: Decimal | None
    body: int  # where the bytes between the marks begin
    end: int  # where the end mark begins


def frames_of(grammar: Grammar, items: Sequence[Item]) -> Iterator[Frame]:
    """What was read; each frame with the few bytes behind its end mark, where most had some."""
    readings = {n: item.value for n, item in enumerate(items) if not isinstance(item, Fault)}
    trails = {n: trail for n in readings if (trail := _trail(items, n))}
    usual = max((len(t) for t in trails.values()), default=0)
    with_trail = len(trails) * 2 > len(readings)
    start, end = len(grammar.start), len(grammar.end)
    for n, weight in readings.items():
        raw = items[n].raw
        match = grammar.pattern.fullmatch(raw[start : len(raw) - end])
        trail = trails.get(n, b"") if with_trail else b""
        if match is None or (with_trail and len(trail) != usual):
            continue
        groups = {
            name: (match.start(name) + start, match.end(name) + start)
            for name, text in match.groupdict().items()
            if text is not None
        }
        read = {
            at
            for name, (begin, stop) in groups.items()
            if name == "value" or not (name in grammar.status and grammar.status[name].patterns)
            for at in range(begin, stop)
        }
        places = {*range(start, len(raw) - end), *range(len(raw), len(raw) + len(trail))}
        unread = frozenset(places - read)
        yield Frame(raw + trail, unread, groups, weight, start, len(raw) - end)


def _trail(items: Sequence[Item], n: int) -> bytes:
    """The few bytes that came between a frame and the next start mark."""
    follows = items[n + 1] if n + 1 < len(items) else None
    if isinstance(follows, Fault) and len(follows.raw) <= _TRAIL:
        return follows.raw
    return b""


@dataclass(frozen=True, slots=True)
class Field:
    """A place in all frames, counted from the end or from the start, and what stands there."""

    at: tuple[int, ...]
    size: int
    texts: tuple[bytes, ...]


def fields_of(frames: list[Frame], from_end: bool) -> Iterator[Field]:
    """Every place of some bytes that no frame reads, and that begins or ends with varying ones."""
    shortest = min(len(frame.data) for frame in frames)
    base = [len(frame.data) - shortest if from_end else 0 for frame in frames]
    free = [
        at
        for at in range(shortest)
        if all(at + b in f.unread for f, b in zip(frames, base, strict=True))
    ]
    varying = [
        at for at in free if len({f.data[at + b] for f, b in zip(frames, base, strict=True)}) > 1
    ][-_REACH:]
    begins = sorted({at - back for at in varying for back in range(_LONGEST)} & set(free))
    for at, size in product(begins, range(1, _LONGEST + 1)):
        places = range(at, at + size)
        if set(places) <= set(free) and set(places) & set(varying):
            texts = tuple(f.data[at + b : at + b + size] for f, b in zip(frames, base, strict=True))
            yield Field(tuple(at + b for b in base), size, texts)
