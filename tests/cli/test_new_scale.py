"""From an unknown scale to its file, in a conversation: on real ptys, by script."""

import json
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.grammar import compile_grammar
from drivers.link import PortSettings
from drivers.recording import read_capture
from station.cli.identify import print_lines
from tests.cli.unknown_scale import LOAD, OFF, Person, State, Unknown
from tests.drivers.unknown import INVENTED
from tests.service.daemons import station


@pytest.fixture
def scale() -> Iterator[Unknown]:
    found = Unknown(INVENTED["words between bars"], termios.B4800)
    yield found
    found.end()


def test_a_scale_that_sends_by_itself_gets_its_file_its_capture_and_its_lines(
    scale: Unknown, tmp_path: Path
) -> None:
    person = Person(scale, tmp_path)
    person.shows_the_loads("g")
    person.child.expect("read as an overload")
    assert "[[scale]]" not in person.child.before
    assert not (tmp_path / "scales" / "auction.toml").exists()
    person.compares("g")
    said = person.ends()
    assert person.child.exitstatus == 0
    assert 'grammar = "auction"' in said and "baud = 4800" in said
    assert 'sends = "continuous"' in said
    text = (tmp_path / "scales" / "auction.toml").read_text()
    grammar = compile_grammar(text, "auction.toml")
    assert 'columns = "mm|kk|vvvvvvv.vv u"' in text and grammar.line.baud == 4800
    assert scale.asked == []  # it only listens
    capture = tmp_path / "scales" / "auction.capture"
    head = read_capture(capture.read_text().splitlines()).head
    assert (head["display known"], head["display lifted"]) == ("216.40", "-216.40")
    file = str(tmp_path / "scales" / "auction.toml")
    assert station("scale", "check-grammar", file, "--against", str(capture)).returncode == 0


def test_a_scale_that_must_be_asked_is_asked_after_a_yes_alone(tmp_path: Path) -> None:
    scale = Unknown(INVENTED["STX letter ETX"], termios.B9600, b"W\r")
    told = tmp_path / "told.json"
    try:
        person = Person(scale, tmp_path, "--json", into=told)
        person.child.expect("Shall I send them")
        assert scale.asked == []
        person.child.sendline("y")
        person.shows_the_loads("g", skip=("move", "over", "tared"))
        person.child.expect("tare key was not recorded")
        person.compares("g")
        said = person.ends()
    finally:
        scale.end()
    assert "[[scale]]" not in said
    found = json.loads(told.read_text())  # all of standard output
    assert (found["baud"], found["asked"], found["unit"]) == (9600, "W\\r", "g")
    assert Path(found["file"]).exists() and Path(found["capture"]).exists()
    grammar = compile_grammar((tmp_path / "scales" / "auction.toml").read_text(), "x")
    assert grammar.poll is not None and grammar.poll.send == "W\r"


def test_without_a_yes_nothing_is_ever_sent(tmp_path: Path) -> None:
    scale = Unknown(INVENTED["STX letter ETX"], termios.B9600, b"W\r")
    try:
        person = Person(scale, tmp_path)
        person.does("Shall I send them", None, "")
        person.does("type y or n", None, "n")
        said = person.ends()
    finally:
        scale.end()
    assert (person.child.exitstatus, scale.asked) == (1, [])
    assert "nothing arrives by itself" in said and "--ask" in said


def test_what_the_display_does_not_show_leaves_the_capture_and_no_file(
    scale: Unknown, tmp_path: Path
) -> None:
    person = Person(scale, tmp_path)
    person.shows_the_loads("g", skip=("move", "over", "tared"))
    person.does("load 1 of 2", State(LOAD / 2))
    person.does("display show 108.20 g", None, "n")
    said = person.ends()
    assert person.child.exitstatus == 1 and "[[scale]]" not in said
    assert [path.name for path in (tmp_path / "scales").iterdir()] == ["auction.capture"]


def test_what_cannot_be_worked_out_is_a_sentence_with_the_capture(tmp_path: Path) -> None:
    scale = Unknown(lambda s, n: f"W{s.net}g\r\n".encode(), termios.B9600)
    try:
        person = Person(scale, tmp_path)
        person.shows_the_loads("g", skip=("move", "over", "tared"))
        said = person.ends()
    finally:
        scale.end()
    assert person.child.exitstatus == 1
    assert "such a format needs a regex" in said and "auction.capture" in said


def test_answers_that_tell_nothing_are_asked_for_again(scale: Unknown, tmp_path: Path) -> None:
    person = Person(scale, tmp_path)
    person.does("off the pan", OFF, "what")
    person.does("press Enter, or type s", None)
    person.does("its display show", None, "nothing")
    person.does("type the number as the display shows it", None, "1e30")
    person.does("type the number as the display shows it", None)
    person.does("press Enter", State(LOAD))
    person.does("with every digit and its unit", None, "216.40")
    person.does("type the unit behind it, one of", None, "5 g")
    person.does("its digits tell too little", None, "0 g")
    person.does("a blank and the unit", None, "216,40 g")
    person.child.expect("set it down again")
    person.child.sendeof()
    assert "nobody answered" in person.ends()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--name", "Mine!"), "expected small letters"),
        (("--name", "mine"), "no configuration of yours"),
        (("--name", "mine", "--ask", "\\q"), "--ask"),
        (("--name", "sma-scp-0499", "--config", "FOLDER"), "is there already"),
        (("--name", "mine", "--config", "/nowhere"), "no configuration folder"),
        (("--name", "mine", "--config", "FOLDER"), "run it at a terminal"),
    ],
)
def test_what_is_wrong_before_the_first_load_is_said_first(
    tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    told = [str(tmp_path) if word == "FOLDER" else word for word in words]
    found = station("scale", "new", "/nowhere", *told, env_extra={"STATION_CONFIG": ""})
    assert found.returncode in (1, 2) and says in found.stderr, found.stderr


def test_a_capture_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "scales").mkdir()
    (tmp_path / "scales" / "mine.capture").write_text("")
    words = ("--name", "mine", "--config", str(tmp_path))
    found = station("scale", "new", "/nowhere", *words)
    assert (found.returncode, "exists already" in found.stderr) == (2, True)


def test_with_a_question_from_its_papers_that_one_alone_is_sent(tmp_path: Path) -> None:
    scale = Unknown(INVENTED["STX letter ETX"], termios.B4800, b"W\r")
    try:
        person = Person(scale, tmp_path, "--ask", "W\\r")
        person.child.expect(r"sends at 4800 baud, asked with W\\r")
        person.child.expect("off the pan")
        assert "Shall I send" not in person.child.before
        person.child.sendeof()
        person.ends()
        assert set(scale.asked) == {b"W\r"}
        person = Person(scale, tmp_path, "--ask", "Q")
        assert "it answers none of these questions" in person.ends()
    finally:
        scale.end()
    assert person.child.exitstatus == 1


def test_bytes_that_are_signs_at_no_speed_are_another_kind_of_format(tmp_path: Path) -> None:
    scale = Unknown(lambda s, n: bytes([0xAA, n % 31 + 128, 0x91, 0xD0]) * 4, termios.B9600)
    try:
        person = Person(scale, tmp_path)
        said = person.ends()
    finally:
        scale.end()
    assert "at no speed they are signs" in said and "scale record" in said
    assert (person.child.exitstatus, scale.asked) == (1, [])


def test_a_port_that_is_not_there_is_said(tmp_path: Path) -> None:
    scale = Unknown(INVENTED["bits"], termios.B9600)
    scale.end()
    scale.name = "/nowhere"
    person = Person(scale, tmp_path)
    assert "cable is out" in person.ends()
    assert person.child.exitstatus == 3


@pytest.mark.parametrize(("asked", "sends"), [(True, '"asked"'), (False, '"continuous"  ')])
def test_the_lines_say_whether_it_must_be_asked(
    asked: bool, sends: str, capsys: pytest.CaptureFixture[str]
) -> None:
    print_lines(PortSettings("/dev/x", 4800, "7E1"), "auction", "g", asked)
    said = capsys.readouterr().out
    assert f"sends = {sends}" in said
    assert 'baud = 4800\nbits = "7E1"' in said and 'unit = "g"' in said
