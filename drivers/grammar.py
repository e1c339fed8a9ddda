"""A scale's line format, described in TOML, compiled to a parser: bytes in, readings out, no I/O.

A grammar is one bytes regex with named groups that must match a whole frame, the marks a frame
starts and ends with, tables that say what the words in a group mean, and an optional checksum.
A number is taken only from a frame that matches whole; everything else is a `Fault`.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce
from operator import xor
from typing import Literal, NamedTuple

import msgspec

from drivers.reading import Condition, Fault, Kind, Reading

MOST_KEPT = 256
"""Combinations of status words that a parser keeps in mind."""

LONGEST_FRAME = 128
"""Bytes between two frame marks beyond which they cannot be a frame."""

Meaning = Literal[
    "ok", "overload", "underload", "error", "gross", "net", "tare", "stable", "moving"
]
_CONDITIONS = {c.value: c for c in Condition}
_KINDS = {k.value: k for k in Kind}
_STABLE = {"stable": True, "moving": False}
_GROUPS = {"value", "unit", "tare", "checksum"}
_NUMBER = re.compile(rb"[+-]?[0-9]+(?:\.[0-9]+)?")


class GrammarError(ValueError):
    """A grammar file that cannot be used; the message names the file and the key."""


class Line(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """The line settings the format is usually sent with."""

    baud: int = 9600
    bits: str = "8N1"

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[78][NEO][12]", self.bits):
            raise ValueError(f"bits is {self.bits!r}, expected a word like 8N1, 7E1 or 8N2")
        if not 300 <= self.baud <= 230_400:
            raise ValueError(f"baud is {self.baud}, expected 300 to 230400")


class Checksum(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Two hexadecimal digits in the group `checksum`, over the bytes of the frame before it."""

    kind: Literal["xor", "sum", "complement"]


class _File(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    name: str
    about: str
    end: str
    regex: str
    start: str = ""
    decimal: Literal[".", ","] = "."
    kind: Literal["gross", "net", "tare"] = "gross"
    unit: str | None = None
    line: Line = msgspec.field(default_factory=Line)
    checksum: Checksum | None = None
    status: dict[str, dict[str, Meaning]] = {}


@dataclass(frozen=True, slots=True)
class Grammar:
    """A compiled grammar; `parser()` gives a fresh parser for one port."""

    name: str
    about: str
    line: Line
    start: bytes
    end: bytes
    pattern: re.Pattern[bytes]
    decimal: str
    kind: Kind
    unit: str | None
    checksum: Checksum | None
    status: dict[str, dict[bytes, Meaning]]

    def parser(self) -> "Parser":
        return Parser(self)


def compile_grammar(text: str, filename: str) -> Grammar:
    """Compile the TOML `text` of a grammar. Raises `GrammarError` with file, key and what to do."""

    def wrong(what: str) -> GrammarError:
        return GrammarError(f"{filename}: {what}")

    try:
        file = msgspec.convert(tomllib.loads(text), _File)
    except (tomllib.TOMLDecodeError, msgspec.ValidationError) as error:
        raise wrong(str(error)) from None
    if not file.end:
        raise wrong('end: a frame needs an end mark, for example end = "\\r\\n"')
    try:
        start, end = file.start.encode("latin-1"), file.end.encode("latin-1")
        pattern = re.compile(file.regex.encode("latin-1"), re.DOTALL)
    except (re.error, UnicodeEncodeError) as error:
        raise wrong(f"regex, start and end are bytes: {error}") from None
    groups = set(pattern.groupindex)
    if "value" not in groups:
        raise wrong("regex: a group (?P<value>...) must hold the number")
    if unknown := sorted(groups - _GROUPS - set(file.status)):
        raise wrong(f"regex: group {unknown[0]!r} has no table [status.{unknown[0]}]")
    if missing := sorted(set(file.status) - groups):
        raise wrong(f"status.{missing[0]}: the regex has no group of that name")
    if (file.checksum is not None) != ("checksum" in groups):
        raise wrong("checksum: the table [checksum] and a group (?P<checksum>...) go together")
    if file.unit is None and "unit" not in groups:
        raise wrong('unit: the frame has no group unit, so unit = "..." must say which it sends')
    status = {
        group: {word.encode("latin-1"): meaning for word, meaning in table.items()}
        for group, table in file.status.items()
    }
    return Grammar(
        name=file.name,
        about=file.about,
        line=file.line,
        start=start,
        end=end,
        pattern=pattern,
        decimal=file.decimal,
        kind=_KINDS[file.kind],
        unit=file.unit,
        checksum=file.checksum,
        status=status,
    )


class Parser:
    """Turns one port's bytes into readings and faults; keeps at most one frame's worth of them."""

    def __init__(self, grammar: Grammar) -> None:
        self._grammar = grammar
        self._rest = b""  # a frame that has no end yet
        groups = set(grammar.pattern.groupindex)
        self._groups = (*grammar.status, *({"unit"} & groups))
        self._has_tare = "tare" in groups
        self._said: dict[tuple[bytes | None, ...], _Said] = {}

    def reset(self) -> None:
        """Forget a half frame: the port was closed."""
        self._rest = b""

    def feed(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Yield what `data`, arrived at `time_s`, completes. Must be consumed to the end."""
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
                yield self._read(frame, time_s)
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
        start = self._grammar.start
        at = frame.rfind(start) if start else 0
        if at < 0:
            yield Fault("no start of frame", time_s, frame[-LONGEST_FRAME:])
        elif len(frame) - at > LONGEST_FRAME:
            yield Fault("longer than a frame can be", time_s, frame[-LONGEST_FRAME:])
        else:
            if at > 0:
                junk = frame[:at][-LONGEST_FRAME:]
                yield Fault("bytes before the start of a frame", time_s, junk)
            yield self._read(frame[at:], time_s)

    def _read(self, frame: bytes, time_s: float) -> Reading | Fault:
        """A frame with its start mark and without its end mark."""
        grammar = self._grammar
        raw = frame + grammar.end
        frame = frame[len(grammar.start) :]
        match = grammar.pattern.fullmatch(frame)
        if match is None:
            return Fault("not a frame of this grammar", time_s, raw)
        if grammar.checksum is not None and not _checksum_holds(grammar.checksum, frame, match):
            return Fault("wrong checksum", time_s, raw)
        words = tuple([match[group] for group in self._groups])
        said = self._said.get(words) or self._understand(words)
        if isinstance(said, str):
            return Fault(said, time_s, raw)
        if said.condition is not Condition.OK:
            return Reading(None, said.unit, said.kind, said.stable, said.condition, time_s, raw)
        value = _number(match["value"], grammar.decimal)
        tare = None
        if self._has_tare and match["tare"]:
            tare = _number(match["tare"], grammar.decimal)
            if tare is None:
                value = None
        if value is None:
            return Fault("no number where the weight belongs", time_s, raw)
        return Reading(value, said.unit, said.kind, said.stable, said.condition, time_s, raw, tare)

    def _understand(self, words: tuple[bytes | None, ...]) -> "_Said | str":
        """What the words of a frame mean together, or what is wrong with them; kept for the next
        frame, since a scale has few of them."""
        grammar = self._grammar
        condition, kind, stable, unit = Condition.OK, grammar.kind, None, grammar.unit
        for group, word in zip(self._groups, words, strict=True):
            if group == "unit":
                if word is not None:
                    unit = word.decode("latin-1").strip() or grammar.unit
                continue
            if group not in grammar.status:
                continue
            meaning = grammar.status[group].get(word or b"")
            if meaning is None or word is None:
                return f"unknown {group} {word!r}"
            if meaning in _STABLE:
                stable = _STABLE[meaning]
            elif meaning in _KINDS:
                kind = _KINDS[meaning]
            elif condition is Condition.OK:
                condition = _CONDITIONS[meaning]
        said = _Said(condition, kind, stable, unit)
        if len(self._said) < MOST_KEPT:
            self._said[words] = said
        return said


class _Said(NamedTuple):
    """What the words of one frame mean."""

    condition: Condition
    kind: Kind
    stable: bool | None
    unit: str | None


def _number(field: bytes, decimal: str) -> Decimal | None:
    """The one place where a scale's text becomes a number. Spaces stand around the sign only."""
    text = field.strip()
    if decimal == ",":
        if b"." in text:
            return None
        text = text.replace(b",", b".")
    if not _NUMBER.fullmatch(text):
        text = text[:1] + text[1:].lstrip()  # blanks behind the sign
        if text[:1] not in (b"+", b"-") or not _NUMBER.fullmatch(text):
            return None
    return Decimal(text.decode("ascii"))


def _checksum_holds(checksum: Checksum, frame: bytes, match: re.Match[bytes]) -> bool:
    covered = frame[: match.start("checksum")]
    total = reduce(xor, covered, 0) if checksum.kind == "xor" else sum(covered) & 0xFF
    if checksum.kind == "complement":
        total = -total & 0xFF
    return match["checksum"].upper() == b"%02X" % total
