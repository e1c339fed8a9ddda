"""From a terminal's bytes to keys and scans. Pure: time comes in with the bytes.

A wedge scanner types like a person, only faster: two signs or more without a pause between them
and an Enter are a scan and never keys.
"""

import codecs
from collections.abc import Iterator
from dataclasses import dataclass

SEPARATOR = "\x1d"
"""What GS1 labels put between elements, and the only sign of a label that is not printable."""

BURST_S = 0.05
"""What follows within this time was not typed by a hand."""
LEAST_SCAN = 2

_SEQUENCES = {
    "[A": "up", "OA": "up", "[B": "down", "OB": "down", "[C": "right", "OC": "right",
    "[D": "left", "OD": "left", "[H": "home", "OH": "home", "[1~": "home", "[F": "end",
    "OF": "end", "[4~": "end", "[2~": "insert", "[3~": "delete", "[5~": "page-up",
    "[6~": "page-down", "OM": "enter", "Ok": "plus", "Om": "minus",
    "OP": "f1", "OQ": "f2", "OR": "f3", "OS": "f4", "[[A": "f1", "[[B": "f2", "[[C": "f3",
    "[[D": "f4", "[[E": "f5", "[11~": "f1", "[12~": "f2", "[13~": "f3", "[14~": "f4",
    "[15~": "f5", "[17~": "f6", "[18~": "f7", "[19~": "f8", "[20~": "f9", "[21~": "f10",
    "[23~": "f11", "[24~": "f12",
    **{f"O{chr(112 + digit)}": str(digit) for digit in range(10)},
}  # fmt: skip
"""What ANSI, VT220, Linux and xterm keyboards send after ESC, the keypad in both its modes."""
_NAMED = {
    "\r": "enter", "\n": "enter", "+": "plus", "-": "minus", " ": "space", "\t": "tab",
    "\x7f": "backspace", "\x08": "backspace", "\x1b": "escape", "*": "star", "/": "slash",
    ".": "point",
}  # fmt: skip
NAMES = frozenset(_SEQUENCES.values()) | frozenset(_NAMED.values())


def is_key(name: str) -> bool:
    """Whether a name in the settings can be a key: one of `NAMES`, or a single sign."""
    return name in NAMES or (len(name) == 1 and name.isprintable() and name not in _NAMED)


@dataclass(frozen=True, slots=True)
class Press:
    """One key, by name."""

    key: str


@dataclass(frozen=True, slots=True)
class Scan:
    """What a scanner typed, without its Enter."""

    text: str


class KeyReader:
    """Feed bytes as they come; ask `ready` for what is sure by now."""

    def __init__(self) -> None:
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._burst = ""
        self._last_s = 0.0

    def feed(self, data: bytes, time_s: float) -> list[Press | Scan]:
        """Take in bytes read at `time_s`; what was typed before a pause is sure now, and so are
        arrows and the like, which no scanner types."""
        done = self.ready(time_s)
        self._burst += self._decoder.decode(data)
        self._last_s = time_s
        while (found := _sequence(self._burst)) is not None:
            done.append(Press(_SEQUENCES[found]))
            self._burst = self._burst[1 + len(found) :]
        return done

    def ready(self, time_s: float) -> list[Press | Scan]:
        """What was typed, once nothing has followed it for `BURST_S`.

        A scan ends with Enter and is not one sign over and over: that is a key held down. Other
        bursts are nobody's keys, and nothing.
        """
        if not self._burst or time_s - self._last_s < BURST_S:
            return []
        burst, self._burst = self._burst, ""
        text = burst.rstrip("\r\n")
        if len(text) < LEAST_SCAN or not text.replace(SEPARATOR, "").isprintable():
            return [Press(key) for key in _keys(burst)]
        if text == burst or len(set(text)) == 1:
            return []
        return [Scan(text.strip(" "))]


def _sequence(burst: str) -> str | None:
    """The sequence that a burst begins with, or None."""
    if not burst.startswith("\x1b"):
        return None
    return max((s for s in _SEQUENCES if burst.startswith(s, 1)), key=len, default=None)


def _keys(burst: str) -> Iterator[str]:
    at = 0
    while at < len(burst):
        if burst[at] == "\x1b":
            tail = burst[at + 1 :]
            found = _sequence(burst[at:])
            if found is not None:
                yield _SEQUENCES[found]
                at += 1 + len(found)
                continue
            if tail[:1] in ("[", "O"):  # a key that no table knows: none of its signs is a key
                at += _length(tail) + 1
                continue
        yield _NAMED.get(burst[at], burst[at])
        at += 1


def _length(tail: str) -> int:
    """Signs of an escape sequence after ESC: up to its final letter or tilde."""
    for n, sign in enumerate(tail[1:], 2):
        if sign.isalpha() or sign == "~":
            return n
    return len(tail)
