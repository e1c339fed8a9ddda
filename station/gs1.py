"""GS1 element strings as a wedge scanner types them: lot (10), expiry (17).

GS1 General Specifications: elements of fixed length follow each other; those of variable length end
at a group separator or at the end of the string. From memory of the published table of lengths.
"""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date

SEPARATOR = "\x1d"
_FIXED = {
    "00": 18, "01": 14, "02": 14, "03": 14, "04": 16, "11": 6, "12": 6, "13": 6, "14": 6, "15": 6,
    "16": 6, "17": 6, "18": 6, "19": 6, "20": 2, "31": 8, "32": 8, "33": 8, "34": 8, "35": 8,
    "36": 8, "41": 14,
}  # fmt: skip
"""Digits behind the first two of an identifier that says its length itself."""
_PREFIX = re.compile(r"\](C1|e0|d2|Q3|J1)")
_BRACKETED = re.compile(r"\((\d{2,4})\)([^(]*)")


class NotGs1(ValueError):
    """The text is no element string; the message says where it stops being one."""


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says of a bag: its lot, and the day it expires."""

    lot: str
    expires: date | None


def looks_like(text: str) -> bool:
    """Whether a text is meant as an element string: it says so, or holds a separator."""
    return bool(_PREFIX.match(text) or text.startswith("(") or SEPARATOR in text)


def read_label(text: str, today: date) -> Label:
    """Lot and expiry of a label. Raises `NotGs1`; a year of two digits is the one nearest to today
    by the rule of the specifications (50 back, 49 on)."""
    elements = _bracketed(text) if text.startswith("(") else _plain(text)
    lot = elements.get("10", "")
    if not lot or len(lot) > 20:
        raise NotGs1("it has no lot (10) of up to 20 signs")
    expiry = elements.get("17")
    return Label(lot, None if expiry is None else _day(expiry, today))


def _bracketed(text: str) -> dict[str, str]:
    """As printed for people: "(17)270630(10)P-41"."""
    found = _BRACKETED.findall(text)
    if "".join(f"({code}){value}" for code, value in found) != text:
        raise NotGs1("a bracket is missing")
    return dict(found)


def _plain(text: str) -> dict[str, str]:
    rest = _PREFIX.sub("", text, count=1).lstrip(SEPARATOR)
    found: dict[str, str] = {}
    while rest:
        code = rest[:2]
        if not code.isdigit():
            raise NotGs1(f"{rest[:6]!r} begins with no identifier")
        length = _FIXED.get(code)
        if length is None:
            value, _, rest = rest[2:].partition(SEPARATOR)
        else:
            value, rest = rest[2 : 2 + length], rest[2 + length :].removeprefix(SEPARATOR)
            if len(value) < length:
                raise NotGs1(f"({code}) is cut short")
        found.setdefault(code, value)
    return found


def _day(text: str, today: date) -> date:
    """YYMMDD; day 00 is the last of the month."""
    if len(text) != 6 or not text.isdigit():
        raise NotGs1(f"(17) {text!r} is no date")
    year, month, day = today.year // 100 * 100 + int(text[:2]), int(text[2:4]), int(text[4:])
    if year - today.year >= 50:
        year -= 100
    elif today.year - year > 50:
        year += 100
    try:
        return date(year, month, day or monthrange(year, month)[1])
    except ValueError:
        raise NotGs1(f"(17) {text!r} is no date") from None
