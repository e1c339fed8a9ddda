"""Recording a scale that must be asked: the question as typed, and its answers over a real pty."""

import os
import pty
import threading
import tty
from pathlib import Path

import pytest

from drivers.recording import read_capture
from station.cli.asking import LONGEST, question_of
from tests.service.daemons import station

ANSWER = b"S +00012.5 kg G\r\n"


@pytest.mark.parametrize(
    ("typed", "sent"),
    [
        (r"W\r", b"W\r"),
        (r"\x05", b"\x05"),
        (r"\x02P\x03", b"\x02P\x03"),
        (r"a\\r\n\t", b"a\\r\n\t"),
        ("\u00e9", b"\xe9"),
        (r"\x00", b"\x00"),
        ("a" * LONGEST, b"a" * LONGEST),
    ],
)
def test_a_question_is_sent_as_it_is_typed(typed: str, sent: bytes) -> None:
    assert question_of(typed) == sent


@pytest.mark.parametrize(
    "typed", ["", r"\q", r"\x5", "W\\", "\u20ac", "W\n", "W\x85", "a" * (LONGEST + 1)]
)
def test_what_is_no_question_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match="found"):
        question_of(typed)


def test_the_answers_of_a_scale_that_must_be_asked_are_recorded(tmp_path: Path) -> None:
    master, slave = pty.openpty()
    tty.setraw(slave)
    heard = bytearray()

    def scale() -> None:
        while b"\x04" not in heard:
            data = os.read(master, 64)
            heard.extend(data)
            os.write(master, ANSWER * data.count(b"W\r"))

    answering = threading.Thread(target=scale, daemon=True)
    answering.start()
    try:
        words = ("scale", "record", os.ttyname(slave), str(tmp_path / "a.capture"), "--for", "2s")
        refused = station(*words, "--ask", r"\q")
        assert (refused.returncode, "--ask" in refused.stderr) == (2, True)
        assert not (tmp_path / "a.capture").exists()
        done = station(*words, "--ask", r"W\r")
        assert done.returncode == 0, done.stderr
    finally:
        os.write(slave, b"\x04")
        answering.join(5)
        os.close(master)
        os.close(slave)
    capture = read_capture((tmp_path / "a.capture").read_text().splitlines())
    assert capture.head["asked"] == r"W\r"
    assert capture.data == ANSWER * heard.count(b"W\r") and heard.count(b"W\r") >= 2


def test_a_long_question_that_was_never_sent_leaves_its_name_free(tmp_path: Path) -> None:
    file = tmp_path / "a.capture"
    words = ("scale", "record", "/nowhere", str(file), "--for", "300 ms")
    assert station(*words, "--ask", r"\x05" * LONGEST).returncode == 3
    assert not file.exists()
