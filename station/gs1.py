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
_PREFIX = re.compile(r"\](C1|e0|d2|Q3|J1)", re.IGNORECASE)
_CHANGED = re.compile(r"\^\]|\{GS\}|<GS>|\|", re.IGNORECASE)
"""What scanners that cannot type a separator put in its place."""
_DATES = ("17", "7003", "15")
"""Expiry, expiry with its time, best before: the first that is there counts as the expiry."""
_BRACKETED = re.compile(r"\((\d{2,4})\)((?:[^(]|\((?!\d{2,4}\)))*)")
_SIGNS = re.compile(r"[A-Za-z0-9!\"%&'()*+,\-./:;<=>?_]*")
"""The signs that elements may hold (the specifications' set 82)."""
_EXPIRY_AT = "03"
"""(7003) is the expiry with its time, YYMMDDHHMM; here its first two digits are read as (70)."""


class NotGs1(ValueError):
    """The text is no element string; the message says where it stops being one."""


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says of a bag: its lot, and the day it expires."""

    lot: str
    expires: date | None


def looks_like(text: str) -> bool:
    """Whether a text is meant as an element string: it says so, holds a separator or what stands in
    for one, begins or ends with an expiry, or reads as one that has more than a lot."""
    if _PREFIX.match(text) or text.startswith("(") or SEPARATOR in text or _CHANGED.search(text):
        return True
    if (head := re.match(r"17(\d{6})(?:10|\D|$)", text)) and _is_day(head[1]):
        return True
    if (tail := re.search(r"17(\d{6})$", text)) and len(text) > 10 and _is_day(tail[1]):
        return True
    try:
        found = _plain(text)
    except NotGs1:
        return False
    if "01" in found and _check_digit(found["01"][:13]) != int(found["01"][13]):
        return False
    return bool({"00", "01", "02", *_DATES, "11", "13"} & set(found)) and len(text) >= 10


def read_label(text: str, today: date) -> Label:
    """Lot and expiry of a label. Raises `NotGs1`; a year of two digits is the one nearest to today
    by the rule of the specifications (50 back, 49 on)."""
    if _CHANGED.search(text):
        raise NotGs1("the scanner put signs in place of the separator")
    elements = _bracketed(text) if text.startswith("(") else _plain(text)
    lot = elements.get("10", "")
    if not lot or len(lot) > 20:
        raise NotGs1("it has no lot (10) of up to 20 signs")
    if (tail := re.search(r"17(\d{6})$", lot)) and _is_day(tail[1]):
        raise NotGs1(f"lot {lot!r} ends like an expiry: the separator is missing")
    expiry = next((elements[code][:6] for code in _DATES if code in elements), "")
    return Label(lot, _day(expiry, today) if expiry else None)


def _bracketed(text: str) -> dict[str, str]:
    """As printed for people: "(17)270630(10)P-41"."""
    found = _BRACKETED.findall(text)
    if "".join(f"({code}){value}" for code, value in found) != text:
        raise NotGs1("a bracket is missing")
    elements: dict[str, str] = {}
    for code, value in found:
        _add(elements, code, value)
    return elements


def _plain(text: str) -> dict[str, str]:
    rest = _PREFIX.sub("", text, count=1).lstrip(SEPARATOR)
    found: dict[str, str] = {}
    while rest:
        code = rest[:2]
        if not _digits(code):
            raise NotGs1(f"{rest[:6]!r} begins with no identifier")
        length = _FIXED.get(code)
        if length is None:
            value, _, rest = rest[2:].partition(SEPARATOR)
        else:
            value, rest = rest[2 : 2 + length], rest[2 + length :].removeprefix(SEPARATOR)
            if len(value) < length:
                raise NotGs1(f"({code}) is cut short")
        if code == "70" and value.startswith(_EXPIRY_AT):
            code, value = code + _EXPIRY_AT, value[2:]
        _add(found, code, value)
    return found


def _add(elements: dict[str, str], code: str, value: str) -> None:
    """Take one element in; raise for one that holds what none may, or contradicts itself."""
    if not _SIGNS.fullmatch(value):
        raise NotGs1(f"({code}) {value!r} holds what no label may: the scanner changed it")
    if elements.setdefault(code, value) != value:
        raise NotGs1(f"({code}) is there twice and differs")


def _check_digit(digits: str) -> int:
    """Of an item number: weights 3 and 1 from the right, what is missing to the next ten."""
    total = sum(int(digit) * (3, 1)[n % 2] for n, digit in enumerate(reversed(digits)))
    return -total % 10


def _digits(text: str) -> bool:
    return text.isascii() and text.isdecimal()


def _is_day(text: str) -> bool:
    return 1 <= int(text[2:4]) <= 12 and int(text[4:]) <= 31


def _day(text: str, today: date) -> date:
    """YYMMDD; day 00 is the last of the month."""
    if len(text) != 6 or not _digits(text):
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
