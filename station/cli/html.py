"""`--html FILE`: an answer as a page for a browser and for paper."""

from collections.abc import Callable
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

import click
import msgspec

from station.cli.common import WRONG_USE, local, say, write_new
from station.cli.paper import plain
from station.cli.questions_text import TOLD
from station.ledger.asking import Asked
from station.ledger.verify import Verdict

F = TypeVar("F", bound=Callable[..., Any])
S = TypeVar("S", bound=msgspec.Struct)


def html_option(function: F) -> F:
    return click.option(
        "--html",
        "html",
        metavar="FILE",
        type=click.Path(path_type=Path, dir_okay=False),
        help="Write one self-contained HTML file, for a browser and for paper.",
    )(function)


def write_page(
    file: Path, name: str, verdict: Verdict, simulated: bool, told: str, *values: Any
) -> None:
    """The page `name` of station.audit.pages, written to a file that is not there yet.

    The pages are imported here alone: they and jinja2 cost 60 ms that no other answer needs.
    """
    pages = import_module("station.audit.pages")
    about = {
        "events": verdict.events,
        "head": verdict.head,
        "broken": verdict.reason,
        "simulated": simulated,
        "told": told,
    }
    about = msgspec.convert(plain(about), pages.About)
    text = getattr(pages, name)(*values, about, local, _now())
    taken = "name another file, or move that one away"
    write_new(file, text, "name another file", taken, WRONG_USE)
    say(f"{file} is written; open it in a browser, which prints it too")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def answer_page(found: Asked, file: Path, name: str, *values: Any) -> None:
    """The same for an answer from the tables."""
    write_page(file, name, found.verdict, found.simulated, TOLD, *values)


def clean(value: S) -> S:
    """A struct, every text in it as a page may have it."""
    return msgspec.convert(plain(msgspec.to_builtins(value)), type(value))
