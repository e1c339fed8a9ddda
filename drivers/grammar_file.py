"""The tables of a scale's file, as msgspec converts them; GRAMMARS.md explains each."""

import re
from difflib import get_close_matches
from typing import Any, Literal

import msgspec

from drivers import sums

USUAL_FRAME, LONGEST_FRAME = 128, 512
"""Bytes of a frame at most: where the file does not say, and where it does. More between two marks
is no frame."""


class LineSettings(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
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

    kind: sums.SumName
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
    With `exponent` those bits are a power of ten with its sign (two's complement), -6 to 3.
    """

    places: int | None = None
    group: str | None = None
    words: dict[str, int] = {}
    code: Code = "binary"
    mask: int = 7
    less: int = 0
    exponent: bool = False

    def __post_init__(self) -> None:
        told = [*self.words.values(), *([] if self.places is None else [self.places])]
        if any(not 0 <= places <= 6 for places in told):
            raise ValueError("decimals: a figure has 0 to 6 places")
        if (self.places is None) == (self.group is None):
            raise ValueError("decimals: either places, or the group that tells them")
        if self.words and self.group is None:
            raise ValueError("decimals: words belong to a group")
        if self.exponent and (self.group is None or self.words or self.less):
            raise ValueError("decimals: an exponent stands in a group, without words and less")


class Number(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """How the figures of a frame are sent.

    `code` text, bcd (two digits a byte) or binary; `order` low-first: the last digit, or byte,
    comes first; `signed`: a binary number has its sign in its highest bit (two's complement).
    `thousands` is the mark between groups of three digits.
    """

    code: Literal["text", "bcd", "binary"] = "text"
    order: sums.Order = "high-first"
    signed: bool = False
    thousands: Literal[" ", ".", ",", "'"] | None = None

    def __post_init__(self) -> None:
        if self.signed and self.code != "binary":
            raise ValueError("number.signed: only a binary number has its sign in a bit")
        if self.thousands is not None and self.code != "text":
            raise ValueError("number.thousands: only text has marks between its digits")


class Beside(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """A word that means one thing or another: which, the word in `group` tells."""

    group: str
    words: dict[str, str]


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


class File(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    name: str
    about: str
    regex: str | None = None
    columns: str | None = None
    units: tuple[str, ...] = ()
    driver: Literal["text"] = "text"
    measures: Literal["weight", "temperature", "pH"] = "weight"
    start: str = ""
    end: str = ""
    length: int | None = None
    longest: int = USUAL_FRAME
    parity: Literal["even", "odd", "any"] | None = None
    decimal: Literal[".", ","] = "."
    number: Number = msgspec.field(default_factory=Number)
    times: str | None = None
    kind: Literal["gross", "net", "tare"] | None = None
    unit: str | None = None
    unit_absent: Literal["moving", "stable"] | None = None
    line: LineSettings = msgspec.field(default_factory=LineSettings)
    checksum: Checksum | None = None
    unchecked: str | None = None
    decimals: Decimals | None = None
    status: dict[str, dict[str, str | Beside]] = {}
    patterns: dict[str, dict[str, str]] = {}
    padding: Literal["stripped", "counts"] = "stripped"
    bits: dict[str, dict[str, Any]] = {}
    poll: Poll | None = None
    orders: dict[Literal["zero", "clear-tare"], Order] = {}


TABLES: dict[str, type[msgspec.Struct]] = {
    "": File, "line": LineSettings, "checksum": Checksum, "decimals": Decimals, "number": Number,
    "poll": Poll, "orders.zero": Order, "orders.clear-tare": Order,
}  # fmt: skip
"""The tables whose keys are ours, by their names; "" is the file itself."""
_AS_SAID = re.compile(r"(?P<what>.*?)(?: - at `\$\.?(?P<at>[^`]*)`)?", re.DOTALL)
_OF_KINDS = re.compile(r"Expected `(?P<expected>[^`]+)`, got `(?P<found>[^`]+)`")
_MISSING = re.compile(r"Object missing required field `(?P<key>[^`]+)`")
_KINDS = {
    "int": "a whole number", "float": "a number with a point", "str": "text",
    "bool": "true or false", "object": "a table", "array": "a list",
}  # fmt: skip
"""What msgspec calls the kinds of values, in words for who writes the file."""


def in_words(error: msgspec.ValidationError) -> str:
    """What is wrong with a table, and where, without msgspec's terms."""
    said = _AS_SAID.fullmatch(str(error))
    if said is None:
        return str(error)
    what, at = said["what"], (said["at"] or "").replace("[...]", "")
    if kinds := _OF_KINDS.fullmatch(what):
        expected = " or ".join(
            _KINDS.get(kind, kind) for kind in kinds["expected"].split(" | ") if kind != "null"
        )
        found = _KINDS.get(kinds["found"], kinds["found"])
        return f"{at}: found {found}, expected {expected}"
    if missing := _MISSING.fullmatch(what):
        return f"{at + '.' if at else ''}{missing['key']}: this key is missing"
    return f"{at}: {what}" if at else what


def not_toml(error: Exception) -> str:
    """What is wrong with a file that is no TOML; with the form of a byte, where that was meant."""
    if "Unescaped '\\'" in str(error):
        return f'{error}; a byte is written as \\u0002 or \\r: "\\x02" is none in TOML'
    return str(error)


def check_keys(file: dict[str, Any], tables: dict[str, type[msgspec.Struct]]) -> None:
    """Raises `ValueError` for a key that there is not, with those that there are."""
    for name, row in tables.items():
        table: Any = file
        for part in name.split(".") if name else ():
            table = table.get(part) if isinstance(table, dict) else None
        allowed = row.__struct_fields__
        for key in table if isinstance(table, dict) else ():
            if key not in allowed:
                near = get_close_matches(key, allowed, 1)
                hint = f", did you mean {near[0]!r}?" if near else ""
                where = f"{name}.{key}" if name else key
                raise ValueError(f"{where}: no such key, allowed: {', '.join(allowed)}{hint}")
