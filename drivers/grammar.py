"""A scale's line format, described in TOML and checked: what a parser needs to know. No I/O.

A grammar is one bytes regex with named groups that must match a whole frame (or a picture of the
frame, which becomes one), the marks a frame starts and ends with (or its length), tables that say
what the words and bits in a group mean, where the decimal point is if it is not sent, and an
optional checksum. config/scales/GRAMMARS.md is the page for people who write one.
"""

import re
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

import msgspec

from drivers.columns import drawn
from drivers.figure import Form
from drivers.grammar_check import check
from drivers.grammar_file import (
    TABLES,
    USUAL_FRAME,
    Beside,
    Checksum,
    Code,
    Decimals,
    File,
    LineSettings,
    Order,
    Poll,
    check_keys,
    in_words,
    not_toml,
)
from drivers.meanings import FACTORS, KINDS, STABLE, check_meaning
from drivers.reading import Kind
from drivers.slow import MOST_REPEATS, compiled, why_slow, width

Meaning = str | Beside


class GrammarError(ValueError):
    """A grammar file that cannot be used; the message names the file and the key."""


class BitField(msgspec.Struct, frozen=True):
    """Some bits side by side: the number of the lowest, how many, what each number means."""

    low: int
    many: int
    meanings: tuple[str, ...]


class Bits(msgspec.Struct, frozen=True):
    """A group of status bits."""

    code: Code
    fields: tuple[BitField, ...]


class Words(msgspec.Struct, frozen=True):
    """What the words of a group mean: as they are sent, without the blanks around them (where that
    is no other word), and by the patterns that they follow."""

    exact: dict[bytes, Meaning]
    bare: dict[bytes, Meaning]
    patterns: tuple[tuple[re.Pattern[bytes], str], ...]

    def meaning(self, word: bytes) -> Meaning | None:
        """None for a word that is none of them."""
        found = self.exact.get(word)
        if found is None:
            found = self.bare.get(word.strip())
        if found is None:
            found = next((m for pattern, m in self.patterns if pattern.fullmatch(word)), None)
        return found


@dataclass(frozen=True, slots=True)
class Grammar:
    """A checked grammar, compiled for a parser."""

    name: str
    about: str
    measures: Literal["weight", "temperature", "pH"]
    line: LineSettings
    start: bytes
    end: bytes
    length: int | None
    pattern: re.Pattern[bytes]
    longest: int
    parity: str | None
    form: Form
    times: Decimal
    kind: Kind
    unit: str | None
    unit_absent: bool | None
    checksum: Checksum | None
    unchecked: str
    """Why no unread field of the frame is a checksum, in the words of who wrote the file."""
    decimals: Decimals | None
    status: dict[str, Words]
    bits: dict[str, Bits]
    poll: Poll | None
    orders: dict[str, Order]

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(self.pattern.groupindex)


def compile_grammar(text: str, filename: str) -> Grammar:
    """Check and compile the TOML `text`. Raises `GrammarError` with file, key and what to do."""
    try:
        table = tomllib.loads(text)
        check_keys(table, TABLES)
        return _compiled(msgspec.convert(table, File))
    except msgspec.ValidationError as error:
        raise GrammarError(f"{filename}: {in_words(error)}") from None
    except (ValueError, RecursionError, OverflowError) as error:  # the parsers' own errors too
        raise GrammarError(f"{filename}: {not_toml(error)}") from None


def _compiled(file: File) -> Grammar:
    """Raises `ValueError` for the first thing that is wrong."""
    file = drawn(file)
    regex = file.regex or ""
    try:
        start, end = file.start.encode("latin-1"), file.end.encode("latin-1")
        pattern = compiled(regex)
    except ValueError as error:
        raise ValueError(f"regex, start and end are bytes: {error}") from None
    longest = max(file.longest, len(start) + (file.length or 0))
    if slow := why_slow(regex, MOST_REPEATS if longest <= USUAL_FRAME else MOST_REPEATS - 1):
        raise ValueError(f"regex: {slow}")
    check(file, set(pattern.groupindex))
    return Grammar(
        name=file.name,
        about=file.about,
        measures=file.measures,
        line=file.line,
        start=start,
        end=end,
        length=file.length,
        pattern=pattern,
        longest=longest,
        parity=file.parity,
        form=Form(file.decimal, file.number),
        times=FACTORS[file.times] if file.times is not None else Decimal(1),
        kind=KINDS[file.kind or "gross"],
        unit=file.unit,
        unit_absent=None if file.unit_absent is None else STABLE[file.unit_absent],
        checksum=file.checksum,
        unchecked=file.unchecked or "",
        decimals=file.decimals,
        status={
            group: _words(file, group) for group in dict.fromkeys([*file.status, *file.patterns])
        },
        bits={
            group: _bits(group, table, width(regex, group)) for group, table in file.bits.items()
        },
        poll=file.poll,
        orders={name: _order(name, order) for name, order in file.orders.items()},
    )


def _words(file: File, group: str) -> Words:
    exact = {
        word.encode("latin-1"): meaning for word, meaning in file.status.get(group, {}).items()
    }
    bare: dict[bytes, Meaning] = {}
    if file.padding == "stripped":
        for word in {word.strip() for word in exact}:
            meanings = [meaning for each, meaning in exact.items() if each.strip() == word]
            if all(meaning == meanings[0] for meaning in meanings):
                bare[word] = meanings[0]
    patterns = file.patterns.get(group, {}).items()
    return Words(exact, bare, tuple((compiled(text), meaning) for text, meaning in patterns))


_BIT = re.compile(r"([0-9]{1,2})(?:-([0-9]{1,2}))?")
_MOST_BITS = 32


def _bits(group: str, table: dict[str, Any], width: int) -> Bits:
    code = table.get("code", "binary")
    if code not in ("binary", "hex"):
        raise ValueError(f"bits.{group}.code: found {code!r}, expected binary or hex")
    fields = tuple(_bit_field(group, key, table[key]) for key in table if key != "code")
    there = width * (4 if code == "hex" else 8)
    if any(field.low + field.many > there for field in fields):
        raise ValueError(f"bits.{group}: its group has the bits 0 to {there - 1} and no more")
    return Bits(code, fields)


def _bit_field(group: str, key: str, value: object) -> BitField:
    match = _BIT.fullmatch(key)
    low = int(match[1]) if match else -1
    many = int(match[2]) - low + 1 if match and match[2] else 1
    words = [str(word) for word in value] if isinstance(value, list) else [str(value)]
    if not (match and many >= 1 and low + many <= _MOST_BITS and 1 <= len(words) <= 1 << many):
        raise ValueError(
            f"bits.{group}: found {key!r}, a bit is 0 to 31, with its meaning set (and clear);"
            ' several are "2-4", with the meaning of each number from 0 on'
        )
    for word in words:
        check_meaning(f"bits.{group}.{key}", word)
    if not match[2]:
        words = [words[1] if len(words) == 2 else "", words[0]]
    return BitField(low, many, tuple(words))


def _order(name: str, order: Order) -> Order:
    try:
        compiled(order.ack)
    except ValueError as error:
        raise ValueError(f"orders.{name}.ack: {error}") from None
    if slow := why_slow(order.ack):
        raise ValueError(f"orders.{name}.ack: {slow}")
    return order
