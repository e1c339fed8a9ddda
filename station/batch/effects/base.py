"""How an event and its effect find each other, and the two ways to change a batch."""

from collections.abc import Callable
from typing import Any, TypeVar, get_type_hints

from station.batch import events as ev
from station.batch.change import replace
from station.batch.state import Batch

Effect = Callable[[Batch, Any, str], Batch]
EFFECTS: dict[type[ev.Event], Effect] = {}
E = TypeVar("E", bound=Effect)


def effect(change: E) -> E:
    """Enter what an event changes in its batch, by the type of its parameter `event`."""
    EFFECTS[get_type_hints(change)["event"]] = change
    return change


def with_line(batch: Batch, name: str, **changes: Any) -> Batch:
    """The batch with an addition changed."""
    return replace(batch, lines={**batch.lines, name: replace(batch.lines[name], **changes)})


def with_meat(batch: Batch, name: str, **changes: Any) -> Batch:
    """The batch with a meat line changed."""
    return replace(batch, meats={**batch.meats, name: replace(batch.meats[name], **changes)})
