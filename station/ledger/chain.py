"""The hash chain: each event's hash covers the one before it, so nothing changes unnoticed.

hash = SHA-256(prev || canonical(seq, at, batch, kind, body)), canonical JSON by RFC 8785; the first
`prev` is the SHA-256 of the ledger's random id.
"""

import hashlib
import re
from typing import Any

import msgspec
import rfc8785

Body = dict[str, Any]

_quick = msgspec.json.Encoder(order="deterministic")
"""Writes what RFC 8785 does, but for the order of keys with signs above U+D7FF (by code point, not
by UTF-16), fractions, and numbers of 16 digits and more."""

_NUMBERS = tuple(
    re.compile(before + r"-?[0-9]+(?:[.eE]|(?<=[0-9]{16}))") for before in ("^", ":", ",", r"\[")
)
"""A number that is for the slow way, after each sign that may stand before one in canonical JSON;
also in some texts, which costs nothing but time. One by one they are found three times as fast."""


class BodyError(TypeError):
    """A body holds what the ledger does not: a float, a key that is no text, a huge number."""


def canonical_body(body: Body) -> str:
    """The body as canonical JSON. Raises `BodyError`."""
    _check(body)
    return rfc8785.dumps(body).decode("utf-8")


def is_canonical(body: Any, text: str) -> bool:
    """Whether `text` is what `canonical_body` makes of `body`, which was read from it; ten times as
    fast where that is no question. Raises `BodyError`, `ValueError`, `RecursionError`."""
    if (text.isascii() or max(text) < "\ud800") and not any(n.search(text) for n in _NUMBERS):
        return _quick.encode(body) == text.encode()
    return canonical_body(body) == text


def first_prev(ledger_id: bytes) -> bytes:
    """The `prev` of event 1."""
    return hashlib.sha256(ledger_id).digest()


def event_hash(prev: bytes, seq: int, at: str, batch: str | None, kind: str, body: str) -> bytes:
    """The raw 32 bytes of an event's hash; `body` is canonical JSON already.

    An array's canonical form is its elements' between commas (RFC 8785, section 3.2.2), so the
    body, by far the longest of them, is made canonical once. Raises `ValueError` for text that no
    JSON can hold.
    """
    start = _quick.encode((seq, at, batch, kind))[:-1]  # no keys and no fraction: as RFC 8785
    return hashlib.sha256(prev + start + b"," + body.encode("utf-8") + b"]").digest()


def head_text(digest: bytes) -> str:
    """The first 16 hex digits in groups of four, as printed on every sheet."""
    digits = digest.hex()
    return " ".join(digits[at : at + 4] for at in (0, 4, 8, 12))


def _check(value: Any) -> None:
    """Only text, bool, null, small integers, lists and objects: decimals go as plain text."""
    if isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                raise BodyError(f"a key that is no text: {key!r}")
            _check(item)
    elif isinstance(value, list):
        for item in value:
            _check(item)
    elif isinstance(value, int) and abs(value) >= 2**53:
        raise BodyError(f"too large for an integer of the ledger: {value!r}")
    elif not isinstance(value, (str, bool, int, type(None))):
        raise BodyError(f"{type(value).__name__} is not for the ledger: {value!r}")
