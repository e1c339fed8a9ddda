"""Days as people say them, in the bench's time zone, as the ledger's times in UTC."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, TypeVar

import click

from station.cli.common import WRONG_USE, fail
from station.ledger.asking import ALWAYS, Period

F = TypeVar("F", bound=Callable[..., Any])


def period_options(function: F) -> F:
    """`--from` and `--to`."""
    last = click.option("--to", "last", metavar="DAY", help="The last day, YYYY-MM-DD.")
    first = click.option(
        "--from",
        "first",
        metavar="DAY",
        help="The first day, YYYY-MM-DD, in the time zone of this machine, the bench's.",
    )
    return first(last(function))


def period(first: str | None, last: str | None) -> Period:
    """From the first midnight to the one after the last day. A wrong day ends the command."""
    begin = _day("--from", first) if first else None
    end = _day("--to", last) if last else None
    if begin and end and begin > end:
        fail(f"--from {begin} is after --to {end}", "change them over", WRONG_USE)
    return Period(
        _midnight(begin) if begin else ALWAYS.begin,
        _midnight(end + timedelta(days=1)) if end else ALWAYS.end,
    )


def between(first: str | None, last: str | None) -> str:
    """The days that were asked for, to stand behind a count."""
    return (f" from {first}" if first else "") + (f" to {last}" if last else "")


def one_day(text: str) -> tuple[str, Period]:
    """A day as it is written, and the time from its midnight to the next."""
    day = _day("the day", text)
    return day.isoformat(), Period(_midnight(day), _midnight(day + timedelta(days=1)))


def _day(what: str, text: str) -> date:
    try:
        day = datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC).date()
    except ValueError:
        fail(f"{what}: found {text!r}, expected a day", "write it as 2026-11-30", WRONG_USE)
    if not 1970 <= day.year < 9999:
        fail(f"{what}: {text} is no day of a ledger", "write it as 2026-11-30", WRONG_USE)
    return day


def _midnight(day: date) -> str:
    """Where a day begins, as the ledger writes times. Without a zone, a time is this machine's."""
    moment = datetime.combine(day, time()).astimezone(UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
