"""Every answer of the scale's verbs is a sentence, and none is a library's own."""

import json
import sys
from pathlib import Path

import pexpect
import pytest

from drivers.infer.describe import PortLine, described
from tests.cli.test_confirm import frame, load
from tests.cli.test_scale import Sender
from tests.drivers.unknown import INVENTED, recorded
from tests.service.daemons import ROOT, station

SMA = str(ROOT / "config" / "scales" / "sma-scp-0499.toml")
GOOD, BAD = frame("12.35"), b"\nnonsense\r"


def capture(folder: Path, frames: list[bytes]) -> str:
    file = folder / "my.capture"
    file.write_text("".join(f"{n}.0 {each.hex()}\n" for n, each in enumerate(frames)))
    return str(file)


@pytest.mark.parametrize(
    ("frames", "says"),
    [
        ([BAD, BAD], "reads nothing of this capture"),
        ([GOOD] * 3 + [BAD], "leaves a fifth of what is in this capture unread"),
        ([GOOD] * 4 + [BAD], None),
    ],
)
def test_check_grammar_says_why_its_answer_is_no(
    tmp_path: Path, frames: list[bytes], says: str | None
) -> None:
    words = ("scale", "check-grammar", SMA, "--against", capture(tmp_path, frames))
    told, said = station(*words), station(*words, "--json")
    assert told.returncode == said.returncode == (1 if says else 0)
    assert (says or "") in told.stderr and bool(told.stderr) == bool(says)
    assert (says or "") in (json.loads(said.stdout)["why"] or "")


def test_the_json_of_check_grammar_has_each_frame_with_its_tare_and_its_reason(
    tmp_path: Path,
) -> None:
    tared = ROOT / "config" / "scales" / "six-digits-bits.toml"
    against = ROOT / "tests" / "captures" / "six-digits-bits.capture"
    told = station("scale", "check-grammar", str(tared), "--against", str(against), "--json")
    items = json.loads(told.stdout)["items"]
    assert any(item["tare"] not in (None, "0") for item in items)
    words = ("scale", "check-grammar", SMA, "--against", capture(tmp_path, [GOOD, BAD]), "--json")
    good, bad = json.loads(station(*words).stdout)["items"]
    assert (good["value"], good["reason"], good["time_s"]) == ("12.35", None, 0.0)
    assert (bad["state"], bad["reason"], bad["raw"]) == (
        "fault", "not a frame of this grammar", BAD.hex(),
    )  # fmt: skip


def test_a_name_unlike_its_file_is_said(tmp_path: Path) -> None:
    folder = tmp_path / "scales"
    folder.mkdir()
    other = folder / "other.toml"
    other.write_text(Path(SMA).read_text())
    told = station("scale", "check-grammar", str(other))
    says = "the file 'other' has another name in it, 'sma-scp-0499': the station goes by the file"
    assert (told.returncode, says in told.stdout) == (0, True)
    assert (
        says in json.loads(station("scale", "check-grammar", str(other), "--json").stdout)["note"]
    )
    heard = station(
        "scale",
        "listen",
        "/nowhere",
        "--grammar",
        "other",
        "--config",
        str(tmp_path),
        "--for",
        "1s",
    )
    assert says in heard.stderr
    assert "another name" not in station("scale", "check-grammar", SMA).stdout


@pytest.mark.parametrize("sent", [b"weight: 12", b"\xfe\x80\x81\x01"])
def test_listening_shows_the_raw_bytes_where_nothing_is_read(sent: bytes) -> None:
    sender = Sender([sent])
    try:
        words = ("scale", "listen", sender.name, "--grammar", "sma-scp-0499", "--for", "1s")
        told, said = station(*words), station(*words, "--json")
    finally:
        sender.end()
    assert sent[:4].hex(" ") in told.stdout and "FAULT no whole frame" in told.stdout
    assert sent.hex() in json.loads(said.stdout.splitlines()[-1])["raw"]
    assert "nothing was read by sma-scp-0499; " in told.stderr


def test_listening_shows_all_of_a_frame_that_cannot_be_read() -> None:
    sender = Sender([b"\n" + bytes(range(65, 65 + 60)) + b"\r"])
    try:
        told = station("scale", "listen", sender.name, "--grammar", "sma-scp-0499", "--for", "1s")
    finally:
        sender.end()
    assert "78 79 7a 7b 7c 0d" in told.stdout  # its end, beyond forty bytes


def test_identify_names_the_speed_where_nothing_fits() -> None:
    sender = Sender([b"weight of the thing: 12 kilos;"])
    try:
        told = station("scale", "identify", sender.name)
    finally:
        sender.end()
    assert "nothing fits at any of 9600, 4800," in told.stdout
    assert "at 9600 8N1 the most signs arrived:" in told.stdout


@pytest.mark.parametrize("port", ["/dev/null", "/"])
def test_what_is_no_serial_port_is_said_in_our_words(port: str) -> None:
    told = station("scale", "identify", port)
    assert told.returncode == 3
    assert f"{port} is no serial port" in told.stderr and "station scale list" in told.stderr
    assert "Errno" not in told.stderr and "could not" not in told.stderr.lower()


@pytest.mark.parametrize("key", ["\x03", "\x04"])
def test_identify_ends_in_a_sentence_where_nobody_answers(key: str) -> None:
    sender = Sender([frame("216.40")])
    words = ["-m", "station", "scale", "identify", sender.name]
    person = pexpect.spawn(sys.executable, words, cwd=str(ROOT), timeout=20, encoding="utf-8")
    try:
        load(person, sender, "12.35")
        person.expect("display show 12.35 g")
        person.sendline("maybe")
        person.expect("type one of y, n")
        person.send(key)
        person.expect("nobody answered, so no lines are given")
        person.expect(pexpect.EOF)
        person.close()
    finally:
        sender.end()
    assert person.exitstatus == 1 and "Aborted" not in (person.before or "")


def test_the_help_of_record_has_the_format_of_its_file() -> None:
    told = station("scale", "record", "--help").stdout
    assert "# settings: 9600 8N1" in told and "0.1042 0a203047" in told


def test_a_line_of_seven_bits_is_checked_against_a_capture_taken_at_eight(tmp_path: Path) -> None:
    heard, _ = recorded(INVENTED["sign behind, odd parity"], skip=("over", "tared", "lifted"))
    file, against = tmp_path / "mine.toml", tmp_path / "mine.capture"
    file.write_text(described("mine", heard, "kg", PortLine(4800)).text)
    chunks = [chunk for each in heard.values() for chunk in each.chunks]
    against.write_text("".join(f"{n / 10:.4f} {c.hex()}\n" for n, c in enumerate(chunks)))
    found = station("scale", "check-grammar", str(file), "--against", str(against), "--json")
    told = json.loads(found.stdout)
    assert (
        found.returncode == 0 and told["readings"] > 10 and told["faults"] <= len(heard)
    )  # half a frame each
