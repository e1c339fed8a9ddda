"""Where the frames of an unknown scale begin and end. Pure: bytes in, frames out.

Only frames that are all of one length are described: of others a lost digit would be a smaller
weight.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from drivers.identify import parity_of

Step = Literal["empty", "known", "move", "over", "tared", "lifted"]
"""What was done while it was recorded: nothing on the pan; a load whose weight the display shows;
that load lifted and set down again; too much; the load with the scale's own tare key pressed; the
same tare, and the load taken off."""
SETTLED: tuple[Step, ...] = ("empty", "known", "tared", "lifted")
"""Steps at whose end the display stands still and is known."""
SHARE = Decimal("0.9")
"""Of the frames must have one length."""
FEWEST = 3
"""Frames of a step at least: the last so many are compared with the display."""
_LEAST, _MOST = 3, 128
"""Bytes of a frame without its marks."""
_ENDS = (b"\r\n", b"\n\r")
_TRAIL = 4
"""Bytes of a check behind the end mark at most."""
_OF_FIGURES = b" +-.,0123456789"


class Unclear(ValueError):
    """What cannot be worked out; the message is a sentence for a person."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What arrived during a step, taken at 8N1, in the chunks in which it arrived; `shows` what the
    display showed at its end, None where that is not known; `at_s` when each chunk arrived,
    monotonic, in seconds, for a capture of it."""

    chunks: tuple[bytes, ...]
    shows: Decimal | None = None
    at_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Cut:
    """How the bytes fall into frames: marks as a grammar says them, the bytes between them, by
    step. `length` where the end mark does not close the frame."""

    start: bytes
    end: bytes
    length: int | None
    bits: str
    frames: dict[Step, list[bytes]]
    others: dict[Step, int]
    """Frames of another length, by step."""

    @property
    def width(self) -> int:
        return len(next(frames[0] for frames in self.frames.values() if frames))

    def all(self) -> Iterable[bytes]:
        return (frame for frames in self.frames.values() for frame in frames)

    def last(self, step: Step) -> list[bytes]:
        """The frames of a step that belong to what the display showed."""
        return self.frames.get(step, [])[-FEWEST:]


def cut(heard: Mapping[Step, Heard]) -> Cut:
    """Raises `Unclear`."""
    data = {step: b"".join(each.chunks) for step, each in heard.items()}
    if not any(data.values()):
        raise Unclear("nothing arrived while it was recorded")
    bits = parity_of(b"".join(data.values()))
    mask = 0x7F if bits != "8N1" else 0xFF
    data = {step: bytes(byte & mask for byte in each) for step, each in data.items()}
    chunks = [bytes(b & mask for b in chunk) for each in heard.values() for chunk in each.chunks]
    found = [cut for cut in _by_ends(data, bits) if _good(cut)]
    found = found or [cut for cut in _by_starts(data, bits) if _good(cut)]
    if not found:
        raise Unclear(
            "no mark parts what it sends into frames of one length: such a format needs a regex"
        )
    best = max(found, key=lambda cut: _plausible(cut, chunks))
    for step, frames in best.frames.items():
        if step != "over" and len(frames) < FEWEST:
            other = best.others[step]
            also = f", and {other} of another length: take a smaller load there" if other else ""
            raise Unclear(f"only {len(frames)} frames arrived in the step {step!r}{also}")
    return best


def _good(cut: Cut) -> bool:
    """Whether nearly all frames (of an overload perhaps none) have one length and hold a digit."""
    usual = [step for step in cut.frames if step != "over"]
    frames = [frame for step in usual for frame in cut.frames[step]]
    others = sum(cut.others[step] for step in usual)
    if not frames or len(frames) < SHARE * (len(frames) + others):
        return False
    digits = sum(any(48 <= byte < 58 for byte in frame) for frame in frames)
    return digits >= SHARE * len(frames) and _LEAST <= len(frames[0]) <= _MOST


def _plausible(cut: Cut, chunks: Sequence[bytes]) -> tuple[int, int, int]:
    """Frames without control signs first, then those that end where the line paused."""
    frames = list(cut.all())
    clean = sum(all(byte >= 32 for byte in frame) for frame in frames) * 100 // len(frames)
    edges = sum(
        (chunk.endswith(cut.end) if cut.end else chunk.startswith(cut.start)) for chunk in chunks
    )
    return clean, edges, len(cut.end)


def _by_ends(data: Mapping[Step, bytes], bits: str) -> Iterable[Cut]:
    together = b"".join(data.values())
    controls = [bytes([byte]) for byte in sorted({b for b in together if b < 32})]
    for end in (*_ENDS, *controls):
        parts = {step: each.split(end)[1:-1] for step, each in data.items()}
        plain = [part for step, each in parts.items() if step != "over" for part in each]
        if not plain:
            continue
        size, _ = Counter(map(len, plain)).most_common(1)[0]
        same = [part for part in plain if len(part) == size]
        start = bytes(_first_controls(same))
        if not start and (found := _trailing(same)) is not None:
            yield _by_length(data, bits, *found, len(end))
            continue
        yield _sorted_out(start, end, None, bits, parts, size)


def _first_controls(parts: Sequence[bytes]) -> Iterable[int]:
    """The control signs with which all begin."""
    for column in zip(*parts, strict=False):
        if len(set(column)) > 1 or column[0] >= 32:
            return
        yield column[0]


def _trailing(parts: Sequence[bytes]) -> tuple[bytes, int] | None:
    """The start mark that stands a few bytes behind every end mark, and the frame's length without
    marks: between them is a check of the frame before."""
    for at in range(1, min(_TRAIL + 1, min(map(len, parts)))):
        marks = Counter(part[at] for part in parts)
        byte, many = marks.most_common(1)[0]
        if byte < 32 and many >= SHARE * len(parts):
            return bytes([byte]), len(parts[0]) - 1
    return None


def _by_length(data: Mapping[Step, bytes], bits: str, start: bytes, size: int, more: int) -> Cut:
    """Frames from a start mark on, `size + more` bytes long."""
    whole, parts = len(start) + size + more, dict[Step, list[bytes]]()
    for step, each in data.items():
        parts[step] = []
        at = each.find(start)
        while 0 <= at <= len(each) - whole:
            parts[step].append(each[at : at + whole])
            at = each.find(start, at + whole)
    return _sorted_out(start, b"", size + more, bits, parts, whole)


def _by_starts(data: Mapping[Step, bytes], bits: str) -> Iterable[Cut]:
    """A byte that comes again after so many others, always."""
    together = b"".join(data.values())
    for byte in sorted(set(together) - set(_OF_FIGURES)):
        places = [at for at, each in enumerate(together) if each == byte]
        gaps = Counter(b - a for a, b in pairwise(places))
        if not gaps:
            continue
        gap, many = gaps.most_common(1)[0]
        if many >= SHARE * (len(places) - 1) and gap > _LEAST:
            yield _by_length(data, bits, bytes([byte]), gap - 1, 0)


def _sorted_out(
    start: bytes,
    end: bytes,
    length: int | None,
    bits: str,
    parts: Mapping[Step, Sequence[bytes]],
    size: int,
) -> Cut:
    good = {
        step: [p[len(start) :] for p in each if len(p) == size and p.startswith(start)]
        for step, each in parts.items()
    }
    others = {step: len(parts[step]) - len(good[step]) for step in parts}
    return Cut(start, end, length, bits, good, others)
