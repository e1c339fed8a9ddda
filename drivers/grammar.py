"""A scale's line format, described in TOML and checked: what a parser needs to know. No I/O.

A grammar is one bytes regex with named groups that must match a whole frame, the marks a frame
starts and ends with (or its length), tables that say what the words and bits in a group mean, where
the decimal point is if it is not sent, and an optional checksum. config/scales/GRAMMARS.md is the
page for people who write one.
"""

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import msgspec

from drivers import sums
from drivers.reading import Condition, Kind
from drivers.slow import why_slow

LONGEST_FRAME = 128
"""Bytes of a frame at most: more between two marks cannot be one."""

NUMBERS = frozenset({"value", "tare", "pounds", "ounces"})
"""Groups that hold figures."""
_GROUPS = NUMBERS | {"unit", "checksum"}
CONDITIONS = {
    **{condition.value: condition for condition in Condition},
    "blank": Condition.ERROR,
}
KINDS = {kind.value: kind for kind in Kind}
STABLE = {"stable": True, "moving": False}
UNIT_WORD = "unit "
"""A meaning such as "unit kg": the word or bit tells the unit."""
_MEANINGS = {*CONDITIONS, *KINDS, *STABLE, "negative", ""}


class Told(NamedTuple):
    """What meanings come to together."""

    condition: Condition
    kind: Kind
    stable: bool | None


def added_up(meanings: Iterable[str], kind: Kind) -> Told:
    """Of conditions the first that is not ok holds, of other things the last."""
    condition, stable = Condition.OK, None
    for meaning in meanings:
        if meaning in STABLE:
            stable = STABLE[meaning]
        elif meaning in KINDS:
            kind = KINDS[meaning]
        elif meaning in CONDITIONS and condition is Condition.OK:
            condition = CONDITIONS[meaning]
    return Told(condition, kind, stable)


class GrammarError(ValueError):
    """A grammar file that cannot be used; the message names the file and the key."""


class Line(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """The line settings the format is usually sent with. `dtr` and `rts`: the levels of the control
    lines while the port is open."""

    baud: int = 9600
    bits: str = "8N1"
    dtr: bool = True
    rts: bool = True

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[78][NEO][12]", self.bits):
            raise ValueError(f"bits is {self.bits!r}, expected a word like 8N1, 7E1 or 8N2")
        if not 300 <= self.baud <= 230_400:
            raise ValueError(f"baud is {self.baud}, expected 300 to 230400")


Code = Literal["binary", "hex"]
"""How a byte is sent: as itself, or as two hexadecimal digits (one for a half)."""


class Checksum(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Over the bytes from `first` through `last`, both included.

    `first` is "frame" (behind the start mark), "start" (with it) or a group; `last` a group, or all
    bytes before the checksum. `width`: bits of a byte that count, 7 on a line of seven. `order`: of
    the two bytes of a sum of 16 bits.
    """

    kind: sums.Kind
    code: sums.Code = "hex"
    first: str = "frame"
    last: str | None = None
    width: Literal[7, 8] = 8
    order: sums.Order = "high-first"

    def __post_init__(self) -> None:
        if self.width == 7 and sums.SUMS[self.kind].bits != 8:
            raise ValueError(f"checksum.width: {self.kind} has 16 bits, 7 go with sums of 8")


class Decimals(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Where the decimal point of figures is that are sent without one.

    `places` fixed; or the group that tells: by `words`, or by its bits under `mask`, less `less`.
    """

    places: int | None = None
    group: str | None = None
    words: dict[str, int] = {}
    code: Code = "binary"
    mask: int = 7
    less: int = 0

    def __post_init__(self) -> None:
        told = [*self.words.values(), *([] if self.places is None else [self.places])]
        if any(not 0 <= places <= 6 for places in told):
            raise ValueError("decimals: a figure has 0 to 6 places")
        if (self.places is None) == (self.group is None):
            raise ValueError("decimals: either places, or the group that tells them")
        if self.words and self.group is None:
            raise ValueError("decimals: words belong to a group")


class Poll(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """How a scale is asked: the bytes of the question, how often, and how long it may take."""

    send: str
    period_ms: int = 200
    timeout_ms: int = 500

    def __post_init__(self) -> None:
        if not 20 <= self.period_ms <= 10_000 or not 20 <= self.timeout_ms <= 10_000:
            raise ValueError("period_ms and timeout_ms: expected 20 to 10000")
        self.send.encode("latin-1")  # bytes, not letters of any alphabet


class Order(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Something the scale can be told, and the regex of the frame by which it says that it did."""

    send: str
    ack: str
    timeout_ms: int = 2000

    def __post_init__(self) -> None:
        if not 100 <= self.timeout_ms <= 10_000:
            raise ValueError("timeout_ms: expected 100 to 10000")
        self.send.encode("latin-1")


class Bits(msgspec.Struct, frozen=True):
    """A group of status bits: number of a bit -> what it means set, and clear."""

    code: Code
    meanings: dict[int, tuple[str, str]]


class _File(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    name: str
    about: str
    regex: str
    driver: Literal["text"] = "text"
    start: str = ""
    end: str = ""
    length: int | None = None
    decimal: Literal[".", ","] = "."
    kind: Literal["gross", "net", "tare"] | None = None
    unit: str | None = None
    unit_absent: Literal["moving", "stable"] | None = None
    line: Line = msgspec.field(default_factory=Line)
    checksum: Checksum | None = None
    unchecked: str | None = None
    decimals: Decimals | None = None
    status: dict[str, dict[str, str]] = {}
    bits: dict[str, dict[str, Any]] = {}
    poll: Poll | None = None
    orders: dict[Literal["zero", "clear-tare"], Order] = {}


@dataclass(frozen=True, slots=True)
class Grammar:
    """A checked grammar, compiled for a parser."""

    name: str
    about: str
    line: Line
    start: bytes
    end: bytes
    length: int | None
    pattern: re.Pattern[bytes]
    decimal: str
    kind: Kind
    unit: str | None
    unit_absent: bool | None
    checksum: Checksum | None
    unchecked: str
    """Why no unread field of the frame is a checksum, in the words of who wrote the file."""
    decimals: Decimals | None
    status: dict[str, dict[bytes, str]]
    bits: dict[str, Bits]
    poll: Poll | None
    orders: dict[str, Order]

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(self.pattern.groupindex)


def compile_grammar(text: str, filename: str) -> Grammar:
    """Check and compile the TOML `text`. Raises `GrammarError` with file, key and what to do."""
    try:
        return _compiled(msgspec.convert(tomllib.loads(text), _File))
    except (ValueError, RecursionError, OverflowError) as error:  # the parsers' own errors too
        raise GrammarError(f"{filename}: {error}") from None


def _compiled(file: _File) -> Grammar:
    """Raises `ValueError` for the first thing that is wrong."""
    try:
        start, end = file.start.encode("latin-1"), file.end.encode("latin-1")
        pattern = re.compile(file.regex.encode("latin-1"), re.DOTALL)
    except (re.error, UnicodeEncodeError) as error:
        raise ValueError(f"regex, start and end are bytes: {error}") from None
    if slow := why_slow(file.regex):
        raise ValueError(f"regex: {slow}")
    _check_frame(file)
    _check_groups(file, set(pattern.groupindex))
    return Grammar(
        name=file.name,
        about=file.about,
        line=file.line,
        start=start,
        end=end,
        length=file.length,
        pattern=pattern,
        decimal=file.decimal,
        kind=KINDS[file.kind or "gross"],
        unit=file.unit,
        unit_absent=None if file.unit_absent is None else STABLE[file.unit_absent],
        checksum=file.checksum,
        unchecked=file.unchecked or "",
        decimals=file.decimals,
        status={
            group: {word.encode("latin-1"): meaning for word, meaning in table.items()}
            for group, table in file.status.items()
        },
        bits={group: _bits(group, table) for group, table in file.bits.items()},
        poll=file.poll,
        orders={name: _order(name, order) for name, order in file.orders.items()},
    )


def _check_frame(file: _File) -> None:
    if not (file.start or file.end or file.length):
        raise ValueError('a frame needs an end mark such as end = "\\r\\n", a start, or a length')
    if file.length is not None and not 2 <= file.length <= LONGEST_FRAME:
        raise ValueError(f"length: expected 2 to {LONGEST_FRAME}, the bytes between the marks")
    if file.start and file.end and (file.end in file.start or file.start in file.end):
        raise ValueError("start and end: neither can be, or be part of, the other")


def _check_groups(file: _File, groups: set[str]) -> None:
    if ("value" in groups) == ("pounds" in groups) or ("pounds" in groups) != ("ounces" in groups):
        raise ValueError("regex: one group (?P<value>...), or pounds and ounces, hold the number")
    told = {*file.status, *file.bits}
    if file.decimals is not None and file.decimals.group:
        told.add(file.decimals.group)
    if unknown := sorted(groups - _GROUPS - told):
        raise ValueError(f"regex: group {unknown[0]!r} has no table [status.{unknown[0]}]")
    if missing := sorted(told - groups):
        raise ValueError(f"status.{missing[0]}: the regex has no group of that name")
    if owned := sorted(({*file.status} & (_GROUPS - {"value"})) | ({*file.bits} & _GROUPS)):
        raise ValueError(f"{owned[0]}: its group is no status word, it needs no table")
    for word, meaning in file.status.get("value", {}).items():
        if word != word.strip() or meaning not in CONDITIONS:
            raise ValueError(f"status.value.{word!r}: a bare word, and a condition it stands for")
    for group, table in file.status.items():
        for word, meaning in table.items():
            _check_meaning(f"status.{group}.{word!r}", meaning)
    _check_checksum(file, groups)
    _check_told(file, groups)


def _check_told(file: _File, groups: set[str]) -> None:
    """The unit, and whether it is net, must be told by the frame or by the file."""
    tells_unit = "unit" in groups or "pounds" in groups
    tells_unit = tells_unit or any(meaning.startswith(UNIT_WORD) for meaning in _meanings(file))
    if file.unit is None and not tells_unit:
        raise ValueError('unit: the frame has no group unit, so unit = "..." must say which it is')
    if "tare" in groups and file.kind is None and "net" not in _meanings(file):
        raise ValueError("kind: the frame has a tare, so a word or kind must tell net from gross")
    if file.unit_absent is not None and "unit" not in groups:
        raise ValueError("unit_absent: the regex has no group unit")


def _check_checksum(file: _File, groups: set[str]) -> None:
    if (file.checksum is not None) != ("checksum" in groups):
        raise ValueError("checksum: the table [checksum] and a group (?P<checksum>...) go together")
    if file.unchecked is not None and (file.checksum is not None or not file.unchecked.strip()):
        raise ValueError("unchecked: why no field is a checksum, in a frame that has none")
    if file.checksum is not None:
        first, last = file.checksum.first, file.checksum.last
        places = {name: n for n, name in enumerate(_in_order(file.regex))}
        for edge in (first, last):
            if edge not in (None, "frame", "start") and edge not in groups - {"checksum"}:
                raise ValueError(f"checksum: the regex has no group {edge!r} to count from or to")
        if last in ("frame", "start"):
            raise ValueError("checksum.last: a group, or nothing for all bytes before the checksum")
        begin = places.get(first, -1)
        if begin > places[last or "checksum"]:
            raise ValueError("checksum: it begins behind its end")


def _in_order(regex: str) -> list[str]:
    return re.findall(r"\(\?P<(\w+)>", regex)


def _meanings(file: _File) -> set[str]:
    """All that the words and bits of the tables can mean."""
    found = {meaning for table in file.status.values() for meaning in table.values()}
    for table in file.bits.values():
        for pair in table.values():
            found |= {str(meaning) for meaning in (pair if isinstance(pair, list) else [pair])}
    return found


def _check_meaning(where: str, meaning: str) -> None:
    if meaning not in _MEANINGS and not meaning.startswith(UNIT_WORD):
        known = ", ".join(sorted(word for word in _MEANINGS if word))
        raise ValueError(f"{where}: found {meaning!r}, expected one of {known}, or unit kg")


def _bits(group: str, table: dict[str, Any]) -> Bits:
    code = table.get("code", "binary")
    if code not in ("binary", "hex"):
        raise ValueError(f"bits.{group}.code: found {code!r}, expected binary or hex")
    meanings: dict[int, tuple[str, str]] = {}
    for key, value in table.items():
        if key == "code":
            continue
        pair = value if isinstance(value, list) else [value]
        if key not in tuple("01234567") or not 1 <= len(pair) <= 2:
            raise ValueError(f"bits.{group}: a bit is 0 to 7, with its meaning set (and clear)")
        for meaning in pair:
            _check_meaning(f"bits.{group}.{key}", str(meaning))
        meanings[int(key)] = (str(pair[0]), str(pair[1]) if len(pair) == 2 else "")
    return Bits(code, meanings)


def _order(name: str, order: Order) -> Order:
    try:
        re.compile(order.ack.encode("latin-1"))
    except (re.error, UnicodeEncodeError) as error:
        raise ValueError(f"orders.{name}.ack: {error}") from None
    if slow := why_slow(order.ack):
        raise ValueError(f"orders.{name}.ack: {slow}")
    return order
