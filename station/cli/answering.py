"""How a question to the ledger is asked, answered in three forms, and ended."""

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, NoReturn, TypeVar

import click
import msgspec

from station.batch.evolve import evolve
from station.batch.state import Batch, Station
from station.cli.common import CANNOT, NO, WRONG_USE, fail, local, print_json, say
from station.cli.paper import print_csv
from station.ledger.asking import Asked, asked
from station.ledger.errors import LedgerError
from station.ledger.walk import NO_EVENT
from station.names import bare

F = TypeVar("F", bound=Callable[..., Any])
Rows = Sequence[dict[str, Any]]
Form = Literal["text", "json", "csv"]


def csv_option(function: F) -> F:
    return click.option("--csv", "as_csv", is_flag=True, help="Print CSV, times as at the bench.")(
        function
    )


def one_form(as_json: bool, as_csv: bool = False, html: Path | None = None) -> Form:
    forms = {"--json": as_json, "--csv": as_csv, "--html": html is not None}
    given = [name for name, asked_for in forms.items() if asked_for]
    if len(given) > 1:
        fail(f"{' and '.join(given)} are {_COUNTS[len(given)]} forms of one answer",
             "ask for one of them", WRONG_USE)  # fmt: skip
    return "json" if as_json else "csv" if as_csv else "text"


_COUNTS = {2: "two", 3: "three"}


@contextmanager
def opened(path: Path) -> Iterator[Asked]:
    """The ledger, its failures told as the command line tells them."""
    try:
        with asked(path, _older) as ledger:
            yield ledger
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    except NO_EVENT as error:
        fail(f"the ledger is broken: {error}", "station ledger verify says where", CANNOT)


def _older() -> None:
    say("station: an older ledger: its tables are made from its events first", err=True)
    say("  next: wait, or start the station on it once, which makes them for good", err=True)


def answer_json(ledger: Asked, value: Any, **beside: Any) -> None:
    """As JSON, with what every answer says of its ledger."""
    verdict = ledger.verdict
    told = {
        "simulated": ledger.simulated,
        "events": verdict.events,
        "head": verdict.head,
        "verified": False,
        "broken": verdict.reason,
    }
    print_json({**msgspec.to_builtins(value), **beside, **told})


def end(ledger: Asked) -> NoReturn:
    sys.exit(0 if ledger.verdict.ok else NO)


def answer_csv(ledger: Asked, columns: Sequence[str], rows: Rows) -> None:
    """Times as at the bench; every row is stamped where the ledger is a simulated one."""
    if ledger.verdict.reason:
        say(f"THE LEDGER IS BROKEN, do not trust this: {ledger.verdict.reason}", err=True)
    stamp = {"simulated": "SIMULATED" if ledger.simulated else None}
    made = [{key: _local(key, value) for key, value in row.items()} | stamp for row in rows]
    print_csv((*columns, "simulated"), made)


def _local(key: str, value: Any) -> Any:
    return local(value) if value and key in _TIMES else value


_TIMES = ("at", "opened_at", "last_at")


def near_names(name: str, known: Sequence[str], most: int = 5) -> list[str]:
    """Those that look like a name: spelt alike, else the nearest, else some of all."""
    same = [one for one in known if bare(one) == bare(name)]
    return same or get_close_matches(name, known, n=most) or list(known[-most:])


def folded(ledger: Asked, name: str) -> Batch:
    """The batch as its own events leave it; a name that is none ends the command."""
    station = Station()
    for record in ledger.events_of(name):
        station = evolve(station, record.event, record.at, record.batch)
    batch = station.find(name)
    if batch is None:
        known = [str(row["batch"]) for row in ledger.batches()]
        there = ", ".join(near_names(name, known)) or "none yet"
        fail(f"no batch {name!r}; there are {there}", "station audit list", WRONG_USE)
    return batch


def there_are(every: Rows) -> str:
    """Which days to ask for, by all batches there are."""
    if not every:
        return "no batch is on record yet: station open begins one"
    days = [local(row["opened_at"])[:10] for row in (every[0], every[-1])]
    count = "1 batch is" if len(every) == 1 else f"{len(every)} batches are"
    return f"{count} on record, opened from {days[0]} to {days[1]}"
