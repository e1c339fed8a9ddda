"""A checksum that the grammar leaves out is said by whoever reads with it, and never silently."""

import json
from pathlib import Path

import pytest

from drivers.parser import Parser
from station.cli.heard import LOOKS, Printer
from tests.cli.test_scale import Sender
from tests.drivers.formats import END, START, TEXT, bodies, checked, grammar
from tests.service.daemons import station

SAYS = "are a checksum (crc16-modbus, from the first byte behind the start mark"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "scales").mkdir()
    (tmp_path / "scales" / "mine.toml").write_text(TEXT.replace('"x"', '"mine"') % (".*", ""))
    return tmp_path


def sent() -> list[bytes]:
    return [START + checked(body, "crc16-modbus") + END for body in bodies(1, 8)]


def test_check_grammar_names_it_and_says_no(folder: Path) -> None:
    capture, mine = folder / "my.capture", folder / "scales" / "mine.toml"
    capture.write_text("".join(f"{n}.0 {frame.hex()}\n" for n, frame in enumerate(sent())))
    told = station("scale", "check-grammar", str(mine), "--against", str(capture))
    assert (told.returncode, SAYS in told.stdout, "[checksum]" in told.stdout) == (1, True, True)
    words = ("scale", "check-grammar", str(mine), "--against", str(capture), "--json")
    said = station(*words)
    found = json.loads(said.stdout)["unread_check"]
    assert said.returncode == 1
    assert found["sum"] == {
        "kind": "crc16-modbus", "code": "hex", "first": "frame", "last": None, "width": 8,
        "order": "high-first",
    }  # fmt: skip
    assert (found["at"], found["size"], found["frames"], found["held"]) == (13, 4, 8, 8)
    assert bytes.fromhex(found["frame"]) == sent()[0]
    mine.write_text("unchecked = 'it is the number of the batch'\n" + mine.read_text())
    quiet = station(*words)
    assert (quiet.returncode, json.loads(quiet.stdout)["unread_check"]) == (0, None)


@pytest.mark.parametrize("form", [(), ("--json",)])
def test_listening_says_it_once_beside_the_readings(folder: Path, form: tuple[str, ...]) -> None:
    sender = Sender(sent())
    words = ("--grammar", "mine", "--config", str(folder), "--for", "1500 ms", *form)
    try:
        told = station("scale", "listen", sender.name, *words)
    finally:
        sender.end()
    assert told.returncode == 0
    assert told.stderr.count(SAYS) == 1 and SAYS not in told.stdout


def test_identify_says_it_of_the_grammar_that_fits(folder: Path) -> None:
    sender = Sender(sent())
    try:
        words = ("scale", "identify", sender.name, "--config", str(folder))
        told, said = station(*words), station(*words, "--json")
    finally:
        sender.end()
    assert "mine fits" in told.stdout and SAYS in told.stdout
    (fit,) = json.loads(said.stdout)["fits"]
    assert fit["unread_check"]["sum"]["kind"] == "crc16-modbus"


def test_listening_says_it_while_it_listens_and_once(capsys: pytest.CaptureFixture[str]) -> None:
    printer, parser = Printer(False, grammar()), Parser(grammar())
    for n in range(3 * LOOKS):
        printer.items(list(parser.feed(sent()[n % 8], 0.0)), 0.0)
        assert capsys.readouterr().err.count(SAYS) == (n == LOOKS - 1)
    printer.end(b"")
    assert SAYS not in capsys.readouterr().err
