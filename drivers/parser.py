"""Bytes in, readings and faults out, for one port and one grammar. No I/O, and a capped buffer.

A number is taken only from a frame that matches whole; everything else is a `Fault` with its bytes.
"""

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import NamedTuple

from drivers.grammar import (
    CONDITIONS,
    LONGEST_FRAME,
    NUMBERS,
    UNIT_WORD,
    Checksum,
    Decimals,
    Grammar,
    added_up,
)
from drivers.reading import Condition, Fault, Kind, Reading
from drivers.sums import SUMS, sent

MOST_KEPT = 256
"""Combinations of status words that a parser keeps in mind."""
_NUMBER = re.compile(rb"[+-]?[0-9]+(?:\.[0-9]+)?")
_HEX = re.compile(rb"[0-9A-Fa-f]{1,2}")
_DIGITS = re.compile(rb"[+-]?[0-9]+")
_OF_NUMBERS = tuple(bytes([byte]) for byte in b"+-.,0123456789")
_SIGNS = (b"+", b"-")
_OUNCES = 16  # in a pound, avoirdupois


_NEEDED = frozenset({"value", "pounds", "ounces", "checksum"})
"""Groups without which there is no reading, even where the regex lets them be missing."""


class _Said(NamedTuple):
    """What the words and bits of one frame mean; `places` None where the point is sent."""

    condition: Condition
    kind: Kind
    stable: bool | None
    unit: str | None
    negative: bool
    places: int | None


class Parser:
    """Turns one port's bytes into readings and faults; keeps at most one frame's worth of them."""

    def __init__(self, grammar: Grammar) -> None:
        self._grammar = grammar
        self._rest = b""  # a frame that is not whole yet
        self._words = tuple(sorted(grammar.groups - NUMBERS - {"checksum"}))
        self._has_tare = "tare" in grammar.groups
        self._needed = tuple(grammar.groups & _NEEDED)
        self._instead = grammar.status.get("value", {})
        self._said: dict[tuple[bytes | None, ...], _Said] = {}

    def reset(self) -> None:
        """Forget a half frame: the port was closed."""
        self._rest = b""

    def feed(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Yield what `data`, arrived at `time_s`, completes. Must be consumed to the end."""
        if self._grammar.length is not None:
            return self._by_length(data, time_s)
        if not self._grammar.end:
            return self._by_start(data, time_s)
        return self._by_end(data, time_s)

    # where a frame begins and ends

    def _by_end(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        start, end = self._grammar.start, self._grammar.end
        if self._rest:
            data = self._rest + data
        at, look = 0, max(0, len(self._rest) - len(end) + 1)
        self._rest = b""
        while (found := data.find(end, look)) >= 0:
            frame = data[at:found]
            if len(frame) > LONGEST_FRAME or frame.rfind(start) != 0:
                yield from self._disturbed(frame, time_s)
            else:
                yield self._read(frame[len(start) :], frame + end, time_s)
            at = look = found + len(end)
        rest = data[at:]
        if len(rest) > LONGEST_FRAME:
            kept = rest.rfind(start, -LONGEST_FRAME) if start else -1
            cut = kept if kept > 0 else len(rest) - len(end) + 1
            yield Fault("bytes without a frame end", time_s, rest[:cut][-LONGEST_FRAME:])
            rest = rest[cut:]
        self._rest = rest

    def _disturbed(self, frame: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """What came before an end mark and is more, or less, than a frame."""
        start, end = self._grammar.start, self._grammar.end
        at = frame.rfind(start) if start else 0
        if at < 0:
            yield Fault("no start of frame", time_s, frame[-LONGEST_FRAME:])
        elif len(frame) - at > LONGEST_FRAME:
            yield Fault("longer than a frame can be", time_s, frame[-LONGEST_FRAME:])
        else:
            if at > 0:
                junk = frame[:at][-LONGEST_FRAME:]
                yield Fault("bytes before the start of a frame", time_s, junk)
            yield self._read(frame[at + len(start) :], frame[at:] + end, time_s)

    def _by_start(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """No end mark: a frame is known to be whole when the next one begins."""
        start = self._grammar.start
        data = self._rest + data
        at = data.find(start)
        if at != 0 and data:
            junk = data if at < 0 else data[:at]
            keep = len(start) - 1 if at < 0 else 0
            if len(junk) > keep:
                cut = junk[: len(junk) - keep]
                yield Fault("bytes before the start of a frame", time_s, cut[-LONGEST_FRAME:])
            data = data[len(junk) - keep :]
        while (found := data.find(start, len(start))) >= 0:
            frame, data = data[:found], data[found:]
            if len(frame) > LONGEST_FRAME:
                yield Fault("longer than a frame can be", time_s, frame[-LONGEST_FRAME:])
            else:
                yield self._read(frame[len(start) :], frame, time_s)
        if len(data) > LONGEST_FRAME:
            yield Fault("longer than a frame can be", time_s, data[-LONGEST_FRAME:])
            data = b""
        self._rest = data

    def _by_length(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Frames of one length. What is none is passed byte by byte and told once, whole."""
        start, end = self._grammar.start, self._grammar.end
        whole = len(start) + (self._grammar.length or 0) + len(end)
        seen = whole + (not end)  # without an end mark the next byte must not belong to it too
        data = self._rest + data
        junk, at = 0, self._next(data, 0)
        while len(data) - at >= seen:
            frame = data[at : at + whole]
            item: Reading | Fault | None = None
            if frame.startswith(start) and frame.endswith(end):
                item = self._read(frame[len(start) : whole - len(end)], frame, time_s)
                if isinstance(item, Reading) and (doubt := self._doubt(data, at, whole)):
                    item = Fault(doubt, time_s, frame)
            if isinstance(item, Reading):
                if at > junk:
                    yield Fault("no frame", time_s, data[junk:at][-LONGEST_FRAME:])
                yield item
                at = junk = at + whole
                continue
            at = self._next(data, at + 1)
        if at - junk >= LONGEST_FRAME or (at > junk and len(data) - junk > LONGEST_FRAME):
            yield Fault("no frame", time_s, data[junk:at][-LONGEST_FRAME:])
            junk = at
        self._rest = data[junk:]

    def _next(self, data: bytes, at: int) -> int:
        """Where a frame of fixed length may begin, from `at` on; else the first place where one
        could that is not all there yet."""
        start = self._grammar.start
        whole = len(start) + (self._grammar.length or 0) + len(self._grammar.end)
        if start:
            found = data.find(start, at)
            return found if found >= 0 else max(at, len(data) - len(start) + 1)
        fullmatch, end = self._grammar.pattern.fullmatch, self._grammar.end
        last = len(data) - whole
        while at <= last:
            if fullmatch(data, at, at + whole - len(end)):
                return at
            at += 1
        return max(at, last + 1)

    def _doubt(self, data: bytes, at: int, whole: int) -> str:
        """Why a frame that nothing closes is not to be believed: a digit, a point or a sign beside
        it belongs to it, or nothing tells where it begins."""
        if self._grammar.end:
            return ""
        follows, start = data[at + whole : at + whole + 1], self._grammar.start
        if follows in _OF_NUMBERS and (follows != start[:1] if start else follows not in _SIGNS):
            return "a byte too many behind it"
        if not start and at and data[at - 1 : at] in _OF_NUMBERS:
            return "a byte too many before it"
        if not start and self._unsure(data[at : at + whole]):
            return "nothing tells where a frame begins"
        return ""

    def _unsure(self, frame: bytes) -> bool:
        """Whether the same bytes, begun elsewhere, would be a frame too: digits alone."""
        twice = frame + frame
        fullmatch = self._grammar.pattern.fullmatch
        return any(fullmatch(twice, n, n + len(frame)) for n in range(1, len(frame)))

    # what a frame says

    def _read(self, frame: bytes, raw: bytes, time_s: float) -> Reading | Fault:
        """A frame without its marks, and with them."""
        grammar = self._grammar
        match = grammar.pattern.fullmatch(frame)
        if match is None:
            return Fault("not a frame of this grammar", time_s, raw[-LONGEST_FRAME:])
        if any(match[group] is None for group in self._needed):
            return Fault("a part of the frame is missing", time_s, raw)
        if grammar.checksum is not None and not _checksum_holds(
            grammar.checksum, grammar.start, frame, match
        ):
            return Fault("wrong checksum", time_s, raw)
        words = tuple([match[group] for group in self._words])
        said = self._said.get(words) or self._understand(words)
        if isinstance(said, str):
            return Fault(said, time_s, raw)
        condition = said.condition
        if self._instead and condition is Condition.OK:
            word = self._instead.get(match["value"].strip(), "ok")
            condition = CONDITIONS.get(word, Condition.OK)
        if condition is not Condition.OK:
            return Reading(None, said.unit, said.kind, said.stable, condition, time_s, raw)
        value = self._value(match, said)
        tare = None
        if self._has_tare and match["tare"]:
            tare = _number(match["tare"], grammar.decimal, said.places)
            value = None if tare is None else value
        if value is None:
            return Fault("no number where the weight belongs", time_s, raw)
        return Reading(value, said.unit, said.kind, said.stable, condition, time_s, raw, tare)

    def _value(self, match: re.Match[bytes], said: _Said) -> Decimal | None:
        grammar = self._grammar
        if "pounds" in grammar.groups:
            pounds = _number(match["pounds"], grammar.decimal, None)
            ounces = _number(match["ounces"], grammar.decimal, said.places)
            if pounds is None or ounces is None or not 0 <= ounces < _OUNCES:
                return None
            negative = match["pounds"].strip().startswith(b"-")
            value = abs(pounds) * _OUNCES + ounces
            return -value if negative != said.negative else value
        found = _number(match["value"], grammar.decimal, said.places)
        if found is None or not said.negative:
            return found
        return None if found < 0 else -found  # two signs that disagree are no number

    def _understand(self, words: tuple[bytes | None, ...]) -> _Said | str:
        """What the words of a frame mean together, or what is wrong with them; kept for the next
        frame, since a scale has few of them."""
        grammar = self._grammar
        found: list[str] = []
        places = grammar.decimals.places if grammar.decimals else None
        for group, word in zip(self._words, words, strict=True):
            meanings = self._meanings(group, word or b"")
            if isinstance(meanings, str):
                return meanings
            found += meanings
            if grammar.decimals is not None and grammar.decimals.group == group:
                places = _places(grammar.decimals, word or b"")
                if places is None:
                    return f"{group} {word!r} tells no decimal point"
        said = _together(grammar, found, places)
        if len(self._said) < MOST_KEPT:
            self._said[words] = said
        return said

    def _meanings(self, group: str, word: bytes) -> list[str] | str:
        """What one group says, or what is wrong with it."""
        grammar = self._grammar
        if group == "unit":
            text = word.decode("latin-1").strip()
            found = [UNIT_WORD + text] if text else []
            if grammar.unit_absent is not None:
                found.append("stable" if bool(text) != grammar.unit_absent else "moving")
            return found
        if group in grammar.status:
            meaning = grammar.status[group].get(word)
            return f"unknown {group} {word!r}" if meaning is None else [meaning]
        if group in grammar.bits:
            bits = grammar.bits[group]
            number = _byte(word, bits.code)
            if number is None:
                return f"{group} {word!r} is no byte"
            return [pair[0 if number >> bit & 1 else 1] for bit, pair in bits.meanings.items()]
        return []


def _together(grammar: Grammar, found: list[str], places: int | None) -> _Said:
    told = added_up(found, grammar.kind)
    unit = "oz" if "pounds" in grammar.groups else grammar.unit
    units = [word.removeprefix(UNIT_WORD).strip() for word in found if word.startswith(UNIT_WORD)]
    if units:
        unit = units[-1]
    return _Said(*told, unit, "negative" in found, places)


def _byte(word: bytes, code: str) -> int | None:
    """A status byte as a number: itself, or one or two hexadecimal digits."""
    if code == "binary":
        return word[0] if len(word) == 1 else None
    return int(word, 16) if _HEX.fullmatch(word) else None


def _places(decimals: Decimals, word: bytes) -> int | None:
    if decimals.words:
        return decimals.words.get(word.decode("latin-1"))
    number = _byte(word, decimals.code)
    if number is None:
        return None
    places = (number & decimals.mask) - decimals.less
    return places if 0 <= places <= 6 else None


def _number(field: bytes, decimal: str, places: int | None) -> Decimal | None:
    """The one place where a scale's text becomes a number. Spaces stand around the sign only; with
    `places` the point is not sent, and one that is there all the same is no number."""
    text = field.strip()
    if decimal == ",":
        if b"." in text:
            return None
        text = text.replace(b",", b".")
    pattern = _NUMBER if places is None else _DIGITS
    if not pattern.fullmatch(text):
        text = text[:1] + text[1:].lstrip()  # blanks behind the sign
        if text[:1] not in (b"+", b"-") or not pattern.fullmatch(text):
            return None
    number = Decimal(text.decode("ascii"))
    return number if places is None else number.scaleb(-places)


def _checksum_holds(checksum: Checksum, start: bytes, frame: bytes, match: re.Match[bytes]) -> bool:
    first = 0 if checksum.first in ("frame", "start") else match.start(checksum.first)
    last = match.start("checksum") if checksum.last is None else match.end(checksum.last)
    covered = frame[first:last]
    if checksum.first == "start":
        covered = start + covered
    kind = SUMS[checksum.kind]
    found = sent(match["checksum"], kind.bits, checksum.code, checksum.order)
    mask = (1 << checksum.width) - 1 if kind.bits == 8 else 0xFFFF
    if found is not None and checksum.code == "binary":
        found &= mask
    return found == kind.of(covered) & mask
