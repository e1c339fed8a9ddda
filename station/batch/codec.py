"""Events to the plain values the ledger keeps, and back."""

from decimal import Decimal
from typing import Any, Union

import msgspec

from station.batch import events as ev

_ANY: Any = Union[tuple(ev.Event.__subclasses__())]  # noqa: UP007 - made from what there is
"""Every event that the ledger keeps; the tag says which it is."""
_CLASSES = {str(one.__struct_config__.tag): one for one in ev.Event.__subclasses__()}
"""The same by their tags: msgspec keeps what it knows of a class, and of a union nothing."""


def to_body(event: ev.Event) -> tuple[str, dict[str, Any]]:
    """(kind, body) of an event: plain values, decimals as text without exponent."""
    body = _plain(msgspec.to_builtins(event, builtin_types=(Decimal,)))
    return body.pop("kind"), body


def from_body(kind: str, body: dict[str, Any]) -> ev.Event:
    """The event of a kind and body. Raises `msgspec.ValidationError` for one not known here."""
    wanted = _CLASSES.get(kind, _ANY)  # which says of another kind that it is none
    return msgspec.convert({"kind": kind, **body}, wanted, strict=False)  # type: ignore[no-any-return]


def kind_of(event: type[ev.Event]) -> str:
    """The ledger's `kind` of a class of events."""
    return str(event.__struct_config__.tag)


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
