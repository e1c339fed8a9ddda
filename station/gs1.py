"""GS1 element strings as a wedge scanner types them: product (01), lot (10), expiry (17).

biip knows the identifiers and the form of each; what a scanner can do to a label on its way here is
doubted on top of it. Years are worked out here, from the day that is given.
"""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date

from biip import ParseConfig, ParseError
from biip.checksums import gs1_standard_check_digit
from biip.gs1_messages import GS1Message

SEPARATOR = "\x1d"
_AS_SENT = ParseConfig(gs1_element_strings_verify_date=False)
_PREFIX = re.compile(r"\](C1|e0|d2|Q3|J1)", re.IGNORECASE)
_CHANGED = re.compile(r"\^\]|\{GS\}|<GS>|\|", re.IGNORECASE)
"""What scanners that cannot type a separator put in its place."""
_DATES = ("17", "7003", "15")
"""Expiry, expiry with its time, best before: the first that is there counts as the expiry."""
_PACKED = ("13", "11")
"""Packed, made: the first that is there."""
_ITEM = re.compile(r"(?:00([0-9]{17})|0[12]([0-9]{13}))([0-9])")
_EXPIRY_FIRST = re.compile(r"17([0-9]{6})(?:10|[^0-9]|$)")
_DAY_FIRST = re.compile(r"1[135]([0-9]{6})1[057]")
_EXPIRY_LAST = re.compile(r"17([0-9]{6})$")
_ONE_DATE = 8
"""Signs of a date alone: somebody's lot number may look like it."""


class NotGs1(ValueError):
    """The text is no element string; the message says where it stops being one."""


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says of a bag: its lot, the day it expires, the code of the product (a GTIN of
    14 digits), and the day it was packed or made."""

    lot: str
    expires: date | None
    gtin: str | None = None
    packed: date | None = None

    @property
    def expires_text(self) -> str | None:
        """The day as YYYY-MM-DD."""
        return self.expires.isoformat() if self.expires else None


def looks_like(text: str) -> bool:
    """Whether a text is meant as an element string: it says so, holds a separator or what stands in
    for one, begins or ends with an expiry, or reads as one that has more than a lot."""
    if _PREFIX.match(text) or text.startswith("(") or SEPARATOR in text or _CHANGED.search(text):
        return True
    if any(
        head and _is_day(head[1]) for head in (_EXPIRY_FIRST.match(text), _DAY_FIRST.match(text))
    ):
        return True
    if (tail := _EXPIRY_LAST.search(text)) and len(text) > 10 and _is_day(tail[1]):
        return True
    item = _ITEM.match(text)
    if item and gs1_standard_check_digit(item[1] or item[2]) == int(item[3]):
        return True
    try:
        found = _elements(text)
    except NotGs1:
        return False
    dated = bool({*_DATES, "11", "13"} & set(found))
    return dated and len(text) > _ONE_DATE


def read_label(text: str, today: date) -> Label:
    """Lot and expiry of a label. Raises `NotGs1`; a year of two digits is the one nearest to today
    by the rule of the specifications (49 back, 50 on)."""
    if _CHANGED.search(text):
        raise NotGs1("the scanner put signs in place of the separator")
    elements = _elements(text)
    lot = elements.get("10", "")
    if not lot:
        raise NotGs1("it has no lot (10)")
    if (tail := _EXPIRY_LAST.search(lot)) and _is_day(tail[1]):
        raise NotGs1(f"lot {lot!r} ends like an expiry: the separator is missing")
    expiry = next((elements[code][:6] for code in _DATES if code in elements), "")
    packed = next((elements[code] for code in _PACKED if code in elements), "")
    return Label(
        lot,
        _day(expiry, today) if expiry else None,
        elements.get("01"),
        _day(packed, today) if packed else None,
    )


def _elements(text: str) -> dict[str, str]:
    """Identifier -> value, of "]C11727063010P-41" or as printed, "(17)270630(10)P-41". Raises
    `NotGs1`."""
    rest = _PREFIX.sub("", text, count=1).lstrip(SEPARATOR)
    if not rest.isascii():
        raise NotGs1("it holds what no label may: the scanner changed it")
    parse = GS1Message.parse_hri if rest.startswith("(") else GS1Message.parse
    try:
        found = parse(rest, config=_AS_SENT).element_strings
    except ParseError:
        raise NotGs1("a part of the label is missing or changed") from None
    elements: dict[str, str] = {}
    for element in found:
        code, value = element.ai.ai, element.value
        rest = rest.removeprefix(f"({code}){value}").removeprefix(code + value)
        if element.ai.separator_required and rest[:1] not in ("", SEPARATOR, "("):
            raise NotGs1(f"({code}) {value!r} goes on: the separator is missing")
        rest = rest.lstrip(SEPARATOR)
        if elements.setdefault(code, value) != value:
            raise NotGs1(f"({code}) is there twice and differs")
    if rest:  # the library passes over blanks and loose brackets
        raise NotGs1("a part of the label is missing or changed")
    return elements


def _is_day(text: str) -> bool:
    return 1 <= int(text[2:4]) <= 12 and int(text[4:]) <= 31


def _day(text: str, today: date) -> date:
    """YYMMDD; day 00 is the last of the month."""
    year, month, day = today.year // 100 * 100 + int(text[:2]), int(text[2:4]), int(text[4:])
    if year - today.year > 50:
        year -= 100
    elif today.year - year > 49:
        year += 100
    try:
        return date(year, month, day or monthrange(year, month)[1])
    except ValueError:
        raise NotGs1(f"(17) {text!r} is no date") from None
