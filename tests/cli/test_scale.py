"""`station scale`: what it says of ports on real ptys, with good and bad bytes."""

import json
import os
import pty
import subprocess
import sys
import termios
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from station.cli.scale import _text
from tests.service.daemons import ROOT, Daemon, station

pytestmark = pytest.mark.slow

CAPTURES = ROOT / "tests" / "captures"
GOOD = b"\n 0G      216.40g  \r"
OVER = b"\nO0G  --------- g  \r"


class Sender:
    """A scale at the other end of a pty: sends its frames over and over, ten a second."""

    def __init__(self, frames: list[bytes], baud: int = termios.B9600) -> None:
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.name = os.ttyname(slave)
        self._slave = slave
        self._baud = baud
        self._frames = frames
        self._going = True
        os.set_blocking(self.master, False)
        self._thread = threading.Thread(target=self._send, daemon=True)
        self._thread.start()

    def _send(self) -> None:
        n = 0
        while self._going:
            frame = self._frames[n % len(self._frames)]
            if termios.tcgetattr(self.master)[5] != self._baud:
                frame = bytes(byte * 167 % 251 | 0x80 for byte in frame)
            try:
                os.write(self.master, frame)
            except OSError:
                pass  # nobody reads: the line is full
            n += 1
            time.sleep(0.1)

    def end(self) -> None:
        self._going = False
        self._thread.join()
        os.close(self.master)
        os.close(self._slave)


@pytest.fixture
def sender() -> Iterator[Sender]:
    found = Sender([GOOD, OVER, b"\nnonsense\r"])
    yield found
    found.end()


def test_listening_with_a_grammar_prints_one_object_a_line(sender: Sender) -> None:
    result = station(
        "scale", "listen", sender.name, "--grammar", "sma-scp-0499", "--for", "1s", "--json"
    )
    assert result.returncode == 0, result.stderr
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    by_state = {line["state"]: line for line in lines}
    assert set(by_state) == {"ok", "overload", "fault"}
    good = by_state["ok"]
    assert set(good) == {
        "at", "value", "unit", "kind", "stable", "tare", "grams", "state", "raw", "reason",
    }  # fmt: skip
    assert (good["value"], good["unit"], good["kind"], good["stable"]) == (
        "216.40", "g", "gross", True,
    )  # fmt: skip
    assert bytes.fromhex(good["raw"]) == GOOD
    assert by_state["overload"]["value"] is None and by_state["fault"]["value"] is None


def test_listening_without_a_grammar_shows_the_bytes(sender: Sender) -> None:
    result = station("scale", "listen", sender.name, "--for", "500 ms")
    assert "0a 20 30 47" in result.stdout and "|. 0G" in result.stdout


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (("listen", "/nowhere", "--for", "300 ms"), 3, "cable is out"),
        (("listen", "/nowhere", "--for", "soon"), 2, "expected a time"),
        (("listen", "/nowhere", "--grammar", "sma-scp-499"), 2, "did you mean 'sma-scp-0499'"),
        (("identify", "/nowhere"), 3, "cable is out"),
        (("check-grammar", "/nowhere"), 2, "cannot be read"),
        (("check-grammar", "README.md"), 2, "README.md: "),
        (("replay", "README.md", "--grammar", "sma-scp-0499"), 2, "expected seconds"),
    ],
)
def test_what_cannot_be_done_says_why(words: tuple[str, ...], status: int, says: str) -> None:
    result = station("scale", *words)
    assert (result.returncode, says in result.stderr) == (status, True), result.stderr
    assert "Traceback" not in result.stderr


def test_a_port_that_a_station_holds_is_refused(tmp_path: Path) -> None:
    sender = Sender([GOOD])
    daemon = Daemon(tmp_path)
    (tmp_path / "fine").symlink_to(sender.name)
    daemon.start()
    try:
        time.sleep(1)
        refused = station("scale", "listen", str(tmp_path / "fine"), "--for", "1s")
        assert (refused.returncode, "another program holds" in refused.stderr) == (3, True)
    finally:
        daemon.stop()
        sender.end()


def test_an_unknown_scale_is_identified_by_listening_alone() -> None:
    lines = (CAPTURES / "hex-status-sum.capture").read_text().splitlines()
    frames = [bytes.fromhex(line.split()[1]) for line in lines if line[0] != "#"]
    sender = Sender(frames, termios.B19200)
    try:
        found = station("scale", "identify", sender.name, "--json")
    finally:
        sender.end()
    told = json.loads(found.stdout)
    assert (found.returncode, told["baud"], told["fits"][0]["grammar"]) == (
        0, 19_200, "hex-status-sum",
    )  # fmt: skip
    assert float(told["fits"][0]["share"]) > 0.9


def test_bytes_that_nothing_fits_are_shown_with_what_to_look_at() -> None:
    sender = Sender([b"weight of the thing: 12 kilos;"])
    try:
        found = station("scale", "identify", sender.name)
    finally:
        sender.end()
    assert found.returncode == 1
    assert "77 65 69 67 68 74" in found.stdout
    assert "a page of TOML describes them" in found.stdout
    assert "station scale new PORT" in found.stdout


def test_what_is_recorded_is_replayed_and_checked(sender: Sender, tmp_path: Path) -> None:
    file = tmp_path / "my.capture"
    recorded = station("scale", "record", sender.name, str(file), "--for", "1s")
    assert recorded.returncode == 0, recorded.stderr
    assert station("scale", "record", sender.name, str(file), "--for", "1s").returncode == 2
    words = ("scale", "replay", str(file), "--grammar", "sma-scp-0499", "--speed", "20", "--json")
    replayed = [json.loads(line) for line in station(*words).stdout.splitlines()]
    assert {line["state"] for line in replayed} == {"ok", "overload", "fault"}
    grammar = str(ROOT / "config" / "scales" / "sma-scp-0499.toml")
    checked = station("scale", "check-grammar", grammar, "--against", str(file), "--json")
    told = json.loads(checked.stdout)
    assert told["readings"] >= 4 and told["faults"] >= 2
    assert checked.returncode == 1  # more than a fifth of it is nonsense
    assert station("scale", "check-grammar", grammar).returncode == 0


def test_listening_ends_well_on_an_interrupt(sender: Sender) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "station", "scale", "listen", sender.name],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.readline()
    process.send_signal(2)
    _, errors = process.communicate(timeout=10)
    assert (process.returncode, errors) == (0, "")


def test_whoever_has_seen_enough_ends_the_listening(sender: Sender) -> None:
    words = f"{sys.executable} -m station scale listen {sender.name} | head -1"
    result = subprocess.run(
        words, shell=True, cwd=ROOT, capture_output=True, text=True, timeout=15, check=False
    )
    assert result.stdout.count("\n") == 1 and result.stderr == ""
    full = subprocess.run(
        f"{sys.executable} -m station scale listen {sender.name} > /dev/full",
        shell=True, cwd=ROOT, capture_output=True, text=True, timeout=15, check=False,
    )  # fmt: skip
    assert (full.returncode, "cannot be written" in full.stderr) == (3, True)
    assert "Traceback" not in full.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--baud", "99999999999999999999"), "baud is"),
        (("--bits", "9N9"), "bits is"),
        (("--for", "-5s"), "more than nothing"),
    ],
)
def test_line_settings_that_cannot_be_are_named(
    sender: Sender, words: tuple[str, ...], says: str
) -> None:
    result = station("scale", "listen", sender.name, *words)
    assert (result.returncode, says in result.stderr) == (2, True), result.stderr


def test_a_record_of_nothing_leaves_its_name_free(tmp_path: Path) -> None:
    file = tmp_path / "my.capture"
    words = ("scale", "record", "/nowhere", str(file), "--for", "300 ms")
    assert station(*words).returncode == 3
    assert not file.exists()


def test_a_long_chunk_is_replayed_and_a_wrong_time_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "long.capture"
    file.write_text(f"0.0 {(GOOD * 400).hex()}\n")
    words = ("scale", "replay", str(file), "--grammar", "sma-scp-0499", "--json")
    assert len(station(*words).stdout.splitlines()) == 400
    file.write_text(f"inf {GOOD.hex()}\n")
    assert station(*words).returncode == 2
    asked = ("scale", "replay", str(file), "--grammar", "asked-by-letter")
    assert station(*asked).returncode == 2


def test_identify_survives_a_wrong_configuration(sender: Sender, tmp_path: Path) -> None:
    missing = station("scale", "identify", sender.name, "--config", str(tmp_path / "none"))
    assert (missing.returncode, "Traceback" in missing.stderr) == (2, False)
    (tmp_path / "scales" / "dir.toml").mkdir(parents=True)
    (tmp_path / "scales" / "bad.toml").write_bytes(b"\xff\xfe")
    found = station("scale", "identify", sender.name, "--config", str(tmp_path))
    assert "sma-scp-0499" in found.stdout and "Traceback" not in found.stderr


def test_of_a_file_without_end_only_so_much_is_read_that_it_is_seen_to_be_too_long(
    tmp_path: Path,
) -> None:
    file = tmp_path / "long"
    file.write_text("abcdef")
    assert _text(file, 3) == "abcd"
