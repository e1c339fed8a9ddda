"""What blocks the bench, for the record: when each reason began, and when it was over. Pure."""

from collections.abc import Iterable, Sequence

from station.batch import events as ev
from station.weighing.words import Guide

Known = dict[tuple[str, str | None], ev.Blocked]
"""(reason, scale) -> the event that said that it began."""


def blocking(told: Guide) -> Known:
    """The reasons why nothing can be accepted now."""
    return {
        (trouble.reason, told.scale): ev.Blocked(
            told.line, told.scale, trouble.reason, trouble.sentence
        )
        for trouble in told.troubles
    }


def changes(before: Known, now: Known) -> Sequence[ev.Event]:
    """What is to be recorded where `before` was so and `now` is."""
    begun = [event for key, event in now.items() if key not in before]
    return [*begun, *over(event for key, event in before.items() if key not in now)]


def over(events: Iterable[ev.Blocked]) -> list[ev.Event]:
    """That each of these is over."""
    return [ev.Unblocked(event.line, event.scale, event.reason) for event in events]
