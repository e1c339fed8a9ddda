"""The hash chain: each event's hash covers the one before it, so nothing changes unnoticed.

hash = SHA-256(prev || canonical(seq, at, batch, kind, body)), canonical JSON by RFC 8785; the first
`prev` is the SHA-256 of the ledger's random id.
"""

import hashlib
from typing import Any

import rfc8785

Body = dict[str, Any]


class BodyError(TypeError):
    """A body holds what the ledger does not: a float, a key that is no text, a huge number."""


def canonical_body(body: Body) -> str:
    """The body as canonical JSON. Raises `BodyError`."""
    _check(body)
    return rfc8785.dumps(body).decode("utf-8")


def first_prev(ledger_id: bytes) -> bytes:
    """The `prev` of event 1."""
    return hashlib.sha256(ledger_id).digest()


def event_hash(prev: bytes, seq: int, at: str, batch: str | None, kind: str, body: str) -> bytes:
    """The raw 32 bytes of an event's hash; `body` is canonical JSON already.

    An array's canonical form is its elements' between commas (RFC 8785, section 3.2.2), so the
    body, by far the longest of them, is made canonical once. Raises `ValueError` for text that no
    JSON can hold.
    """
    start = rfc8785.dumps([seq, at, batch, kind])[:-1]
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
