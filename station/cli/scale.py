"""`station scale`: ports, listening, identifying, recording; without a daemon and beside one."""

import asyncio
import os
import pty
import tty
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from drivers.grammar import GrammarError
from drivers.grammar_file import LONGEST_FRAME, LineSettings
from drivers.identify import parity_of
from drivers.kinds import LONGEST_FILE, Instrument, ScaleFile, load_any
from drivers.kinds.text import TextInstrument, TextKind, TextSource
from drivers.link import Link, PortSettings
from drivers.ports import ports
from drivers.reading import Fault
from drivers.recording import MOST, Capture, CaptureError, Recorder, read_capture
from drivers.recording import replay as paced
from drivers.unread import suspicion
from station.cli.asking import question_or_fail, run_asking
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
)
from station.cli.heard import Printer, line_of, run_port, seconds, told_object, unread_object
from station.cli.identify import identify
from station.cli.lag import lag
from station.cli.new_scale import new
from station.resources import Config, ResourceError
from station.service.clock import Clock, stamp
from station.settings import load_settings
from station.tomlfile import FileMistakes

TEXTS = (TextKind, TextInstrument)
"""Kinds that a grammar describes."""
baud_option = click.option("--baud", type=int, help="The line's speed, where no grammar tells.")
bits_option = click.option("--bits", help="The line's word, such as 8N1 or 7E1.")
grammar_option = click.option("--grammar", "grammar", help="The scale's file, without .toml.")
for_option = click.option("--for", "how_long", help="How long, such as 5s; else until Ctrl-C.")


@click.group(epilog="Example: station scale identify /dev/ttyUSB0")
def scale() -> None:
    """Scales: find them, listen to them, describe them."""


scale.add_command(identify)
scale.add_command(lag)
scale.add_command(new)


@scale.command("list", epilog="Example: station scale list")
@config_option
@json_option
def list_scales(config: Path | None, as_json: bool) -> None:
    """The serial ports of this machine by names that do not move, and which scale is on each."""
    known: dict[str, str] = {}
    try:
        for settings in load_settings(Config(config)).scales:
            known[str(Path(settings.port.port).resolve())] = settings.scale.name
    except (FileMistakes, ResourceError):
        pass  # a wrong station.toml is the doctor's business; the ports are there all the same
    found = [
        {"port": p.stable, "device": p.device, "about": p.about, "scale": known.get(p.device)}
        for p in ports()
    ]
    if as_json:
        print_json(found)
        return
    for row in found:
        named = f"   scale {row['scale']}" if row["scale"] else ""
        say(f"{row['port']}   {row['device']}   {row['about']}{named}")
    if not found:
        say("no serial port is there; plug the adapter in, then look at dmesg")


@scale.command(epilog="Example: station scale listen /dev/ttyUSB0 --grammar sma-scp-0499 --for 5s")
@click.argument("port")
@grammar_option
@for_option
@baud_option
@bits_option
@config_option
@json_option
def listen(
    port: str,
    grammar: str | None,
    how_long: str | None,
    baud: int | None,
    bits: str | None,
    config: Path | None,
    as_json: bool,
) -> None:
    """What arrives at PORT: bytes in hex and as text; with a grammar readings and faults.

    Needs neither a running station nor station.toml. A port that a station holds is refused.
    """
    clock, end_s = Clock(), seconds(how_long)
    if grammar is None:
        printer = Printer(as_json)
        link = Link(line_of(port, baud, bits, LineSettings()), clock, printer.chunk, printer.state)
        run_port(link.run, printer, end_s)
        return
    kind = _kind(grammar, config)
    printer = Printer(as_json, kind.grammar if isinstance(kind, TEXTS) else None)
    line = line_of(port, baud, bits, kind.line)
    source = kind.source(line, clock, printer.items, printer.state)
    run_port(source.run, printer, end_s)
    printer.end(source.rest if isinstance(source, TextSource) else b"")


@scale.command(epilog="Example: station scale record /dev/ttyUSB0 my.capture --baud 4800 --for 20s")
@click.argument("port")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@for_option
@baud_option
@bits_option
@click.option(
    "--ask", help=r"Send this twice a second, such as 'W\r': for a scale that must be asked."
)
@json_option
def record(
    port: str,
    file: Path,
    how_long: str | None,
    baud: int | None,
    bits: str | None,
    ask: str | None,
    as_json: bool,
) -> None:
    """Record the bytes that arrive at PORT, with their times, into FILE.

    It only listens, unless told what to ask: send nothing but what the scale's manual calls a
    question, others may zero or tare it.

    FILE is text: a head of lines such as "# settings: 9600 8N1", then one line for all that arrived
    together: seconds since the first byte, a blank, the bytes in hex, such as "0.1042 0a203047".
    """
    line, printer = line_of(port, baud, bits, LineSettings()), Printer(as_json)
    end_s, question = seconds(how_long), question_or_fail(ask)
    try:
        with file.open("x", encoding="utf-8") as out:
            head = {"what": "recorded at a port", "when": stamp(datetime.now(UTC)),
                    "settings": f"{line.baud} {line.bits}"}  # fmt: skip
            if ask is not None:
                head["asked"] = ask
            take = printer.guarded(Recorder(out, head).take)
            begun = out.tell()
            try:
                link = Link(line, Clock(), take, printer.state)
                run_port(lambda: run_asking(link, question), printer, end_s)
            except SystemExit:
                if out.tell() == begun:  # its head alone: the name is free for the next try
                    file.unlink()
                raise
    except FileExistsError:
        fail(f"{file} exists already", "give the capture a new name", WRONG_USE)
    except OSError as error:
        fail(f"{file} cannot be written: {error.strerror}", "choose another place", CANNOT)
    chunks = len(_capture(file).chunks)
    if as_json:
        print_json({"file": str(file), "chunks": chunks})
    else:
        say(f"{chunks} chunks in {file}")


@scale.command("replay", epilog="Example: station scale replay my.capture --grammar mine")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--grammar", "grammar", required=True, help="The scale's file, without .toml.")
@click.option("--speed", default=1.0, type=click.FloatRange(0.1, 1000), show_default=True)
@config_option
@json_option
def replay(file: Path, grammar: str, speed: float, config: Path | None, as_json: bool) -> None:
    """Play FILE through a port of its own and the real reading, at the recorded pace or faster."""
    capture, kind = _capture(file), _kind(grammar, config)
    if not isinstance(kind, TEXTS) or kind.asked:
        what = f"{kind.name} answers questions: a capture has none"
        fail(what, "station scale check-grammar FILE --against CAPTURE", WRONG_USE)
    printer = Printer(as_json, kind.grammar)
    run_port(lambda: _replay(capture, kind, speed, printer), printer, None)
    printer.end(b"")


async def _replay(
    capture: Capture, kind: ScaleFile | Instrument, speed: float, printer: "Printer"
) -> None:
    master, slave = pty.openpty()
    tty.setraw(slave)
    port = PortSettings(os.ttyname(slave), kind.line.baud, "8N1")
    source = kind.source(port, Clock(), printer.items, printer.state)
    reading = asyncio.ensure_future(source.run())
    try:
        await printer.opened.wait()
        for pause_s, data in paced(capture, speed):
            await asyncio.sleep(pause_s)
            await asyncio.to_thread(_write, master, data)  # a long chunk waits for its reader
        await asyncio.sleep(0.2)
    finally:
        reading.cancel()
        await asyncio.gather(reading, return_exceptions=True)
        os.close(master)
        os.close(slave)


def _write(port: int, data: bytes) -> None:
    while data:
        data = data[os.write(port, data) :]


@scale.command("check-grammar", epilog="Example: station scale check-grammar mine.toml")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--against", type=click.Path(path_type=Path, dir_okay=False), help="A capture.")
@json_option
def check_grammar(file: Path, against: Path | None, as_json: bool) -> None:
    """Check a scale's FILE; with a capture, what it reads there, and if it leaves a checksum out.
    Exit status 1 if it reads nothing, leaves a fifth of the frames unread, or leaves out a checksum
    that the station knows; 2 if the file is wrong."""
    try:
        kind = load_any(_text(file, LONGEST_FILE), str(file))
    except (OSError, UnicodeDecodeError) as error:
        fail(f"{file} cannot be read: {error}", "name a scale's file", WRONG_USE)
    except GrammarError as error:
        fail(str(error), "config/scales/GRAMMARS.md explains every key", WRONG_USE)
    told: dict[str, Any] = {"grammar": kind.name, "ok": True}
    if against is not None:
        if not isinstance(kind, TEXTS):
            fail(f"{kind.name} is no text format", "a capture holds text or bytes", WRONG_USE)
        told |= _against(kind, _capture(against), as_json)
    if kind.name != file.stem:
        told["note"] = _unlike(kind.name, file.stem)
    if as_json:
        print_json(told)
    elif against is None:
        say(f"{kind.name}: nothing is wrong with the file")
    else:
        say(f"{kind.name}: {told['readings']} readings, {told['faults']} faults")
        if (unread := told["unread_check"]) is not None:
            say(f"{unread['says']}\n  next: {unread['next']}")
    if not as_json and "note" in told:
        say(told["note"])
    if not told["ok"]:
        fail(told["why"], "listen to the scale, and mend the file", NO)


def _against(kind: TextKind | TextInstrument, capture: Capture, as_json: bool) -> dict[str, Any]:
    """What a grammar reads in a capture; "why" where that is not enough."""
    grammar, parser, printer = kind.grammar, kind.parser(), Printer(False)
    heard = b"".join(chunk.data for chunk in capture.chunks)
    # taken at 8N1, a line of seven bits has its parity in bit 7
    seven = grammar.parity is None and parity_of(heard) == grammar.line.bits != "8N1"
    items = [
        item
        for chunk in capture.chunks
        for item in parser.feed(
            bytes(byte & 0x7F for byte in chunk.data) if seven else chunk.data, chunk.time_s
        )
    ]
    readings = [item for item in items if not isinstance(item, Fault)]
    unread = suspicion(grammar, items)
    why = ""
    if not readings:
        why = f"{grammar.name} reads nothing of this capture"
    elif (len(items) - len(readings)) * 4 > len(readings):
        why = f"{grammar.name} leaves a fifth of what is in this capture unread, or more"
    elif unread is not None and unread.known is not None:
        why = f"{grammar.name} leaves a checksum out"
    told: dict[str, Any] = {
        "readings": len(readings),
        "faults": len(items) - len(readings),
        "unread_check": unread_object(unread),
        "ok": not why,
        "why": why or None,
    }
    if as_json:
        unit = next((reading.unit for reading in readings if reading.unit), None)
        told["items"] = [{"time_s": item.time_s, **told_object(item, unit)} for item in items]
    else:
        printer.items(items, 0.0)
        if not readings:
            printer.raw(capture.data[-LONGEST_FRAME:] if not items else parser.rest)
    return told


def _kind(name: str, config: Path | None) -> ScaleFile | Instrument:
    stem = name.removesuffix(".toml")
    with files():
        text, filename = Config(config).read(f"scales/{stem}.toml")
    try:
        kind = load_any(text, filename)
    except GrammarError as error:
        fail(str(error), "config/scales/GRAMMARS.md explains every key", WRONG_USE)
    if kind.name != stem:
        say(f"station: {_unlike(kind.name, stem)}", err=True)
    return kind


def _unlike(name: str, stem: str) -> str:
    return f"the file {stem!r} has another name in it, {name!r}: the station goes by the file"


def _text(file: Path, most: int) -> str:
    """The text of a file; of one that is too long only so much that its reader sees it."""
    with file.open(encoding="utf-8") as text:
        return text.read(most + 1)


def _capture(file: Path) -> Capture:
    try:
        return read_capture(_text(file, MOST).splitlines())
    except (OSError, UnicodeDecodeError, CaptureError) as error:
        fail(f"{file} cannot be read: {error}", "name a capture", WRONG_USE)
