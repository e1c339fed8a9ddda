"""What the verbs share: where things are, how they fail, how they print."""

import json
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import click

from station.client import Client, ClientError
from station.resources import ResourceError, default_ledger, default_socket
from station.tomlfile import FileMistakes

F = TypeVar("F", bound=Callable[..., Any])

NO, WRONG_USE, CANNOT = 1, 2, 3
"""Exit status: the answer is no; wrong use or wrong file; it could not be done."""

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


def socket_option(function: F) -> F:
    return click.option(
        "--socket",
        "socket",
        type=click.Path(path_type=Path),
        default=default_socket,
        show_default="the runtime folder",
        help="The station's socket.",
    )(function)


def ledger_option(function: F) -> F:
    return click.option(
        "--ledger",
        "ledger",
        type=click.Path(path_type=Path, dir_okay=False),
        default=default_ledger,
        show_default="the state folder",
        help="The ledger's file.",
    )(function)


def config_option(function: F) -> F:
    return click.option(
        "--config",
        "config",
        type=click.Path(path_type=Path),
        default=None,
        help="A folder laid over the packaged configuration (or STATION_CONFIG).",
    )(function)


def local(at: str) -> str:
    """A recorded time (RFC 3339 UTC) in this machine's time zone, with its offset."""
    return datetime.fromisoformat(at).astimezone().isoformat(" ", "seconds")


def clock(at: str) -> str:
    """The same without its date."""
    return local(at).partition(" ")[2]


_BLANKS = "\u00a0\u202f"
"""Blanks that people's text may hold, beside the plain one."""


def shown(text: str) -> str:
    """Text as a terminal may have it: whatever is no sign to be read, such as an escape or a line's
    end, as its Python escape. Files, labels and frames are written by anybody."""
    if text.isprintable():
        return text
    return "".join(
        sign if sign.isprintable() or sign in _BLANKS else _escape(sign) for sign in text
    )


def _escape(sign: str) -> str:
    return sign.encode("unicode_escape").decode("ascii")


def say(text: str = "", err: bool = False) -> None:
    """Lines for a person, made safe for the terminal."""
    click.echo("\n".join(shown(line) for line in text.split("\n")), err=err)


def fail(
    sentence: str, next_step: str, status: int, answers: Sequence[Mapping[str, Any]] = ()
) -> NoReturn:
    """One sentence, the next step, the commands that answer it where it is a question, and out."""
    say(f"station: {sentence}", err=True)
    if next_step:
        say(f"  next: {next_step}", err=True)
    for text in filter(None, (answer.get("text") for answer in answers)):
        say(f"  {text}", err=True)
    sys.exit(status)


@contextmanager
def files(ending: str = "correct each of them") -> Iterator[None]:
    """Mistakes in people's files, told one a line; exit status 2."""
    try:
        yield
    except FileMistakes as error:
        for mistake in error.mistakes:
            say(mistake, err=True)
        fail(f"{len(error.mistakes)} mistake(s)", ending, WRONG_USE)
    except ResourceError as error:
        fail(str(error), "check --config", WRONG_USE)


def read_text(file: Path) -> str:
    """The text of a file that a person named."""
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        fail(f"{file} cannot be read: {error}", "name a formula file", WRONG_USE)


def write_new(
    file: Path, content: str | bytes, another: str, taken: str | None = None, status: int = CANNOT
) -> None:
    """Write a file that a person named and that is not there yet; what stops it ends the command.
    `another`: the next step; `taken` and `status`: the next step and the exit status where there is
    such a file, which is never written over."""
    body = content.encode() if isinstance(content, str) else content
    try:
        with file.open("xb") as new:
            new.write(body)
    except FileExistsError:
        fail(f"{file} is there already", taken or another, status)
    except OSError as error:
        fail(f"{file} cannot be written: {error.strerror}", another, CANNOT)


@contextmanager
def client(path: Path, timeout_s: float = 30.0, as_json: bool = False) -> Iterator[Client]:
    """A connection, its errors told as the command line tells them; as JSON on standard output
    where JSON was asked for."""
    try:
        with Client(path, timeout_s) as connection:
            yield connection
    except ClientError as error:
        if as_json:
            told = {"message": error.sentence, "next": error.next, "reason": error.reason}
            print_json({"error": {**told, "offers": [dict(offer) for offer in error.offers]}})
        wrong = error.code in (-32602, -32601)
        fail(error.sentence, error.next, WRONG_USE if wrong else CANNOT, error.offers)


def print_line(text: str, indent: str = "") -> None:
    """One line for a person; on a terminal broken between words, in a pipe left whole."""
    if sys.stdout.isatty():
        width = shutil.get_terminal_size().columns
        text = textwrap.fill(
            text, width, initial_indent=indent, subsequent_indent=f"{indent}           "
        )
        say(text)
    else:
        say(f"{indent}{text}")


def json_text(value: Any) -> str:
    """JSON of one line; what a terminal could take for an order is escaped, and reads the same."""
    text = json.dumps(value, ensure_ascii=False)
    if text.isprintable():
        return text
    return "".join(
        sign if sign.isprintable() or sign in _BLANKS else json.dumps(sign)[1:-1] for sign in text
    )


def print_json(value: Any) -> None:
    click.echo(json_text(value))
