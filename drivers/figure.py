"""The one place where what a scale sends becomes a number. Pure.

The decimal mark and the mark between thousands are known beforehand and never guessed: a figure
that does not follow them whole is no number.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Literal

from drivers.grammar_file import Number

_SIGNS = (b"+", b"-")


@dataclass(frozen=True, slots=True)
class Form:
    """How figures are sent: the decimal mark, and the file's table [number]."""

    decimal: Literal[".", ","]
    number: Number


@cache
def _pattern(decimal: str, thousands: str | None, point_sent: bool) -> re.Pattern[bytes]:
    """A number as text. With a mark between thousands, four digits without one are none: the mark
    was lost, and perhaps more."""
    whole = "[0-9]+"
    if thousands is not None:
        whole = f"[0-9]{{1,3}}(?:{re.escape(thousands)}[0-9]{{3}})*"
    point = re.escape(decimal)
    broken = f"(?:{whole}(?:{point}[0-9]*)?|{point}[0-9]+)"
    return re.compile(f"[+-]?{broken if point_sent else whole}".encode("latin-1"))


def figure(field: bytes, form: Form, places: int | None) -> Decimal | None:
    """The number in a field; None where it holds none. With `places` the point is not sent (a field
    that has one all the same is no number); fewer than none are noughts that are not sent."""
    number = form.number
    if number.code == "text":
        found = _of_text(field[::-1] if number.order == "low-first" else field, form, places)
    else:
        found = _of_bytes(field[::-1] if number.order == "low-first" else field, number)
    if found is None or not places:
        return found
    return found.scaleb(-places) if places > 0 else found * 10**-places


def _of_text(field: bytes, form: Form, places: int | None) -> Decimal | None:
    """Blanks stand around the number, and between it and its sign."""
    text, thousands = field.strip(), form.number.thousands
    pattern = _pattern(form.decimal, thousands, places is None)
    if not pattern.fullmatch(text):
        text = text[:1] + text[1:].lstrip()
        if text[:1] not in _SIGNS or not pattern.fullmatch(text):
            return None
    plain = text.decode("ascii")
    if thousands is not None:
        plain = plain.replace(thousands, "")
    return Decimal(plain.replace(form.decimal, "."))


def _of_bytes(field: bytes, number: Number) -> Decimal | None:
    if not field:
        return None
    if number.code == "binary":
        return Decimal(int.from_bytes(field, "big", signed=number.signed))
    digits = field.hex()
    return Decimal(digits) if digits.isdecimal() else None
