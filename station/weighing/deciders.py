"""Which function decides which command: each enters itself, by the type of its parameter."""

from collections.abc import Callable
from typing import Any, TypeVar, get_type_hints

from station.weighing.commands import Command, Decision
from station.weighing.sight import Sight

DECIDERS: dict[type[Command], Callable[[Sight, Any], Decision]] = {}

D = TypeVar("D", bound=Callable[[Sight, Any], Decision])


def decides(decider: D) -> D:
    """Enter `decider(sight, command)` for the type of `command`."""
    command = get_type_hints(decider)["command"]
    assert command not in DECIDERS, command
    DECIDERS[command] = decider
    return decider
