"""`station scale new`: from an unknown scale to its first reading, without a byte in hex.

The conversation alone: what was recorded is worked out by `drivers/infer`.
"""

import re
import sys
from contextlib import nullcontext, redirect_stdout
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from io import StringIO
from pathlib import Path

import click

from drivers.grammar import compile_grammar
from drivers.infer.cutting import Heard, Step, Unclear
from drivers.infer.describe import Described, described
from drivers.infer.writing import Line
from drivers.link import PortSettings
from drivers.recording import Recorder
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
from station.resources import Config
from station.service.clock import stamp
from station.units import SCALE_UNITS

_DISPLAYED = re.compile(r"[-+]?[0-9]{1,9}(?:[.,][0-9]{1,6})?")
"""A number as a display shows it."""
_MOVES_S = 5.0
"""How long a moving load is listened to."""


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
        line, unit, found = _talked(port, name, question, folder)
        if not as_json:
            settings = PortSettings(port, line.baud, found.bits)
            print_lines(settings, name, unit, bool(line.asked))
            return
    asked = _typed(line.asked) if line.asked else None
    print_json({
        "file": str(folder / f"{name}.toml"), "capture": str(folder / f"{name}.capture"),
        "port": port, "baud": line.baud, "bits": found.bits, "asked": asked, "unit": unit,
        "says": found.says,
    })  # fmt: skip


def _talked(
    port: str, name: str, question: bytes | None, folder: Path
) -> tuple[Answering, str, Described]:
    """The whole conversation; how the scale was heard, the unit of its display, and its file, which
    is written. Ends the command where something cannot be worked out."""
    say("Listening for its speed, up to a quarter of a minute: move the pan a little meanwhile.")
    line = found_line(port, question, _may_ask)
    asked = f", asked with {_typed(line.asked)}" if line.asked else ""
    say(f"It sends at {line.baud} baud{asked}.")
    heard, unit = _recorded(line)
    capture = folder / f"{name}.capture"
    _write_capture(capture, heard, line)
    found = _worked_out(name, heard, unit, line, capture)
    for said in found.says:
        say(f"  {said}")
    _compare(name, found, line, capture)
    file = folder / f"{name}.toml"
    write_new(file, found.text, f"the capture is {capture}")
    say(f"\nwritten: {file}\n         {capture}")
    return line, unit, found


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
    if (folder / f"{name}.capture").exists():
        fail(f"{folder / name}.capture exists already", "choose another --name", WRONG_USE)
    return folder


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


# the loads


def _recorded(line: Answering) -> tuple[dict[Step, Heard], str]:
    """Every step that was not skipped, and the unit of the display."""
    say("\nNow some loads. Wait each time until it stands still, then press Enter; s skips one.")
    heard: dict[Step, Heard] = {}
    if _ready("Take everything off the pan."):
        shows = _number("  what does its display show?", Decimal(0))
        heard["empty"] = replace(heard_for(line), shows=shows)
    say("Put something on, the heavier the better, that the scale can bear.")
    ask_person("press Enter")
    load, unit = _load()
    heard["known"] = replace(heard_for(line), shows=load)
    if _ready(f"Press Enter, then lift it and set it down again, for {_MOVES_S:.0f} seconds."):
        heard["move"] = heard_for(line, _MOVES_S)
    if _ready("Press gently with the hand until the display shows too much; hold it there."):
        heard["over"] = heard_for(line)
    if _ready("Put the load of before on again, and press the scale's own tare key."):
        heard["tared"] = replace(
            heard_for(line), shows=_number("  what does its display show?", load * 0)
        )
        if _ready("Take the load off; leave the tare."):
            shows = _number("  what does its display show?", -load)
            heard["lifted"] = replace(heard_for(line), shows=shows)
    say("Take everything off, and clear the tare.")
    ask_person("press Enter")
    return heard, unit


def _ready(what: str) -> bool:
    """Whether a person did what was asked; False where it is skipped."""
    say(what)
    while (answer := ask_person("press Enter (s: skip)")) not in ("", "s"):
        say("  press Enter, or type s")
    return answer == ""


def _load() -> tuple[Decimal, str]:
    """What the display shows of the known load, with its unit."""
    while True:
        text = ask_person("  what does its display show, with every digit and its unit?")
        number, _, unit = text.strip().partition(" ")
        found = _decimal(number)
        if found is None or found <= 0:
            say("  type the number as the display shows it, a blank and the unit: 216.40 g")
        elif unit not in SCALE_UNITS:
            say(f"  type the unit behind it, one of {', '.join(SCALE_UNITS)}: {number} g")
        elif len({*str(found)} - {"0", "."}) < 2:
            say("  its digits tell too little: take a load with different digits")
        else:
            return found, unit


def _number(question: str, usual: Decimal) -> Decimal:
    while True:
        text = ask_person(f"{question} (Enter: {usual:f})").strip()
        found = usual if not text else _decimal(text)
        if found is not None:
            return found
        say("  type the number as the display shows it, such as -216.40")


def _decimal(text: str) -> Decimal | None:
    """A display's number, its decimal mark a point or a comma."""
    return Decimal(text.replace(",", ".")) if _DISPLAYED.fullmatch(text) else None


# what comes of it


def _write_capture(file: Path, heard: dict[Step, Heard], line: Answering) -> None:
    head = {"what": "loads for station scale new", "when": stamp(datetime.now(UTC)),
            "settings": f"{line.baud} 8N1"}  # fmt: skip
    head |= {f"display {step}": f"{h.shows:f}" for step, h in heard.items() if h.shows is not None}
    out = StringIO()
    recorder = Recorder(out, head)
    for step, each in heard.items():
        out.write(f"# {step}: {len(each.chunks)} chunks\n")
        for chunk, at_s in zip(each.chunks, each.at_s, strict=True):
            recorder.take(chunk, at_s)
    write_new(file, out.getvalue(), "choose another --config")


def _worked_out(
    name: str, heard: dict[Step, Heard], unit: str, line: Answering, capture: Path
) -> Described:
    try:
        return described(name, heard, unit, Line(line.baud, line.asked))
    except Unclear as error:
        fail(
            f"{error}",
            f"what was recorded is in {capture}; GRAMMARS.md shows how a file is written from it",
            NO,
        )


def _compare(name: str, found: Described, line: Answering, capture: Path) -> None:
    """No file before two different loads were read as the display shows them."""
    grammar = compile_grammar(found.text, f"{name}.toml")
    if found.bits != "8N1" and grammar.parity is None:
        say(f"  the line is {found.bits}")
    say(f"\n(What was recorded is in {capture}.)")
    confirmed([grammar], lambda: b"".join(heard_for(line).chunks))
