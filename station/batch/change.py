"""A frozen state with some of its fields changed."""

from collections.abc import Callable
from dataclasses import fields
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

T = TypeVar("T")


def replace(old: T, **changes: Any) -> T:
    """As `dataclasses.replace` does, in a quarter of the time: folding a ledger of years is made of
    it. For dataclasses all of whose fields, two at least, are given in their order. Raises
    `TypeError` for a name that is no field."""
    kind: Any = type(old)
    places, values = _of(kind)
    made = list(values(old))
    try:
        for name, value in changes.items():
            made[places[name]] = value
    except KeyError as error:
        raise TypeError(f"{kind.__name__} has no field {error}") from None
    changed: T = kind(*made)
    return changed


@cache
def _of(kind: Any) -> tuple[dict[str, int], Callable[[Any], tuple[Any, ...]]]:
    """The place of each field, and what reads all of them at once."""
    names = [field.name for field in fields(kind)]
    return {name: place for place, name in enumerate(names)}, attrgetter(*names)
