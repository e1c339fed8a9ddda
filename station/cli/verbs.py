"""The verbs that are methods of the socket, made from its table of words."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import msgspec

from station.cli.common import NO, client, json_option, print_json, print_line, say, socket_option
from station.client import Client
from station.weighing.commands import METHODS, READING, Method, Param
from station.wire import Snapshot, WayBack, read_change

LOOKS_S = 5.0
"""Seconds for an answer about what is so now: it waits for no ledger."""


def verb(method: Method, name: str | None = None) -> click.Command:
    """The command of a method: required texts are arguments, the rest are options."""

    def run(socket: Path, as_json: bool, **given: Any) -> None:
        params = {key: value for key, value in given.items() if value not in (None, (), False)}
        params = {k: list(v) if isinstance(v, tuple) else v for k, v in params.items()}
        with client(socket, as_json=as_json) as station:
            result = station.call(method.name, params)
        if as_json:
            print_json(result)
        else:
            say(result["answer"])

    command = click.command(
        name or method.name,
        help="\n\n".join(filter(None, (method.help, method.about))),
        epilog=f"Example: {method.example}",
    )(json_option(socket_option(run)))
    command.params = [_parameter(method, param) for param in method.params] + command.params
    return command


def _parameter(method: Method, param: Param) -> click.Parameter:
    if param.required and not (method.name == "open" and param.name == "who"):
        return click.Argument([param.name])
    option = f"--{param.name.replace('_', '-')}"
    return click.Option(
        [option, param.name],
        help=param.help,
        is_flag=param.kind == "flag",
        multiple=param.kind == "texts",
        required=param.required,
    )


@click.group(epilog=f"Example: {METHODS['lot'].example}")
def lot() -> None:
    """Lots of regulated goods: no strength, no weighing."""


lot.add_command(verb(METHODS["lot"], "open"))
lot.add_command(verb(METHODS["review-lot"], "review"))


@click.command(help=READING["state"].help, epilog=f"Example: {READING['state'].example}")
@socket_option
@json_option
def state(socket: Path, as_json: bool) -> None:
    with client(socket, LOOKS_S, as_json) as station:
        found = station.call("state")
        shown = _read(station, found)
    if as_json:
        print_json(found)
    else:
        say(header_of(shown))
        print_line(line_of(shown))
        if told := backup_of(shown):
            print_line(told)


@click.command(help=READING["follow"].help, epilog=f"Example: {READING['follow'].example}")
@socket_option
@json_option
def follow(socket: Path, as_json: bool) -> None:
    follow_lines(socket, as_json)


@click.command(help=READING["metrics"].help, epilog=f"Example: {READING['metrics'].example}")
@socket_option
@json_option
def metrics(socket: Path, as_json: bool) -> None:
    with client(socket, LOOKS_S, as_json) as station:
        found = station.call("metrics")
        text = found.get("text")
        if not isinstance(text, str):
            raise station.strange()
    if as_json:
        print_json(found)
    else:
        say(text.removesuffix("\n"))


@click.command("way-back", epilog=f"Example: {READING['way-back'].example}")
@click.argument("batch", required=False)
@click.option("--meat", help="The meat that is at hand: what stays over with it.")
@socket_option
@json_option
def way_back(socket: Path, as_json: bool, batch: str | None, meat: str | None) -> None:
    """Work out how too much in the mix is made right again; nothing is done.

    The least more meat by which nothing is over, and what every other line lacks then. Exit status
    1 says that no meat is enough.
    """
    asked = {key: value for key, value in (("batch", batch), ("meat", meat)) if value is not None}
    with client(socket, LOOKS_S, as_json) as station:
        found = station.call("way-back", asked)
        try:
            told = msgspec.convert(found, WayBack)
        except msgspec.ValidationError:
            raise station.strange() from None
    if as_json:
        print_json(found)
    else:
        for line in way_back_lines(told):
            say(line)
    sys.exit(0 if told.possible else NO)


def way_back_lines(told: WayBack) -> Iterator[str]:
    """The way back as a person reads it."""
    for over in told.over:
        yield f"{over.line}: {over.actual_g} g is in the mix, {over.upper_g} g at most"
    if told.stays_over is not None:
        for over in told.stays_over:
            yield f"with that meat {over.line} stays over: {over.actual_g} of {over.upper_g} g"
        if not told.stays_over:
            yield "with that meat nothing is over"
    if not told.possible:
        yield f"no way back by meat: {told.why_not}"
    elif told.add_meat_g == "0":
        yield f"nothing is over; {told.meat_g} g of meat are enough"
    else:
        yield f"weigh {told.add_meat_g} g more meat, {told.meat_g} g in all; after that"
        for top in told.top_up:
            yield f"  {top.line}: {top.add_g} g more, to {top.target_g} g"
        if not told.top_up:
            yield "  nothing has to be topped up"


def follow_lines(socket: Path, as_json: bool) -> None:
    """A line for every change, until the station or the reader goes."""
    before = header = ""
    with client(socket, LOOKS_S, as_json) as station:
        try:
            for change in station.changes():
                if as_json:
                    print_json(change)
                    continue
                shown = _read(station, change)
                if header_of(shown) != header:
                    header = header_of(shown)
                    say(header)
                if steady(shown) != before:
                    print_line(line_of(shown))
                before = steady(shown)
        except KeyboardInterrupt:
            return


def _read(station: Client, change: dict[str, Any]) -> Snapshot:
    try:
        return read_change(change)
    except msgspec.ValidationError:
        raise station.strange() from None


def header_of(shown: Snapshot) -> str:
    """Whose line it is: batch and formula, and whether all of it is simulated."""
    stamp = ", SIMULATED" if shown.simulated else ""
    return f"batch {shown.batch} {shown.formula}{stamp}" if shown.batch else f"no batch{stamp}"


def line_of(shown: Snapshot) -> str:
    """One line for a person: word, figures while pouring, sentence, next step."""
    figures = ""
    if shown.net_g is not None and shown.target_g is not None:
        figures = f"{shown.net_g} of {shown.aim_g or shown.target_g} g | "
    return f"{shown.word:8} | {figures}{shown.sentence} -> {shown.next}"


def backup_of(shown: Snapshot) -> str:
    """How old the last good backup is, or what is wrong with it; empty where none is noted."""
    backup = shown.ledger.backup if shown.ledger else None
    if backup is None or not (backup.at or backup.says):
        return ""
    if backup.says:
        return f"backup   | {backup.says} -> {backup.next}"
    return f"backup   | the last good one is {backup.days} days old, of {backup.at}"


_POURING = ("POUR", "SLOWER", "STOP", "TAKE OUT", "IN BAND")


def steady(shown: Snapshot) -> str:
    """What makes a new line worth printing: live figures alone do not."""
    sentence = "" if shown.word in _POURING else shown.sentence
    return f"{shown.batch} {shown.line} {shown.word} {sentence} {shown.phase}"
