"""Bytes in, readings and faults out, for one port and one grammar. No I/O, and a capped buffer.

A number is taken only from a frame that matches whole; everything else is a `Fault` with its bytes.
"""

import re
from collections.abc import Iterator
from decimal import Decimal

import msgspec

from drivers.figure import figure
from drivers.grammar import Grammar
from drivers.grammar_check import IMPERIAL, NUMBERS
from drivers.grammar_file import Checksum
from drivers.meanings import CONDITIONS
from drivers.reading import Condition, Fault, Reading
from drivers.sense import Said, understand
from drivers.sums import SUMS, sent

MOST_KEPT = 256
"""Combinations of status words that a parser keeps in mind."""
_OF_NUMBERS = tuple(bytes([byte]) for byte in b"+-.,0123456789")
_SIGNS = (b"+", b"-")
_OUNCES, _POUNDS = 16, 14
"""In a pound, and pounds in a stone, avoirdupois."""
_WRONG = 0xFF
"""What a byte of wrong parity becomes: none of seven bits."""


def _parity_table(parity: str) -> bytes:
    """Every byte as it was meant, its highest bit taken off."""
    wanted = {"even": (0,), "odd": (1,), "any": (0, 1)}[parity]
    return bytes(byte & 0x7F if byte.bit_count() % 2 in wanted else _WRONG for byte in range(256))


class Parser:
    """Turns one port's bytes into readings and faults; keeps at most one frame's worth of them."""

    def __init__(self, grammar: Grammar) -> None:
        """Raises `ValueError` for a grammar that measures no weight: what it reads is none."""
        if grammar.measures != "weight":
            raise ValueError(f"{grammar.name} measures a {grammar.measures} and no weight")
        self._grammar = grammar
        self._rest = b""  # a frame that is not whole yet
        self._passed = 0  # bytes at its front that were told already
        self._words = tuple(sorted(grammar.groups - NUMBERS - {"checksum"}))
        self._has_tare = "tare" in grammar.groups
        self._checked = "checksum" in grammar.groups
        self._plain = "value" in grammar.groups
        self._imperial = tuple(name for name in IMPERIAL if name in grammar.groups)
        self._instead = grammar.status.get("value")
        self._parity = None if grammar.parity is None else _parity_table(grammar.parity)
        self._longest = grammar.longest
        self._said: dict[tuple[bool, tuple[bytes, ...]], Said] = {}
        self._last: Reading | None = None
        self._whole = bool(grammar.end) and grammar.length is None and self._parity is None
        """Whether the bytes of a frame are a frame whatever comes before and after them."""

    def reset(self) -> None:
        """Forget a half frame: the port was closed."""
        self._rest, self._passed = b"", 0

    @property
    def rest(self) -> bytes:
        """Bytes that nothing was told of yet: a frame that is not whole, if it is one."""
        return self._rest[self._passed :]

    def feed(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Yield what `data`, arrived at `time_s`, completes. Must be consumed to the end. A scale
        at rest sends the same frame again and again: that is understood once."""
        last = self._last
        if last is not None and data == last.raw and self._whole and not self._rest:
            return iter((msgspec.structs.replace(last, time_s=time_s),))
        if self._parity is not None:
            data = data.translate(self._parity)
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
            if len(frame) > self._longest or frame.rfind(start) != 0:
                yield from self._disturbed(frame, time_s)
            else:
                yield self._read(frame[len(start) :], frame + end, time_s)
            at = look = found + len(end)
        rest = data[at:]
        if len(rest) > self._longest:
            kept = rest.rfind(start, -self._longest) if start else -1
            cut = kept if kept > 0 else len(rest) - len(end) + 1
            yield Fault("bytes without a frame end", time_s, rest[:cut][-self._longest :])
            rest = rest[cut:]
        self._rest = rest

    def _disturbed(self, frame: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """What came before an end mark and is more, or less, than a frame."""
        start, end = self._grammar.start, self._grammar.end
        at = frame.rfind(start) if start else 0
        if at < 0:
            yield Fault("no start of frame", time_s, frame[-self._longest :])
        elif len(frame) - at > self._longest:
            yield Fault("longer than a frame can be", time_s, frame[-self._longest :])
        else:
            if at > 0:
                junk = frame[:at][-self._longest :]
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
                yield Fault("bytes before the start of a frame", time_s, cut[-self._longest :])
            data = data[len(junk) - keep :]
        while (found := data.find(start, len(start))) >= 0:
            frame, data = data[:found], data[found:]
            if len(frame) > self._longest:
                yield Fault("longer than a frame can be", time_s, frame[-self._longest :])
            else:
                yield self._read(frame[len(start) :], frame, time_s)
        if len(data) > self._longest:
            yield Fault("longer than a frame can be", time_s, data[-self._longest :])
            data = b""
        self._rest = data

    def _by_length(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Frames of one length. What is none is passed byte by byte, since a good frame may begin
        in it; a whole frame that cannot be read is told by itself, other bytes together."""
        start, end = self._grammar.start, self._grammar.end
        whole = len(start) + (self._grammar.length or 0) + len(end)
        seen = whole + (not end)  # without an end mark the next byte must not belong to it too
        data = self._rest + data
        junk, at = self._passed, self._next(data, 0)
        while len(data) - at >= seen:
            frame = data[at : at + whole]
            item: Reading | Fault | None = None
            if frame.startswith(start) and frame.endswith(end):
                item = self._read(frame[len(start) : whole - len(end)], frame, time_s)
                if isinstance(item, Reading) and (doubt := self._doubt(data, at, whole)):
                    item = Fault(doubt, time_s, frame)
            if isinstance(item, Reading) or (item is not None and at >= junk):
                if at > junk:
                    yield Fault("no frame", time_s, data[junk:at][-self._longest :])
                yield item
                junk = at + whole
            at = junk if isinstance(item, Reading) else self._next(data, at + 1)
        if at - junk >= self._longest or (at > junk and len(data) - junk > self._longest):
            yield Fault("no frame", time_s, data[junk:at][-self._longest :])
            junk = at
        kept = min(at, junk)
        self._rest, self._passed = data[kept:], junk - kept

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
        last = self._last
        if last is not None and last.raw == raw:
            return msgspec.structs.replace(last, time_s=time_s)
        item = self._understood(frame, raw, time_s)
        if isinstance(item, Reading):
            self._last = item
        return item

    def _understood(self, frame: bytes, raw: bytes, time_s: float) -> Reading | Fault:
        grammar = self._grammar
        match = grammar.pattern.fullmatch(frame)
        if match is None:
            return Fault("not a frame of this grammar", time_s, raw[-self._longest :])
        if self._parity is not None and _WRONG in frame:
            return Fault("a byte of wrong parity", time_s, raw)
        imperial = bool(self._imperial) and match[self._imperial[0]] is not None
        if self._misses(match, imperial):
            return Fault("a part of the frame is missing", time_s, raw)
        if grammar.checksum is not None and not _checksum_holds(
            grammar.checksum, grammar.start, frame, match
        ):
            return Fault("wrong checksum", time_s, raw)
        words = tuple([match[group] or b"" for group in self._words])
        said = self._said.get((imperial, words)) or self._understand(imperial, words)
        if isinstance(said, str):
            return Fault(said, time_s, raw)
        condition, word = said.condition, said.word
        if self._instead is not None and condition is Condition.OK and not imperial:
            word = match["value"].strip().decode("latin-1")
            meaning = self._instead.meaning(match["value"].strip())
            condition = CONDITIONS.get(str(meaning), Condition.OK)
        if condition is not Condition.OK:
            return Reading(
                None, said.unit, said.kind, said.stable, condition, time_s, raw, None, word
            )
        value = self._pounds(match, said) if imperial else self._value(match, said)
        tare = None
        if self._has_tare and match["tare"]:
            tare = figure(match["tare"], grammar.form, said.places)
            value = None if tare is None else value
        if value is None:
            return Fault("no number where the weight belongs", time_s, raw)
        if said.times != 1:
            value, tare = value * said.times, None if tare is None else tare * said.times
        return Reading(value, said.unit, said.kind, said.stable, condition, time_s, raw, tare)

    def _misses(self, match: re.Match[bytes], imperial: bool) -> bool:
        """Whether a part is missing that the regex lets be missing: a weight is all its groups."""
        if self._checked and match["checksum"] is None:
            return True
        if not self._imperial:
            return match["value"] is None
        whole = self._plain and match["value"] is not None
        parts = {match[name] is not None for name in self._imperial}
        return len(parts) > 1 or whole == imperial

    def _pounds(self, match: re.Match[bytes], said: Said) -> Decimal | None:
        """Stone, pounds and ounces together, in ounces: all but the last are whole."""
        *whole, last = self._imperial
        form = self._grammar.form
        figures = {name: figure(match[name], form, 0) for name in whole}
        figures[last] = figure(match[last], form, said.places)
        first = figures[self._imperial[0]]
        stone, pounds, ounces = (figures.get(name, Decimal(0)) for name in IMPERIAL)
        if first is None or stone is None or pounds is None or ounces is None:
            return None
        negative = match[self._imperial[0]].strip().startswith(b"-")
        if self._imperial[0] == "stone" and not 0 <= pounds < _POUNDS:
            return None
        if not 0 <= ounces < _OUNCES:
            return None
        value = (abs(stone) * _POUNDS + abs(pounds)) * _OUNCES + ounces
        return -value if negative != said.negative else value

    def _value(self, match: re.Match[bytes], said: Said) -> Decimal | None:
        found = figure(match["value"], self._grammar.form, said.places)
        if found is None or not said.negative:
            return found
        return None if found < 0 else -found  # two signs that disagree are no number

    def _understand(self, imperial: bool, words: tuple[bytes, ...]) -> Said | str:
        """Kept for the next frame, since a scale has few words."""
        by_group = dict(zip(self._words, words, strict=True))
        said = understand(self._grammar, by_group, imperial)
        if isinstance(said, Said) and len(self._said) < MOST_KEPT:
            self._said[imperial, words] = said
        return said


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
