"""`station scale new`: from an unknown scale to its first reading, without a byte in hex.

The conversation alone: what was recorded is worked out by `drivers/infer`.
"""

import sys
from contextlib import nullcontext, redirect_stdout
from itertools import count
from pathlib import Path

import click

from drivers.grammar import compile_grammar
from drivers.infer.cutting import Unclear
from drivers.infer.describe import Described, described
from drivers.infer.writing import PortLine
from drivers.link import PortSettings
from station.cli.asking import question_or_fail
from station.cli.common import (
    CANNOT,
    NO,
    WRONG_USE,
    config_option,
    fail,
    files,
    json_option,
    print_json,
    say,
    write_new,
)
from station.cli.confirm import ask_person, confirmed
from station.cli.identify import print_lines
from station.cli.listening import Answering, found_line, heard_for
from station.cli.loads import Loads
from station.resources import Config


@click.command("new", epilog="Example: station scale new /dev/ttyUSB0 --name auction --config mine")
@click.argument("port")
@click.option("--name", required=True, help="What its file is to be called.")
@click.option("--ask", help=r"What it must be asked, such as 'W\r', where its papers tell.")
@config_option
@json_option
def new(port: str, name: str, ask: str | None, config: Path | None, as_json: bool) -> None:
    """Work out how the scale at PORT sends, and write its file NAME.toml.

    It asks for loads in turn and for what the scale's own display shows, works out the frame, and
    writes the file and the capture into the folder `scales` of your configuration, once two
    different loads were read as the display shows them. Then it prints the lines for station.toml.

    It only listens. Where nothing arrives it offers to ask, and sends nothing before you say yes.
    With --json the conversation is on standard error, and one object follows at its end.
    """
    question = question_or_fail(ask)
    folder = _folder(config, name)
    if not sys.stdin.isatty():
        fail("a person must put loads on the scale", "run it at a terminal", NO)
    with redirect_stdout(sys.stderr) if as_json else nullcontext():
        line, loads, found, capture = _talked(port, name, question, folder)
        if not as_json:
            settings = PortSettings(port, line.baud, found.bits)
            print_lines(settings, name, loads.unit, bool(line.asked), loads.max_text)
            return
    asked = _typed(line.asked) if line.asked else None
    print_json({
        "file": str(folder / f"{name}.toml"), "capture": str(capture), "port": port,
        "baud": line.baud, "bits": found.bits, "asked": asked, "unit": loads.unit,
        "says": found.says,
    })  # fmt: skip


def _talked(
    port: str, name: str, question: bytes | None, folder: Path
) -> tuple[Answering, Loads, Described, Path]:
    """The whole conversation; how the scale was heard, its loads, its file and its capture, both
    written. Ends the command where something cannot be worked out."""
    say("Listening for its speed, up to a quarter of a minute: move the pan a little meanwhile.")
    line = found_line(port, question, _may_ask)
    asked = f", asked with {_typed(line.asked)}" if line.asked else ""
    say(f"It sends at {line.baud} baud{asked}.")
    loads, capture = Loads(line), _capture(folder, name)
    try:
        loads.ask()
    finally:  # given up, or the cable is out: what was heard so far is kept
        if loads.heard:
            loads.write(capture)
            say(f"\n(What was recorded is in {capture}.)")
    found = _worked_out(name, loads, line, capture)
    for said in found.says:
        say(f"  {said}")
    _compare(name, found, line)
    file = folder / f"{name}.toml"
    write_new(file, found.text, f"the capture is {capture}")
    say(f"\nwritten: {file}\n         {capture}")
    return line, loads, found, capture


def _folder(config: Path | None, name: str) -> Path:
    """Where the files go. Ends the command where that is nowhere, or where they are already."""
    if not name.replace("-", "").isalnum() or not name.isascii() or name != name.lower():
        fail(f"--name: found {name!r}, expected small letters, digits and -", "--name mine",
             WRONG_USE)  # fmt: skip
    with files():
        there = Config(config)
    if there.own is None:
        fail("there is no configuration of yours to write into", "say --config FOLDER", WRONG_USE)
    if name in there.names("scales"):
        fail(f"a scale's file {name!r} is there already", "choose another --name", WRONG_USE)
    folder = there.own / "scales"
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        fail(f"{folder} cannot be made: {error.strerror}", "choose another --config", CANNOT)
    return folder


def _capture(folder: Path, name: str) -> Path:
    """The next capture of that name: one of an earlier try is never written over."""
    names = (name if number == 1 else f"{name}-{number}" for number in count(1))
    return next(file for each in names if not (file := folder / f"{each}.capture").exists())


def _may_ask(questions: tuple[bytes, ...]) -> bool:
    """Whether a person lets the scale be asked."""
    said = ", ".join(map(_typed, questions))
    say("\nNothing arrives by itself. Many scales send only when they are asked.")
    say(f"I can try the usual questions for the weight: {said}.")
    say("On some scale one of them may mean something else, such as zero or print.")
    while (answer := ask_person("Shall I send them, one after the other? [y/n]")) not in ("y", "n"):
        say("  type y or n")
    return answer == "y"


def _typed(question: bytes) -> str:
    """A question as a person types it behind `--ask`."""
    return repr(question)[2:-1]


# what comes of it


def _worked_out(name: str, loads: Loads, line: Answering, capture: Path) -> Described:
    try:
        return described(name, loads.heard, loads.unit, PortLine(line.baud, line.asked))
    except Unclear as error:
        fail(
            f"{error}",
            f"what was recorded is in {capture}; GRAMMARS.md shows how a file is written from it",
            NO,
        )


def _compare(name: str, found: Described, line: Answering) -> None:
    """No file before two different loads were read as the display shows them."""
    grammar = compile_grammar(found.text, f"{name}.toml")
    if found.bits != "8N1" and grammar.parity is None:
        say(f"  the line is {found.bits}")
    confirmed([grammar], lambda: b"".join(heard_for(line).chunks))
