"""A check field that the grammar leaves out is suspected. Pure: what a parser said comes in.

A frame whose checksum nobody reads passes damaged, and a digit that was turned on the line is a
wrong weight. So the bytes that no group of the grammar covers are tried: does a sum that the
project knows hold there in every frame (but a few, which may be the damaged ones)? If none does,
does the field still change with every change of the frame?
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import get_args

from drivers import sums
from drivers.grammar import Grammar
from drivers.grammar_check import NUMBERS
from drivers.looks import looks_like_a_check
from drivers.places import DAMAGED, Field, Frame, Item, fields_of, frames_of

FEW = 4
"""Different frames at least before a sum is believed: by chance one of 8 bits holds in four of them
once in four thousand million tries."""
MOST = 32
"""Different frames that are looked at."""
_VARYING = 3
"""Places that must vary in what a sum covers: of one place alone anything may be a sum."""


@dataclass(frozen=True, slots=True)
class Known:
    """A sum that holds, as the table [checksum] says it. `last` None: all before the field."""

    kind: sums.SumName
    code: sums.Code
    first: str
    last: str | None
    width: int
    order: sums.Order


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A field that looks like a checksum and that the grammar does not read.

    `at` is its first byte in `sample`, one whole frame, `size` its bytes; `known` None where it
    only looks like a check. Of `frames` different frames the sum holds in `held`.
    """

    sample: bytes
    at: int
    size: int
    known: Known | None
    frames: int
    held: int
    behind_end: bool

    @property
    def says(self) -> str:
        """One sentence for a person."""
        if self.known is None:
            return (
                f"{self._where} differ in frames that differ and are the same in equal ones: they"
                " look like a check field, which nobody checks; a damaged frame would pass for a"
                " weight"
            )
        all_of = f"all {self.frames}" if self.held == self.frames else f"{self.held} of"
        rest = "" if self.held == self.frames else f" {self.frames}, the others may be damaged,"
        return (
            f"{self._where} are a checksum ({self.known.kind}, {self._range}): it holds in"
            f" {all_of}{rest} different frames, and the grammar does not read it: a damaged frame"
            " passes for a weight"
        )

    @property
    def next(self) -> str:
        """What to do about it."""
        not_one = 'where it is none, say why: unchecked = "..."'
        if self.known is None:
            return f"look in the scale's papers for it, and give the file a [checksum]; {not_one}"
        told = f'kind = "{self.known.kind}", code = "{self.known.code}"'
        told += "" if self.known.first == "frame" else f', first = "{self.known.first}"'
        told += "" if self.known.last is None else f', last = "{self.known.last}"'
        told += "" if self.known.width == 8 else f", width = {self.known.width}"
        if sums.SUMS[self.known.kind].bits == 16:
            told += f', order = "{self.known.order}"'
        where = "name them (?P<checksum>...) in the regex"
        if self.behind_end:
            where = "leave `end` out, give the `length`, and let the regex end with the mark and"
            where += " (?P<checksum>...)"
        return f"{where}, and add [checksum] with {told}; {not_one}"

    @property
    def _where(self) -> str:
        field = self.sample[self.at : self.at + self.size].hex(" ")
        bytes_ = f"bytes {self.at + 1} to {self.at + self.size}" if self.size > 1 else (
            f"the byte {self.at + 1}"
        )  # fmt: skip
        return f"{bytes_} of the frame (such as {field})"

    @property
    def _range(self) -> str:
        assert self.known is not None
        first = {"start": "the start mark", "frame": "the first byte behind the start mark"}
        begin = first.get(self.known.first, f"the group {self.known.first}")
        end = "the byte before it" if self.known.last is None else f"the group {self.known.last}"
        return f"from {begin} through {end}"


def suspicion(grammar: Grammar, items: Sequence[Item]) -> Suspicion | None:
    """The check field that the grammar does not read, if these `items` (in the order in which its
    parser gave them) show one; None where it reads one, or says that there is none."""
    if grammar.checksum is not None or grammar.unchecked:
        return None
    seen = list(frames_of(grammar, items))
    different = list({frame.data: frame for frame in reversed(seen)}.values())[::-1][:MOST]
    if len(different) < FEW:
        return None
    for from_end in (True, False) if len({len(f.data) for f in different}) > 1 else (True,):
        fields = list(fields_of(different, from_end))
        if (found := _known(grammar, different, fields)) is not None:
            return found
        if (field := looks_like_a_check(seen, different, fields)) is not None:
            return _told(different, field, None, len(different))
    return None


def _known(grammar: Grammar, frames: list[Frame], fields: list[Field]) -> Suspicion | None:
    for field in sorted(fields, key=lambda field: -field.size):
        if len(set(field.texts)) < _VARYING:
            continue
        for range_ in _ranges(grammar, frames, field):
            covered = [f.data[slice(*r)] for f, r in zip(frames, range_[2], strict=True)]
            if _varying(covered) < _VARYING:
                continue
            for known, width in product(_ways(field.size), (8, 7)):
                held = _held(known, width, covered, field.texts)
                if held:
                    told = Known(known[0], known[1], range_[0], range_[1], width, known[2])
                    return _told(frames, field, told, held)
    return None


def _ways(size: int) -> Iterator[tuple[sums.SumName, sums.Code, sums.Order]]:
    """Every known sum that a field of so many bytes can hold, in every way to send it."""
    for kind, code in product(sums.SUMS, get_args(sums.Code)):
        bits = sums.SUMS[kind].bits
        if sums.size(bits, code) == size:
            yield kind, code, "high-first"
            if bits == 16 and code != "decimal":
                yield kind, code, "low-first"


def _held(
    way: tuple[sums.SumName, sums.Code, sums.Order],
    width: int,
    covered: list[bytes],
    texts: tuple[bytes, ...],
) -> int:
    """In how many frames the sum holds; 0 where it is more than a few short of all."""
    kind, code, order = way
    bits = sums.SUMS[kind].bits
    if width == 7 and (bits != 8 or code == "decimal"):
        return 0
    mask = 0x7F if width == 7 else 0xFFFF
    misses = 0
    for data, text in zip(covered, texts, strict=True):
        number = sums.sent(text, bits, code, order)
        if number is None or number != sums.SUMS[kind].of(data) & mask:
            misses += 1
            if misses > len(covered) // DAMAGED:
                return 0
    return len(covered) - misses


_Range = tuple[str, str | None, list[tuple[int, int]]]
"""From, through, and the places in each frame."""


def _ranges(grammar: Grammar, frames: list[Frame], field: Field) -> Iterator[_Range]:
    """What a sum may cover, the most plausible first: all of the number at least, never itself."""
    names = sorted(set.intersection(*(set(f.groups) for f in frames)), key=frames[0].groups.get)  # type: ignore[arg-type]
    number = [name for name in names if name in NUMBERS - {"tare"}]
    firsts = [*(["start"] if grammar.start else []), "frame", *names]
    for last, first in product([None, *reversed(names)], firsts):
        places = []
        for frame, at in zip(frames, field.at, strict=True):
            begin = {"start": 0, "frame": frame.body}.get(first, frame.groups.get(first, (0, 0))[0])
            end = at if last is None else frame.groups[last][1]
            covers = all(begin <= frame.groups[n][0] and frame.groups[n][1] <= end for n in number)
            if not covers or (begin < at + field.size and at < end):
                break
            places.append((begin, end))
        else:
            yield first, last, places


def _varying(texts: list[bytes]) -> int:
    """In how many places texts differ, counted from their ends; a length that differs is one."""
    shortest = min(map(len, texts))
    differ = sum(
        len({text[len(text) - shortest + at] for text in texts}) > 1 for at in range(shortest)
    )
    return differ + (len(set(map(len, texts))) > 1)


def _told(frames: list[Frame], field: Field, known: Known | None, held: int) -> Suspicion:
    frame, at = frames[0], field.at[0]
    return Suspicion(frame.data, at, field.size, known, len(frames), held, at > frame.end)
