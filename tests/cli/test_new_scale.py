"""From an unknown scale to its file, in a conversation: on real ptys, by script."""

import json
import termios
import time
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.grammar import compile_grammar
from drivers.link import PortSettings
from drivers.recording import read_capture
from station.cli.identify import print_lines
from station.cli.loads import a_load
from tests.cli.unknown_scale import LOAD, OFF, Person, State, Unknown
from tests.drivers.unknown import INVENTED
from tests.service.daemons import station

pytestmark = pytest.mark.slow


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
    assert 'sends = "continuous"' in said and 'max = "3000 g"' in said
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
    person.does("What is Max", None, "15")
    person.does("a mass with its unit.*What is Max", None, "0 g")
    person.does("more than nothing.*What is Max", None, "3 kg")
    person.does("off the pan", OFF, "what")
    person.does("press Enter, or type s", None)
    person.does("its display show", None, "nothing")
    person.does("type the number as the display shows it", None, "1e30")
    person.does("type the number as the display shows it", None)
    person.does("press Enter", State(LOAD))
    person.does("with every digit and its unit", None, "216.40")
    person.does("type the unit behind it, one of", None, "216.40 lb")
    person.does("the display shows lb, and Max is 3 kg", None, "5 g")
    person.does("its digits tell too little", None, "0 g")
    person.does("a blank and the unit", None, "3000.01 g")
    person.does("is more than Max", None, "29.99 g")
    person.does("is less than a hundredth of Max", None, "216,40 g")
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


@pytest.mark.parametrize(
    ("word", "unit", "max_g", "wrong"),
    [
        ("1234", "g", "1234", ""),
        ("1.234", "kg", "1234", ""),
        ("1234.1", "g", "1234", "more than Max"),
        ("21,60", "g", "2160", ""),
        ("21.59", "g", "2160", "less than a hundredth"),
        ("1.234", "g", "15000", "less than a hundredth"),  # it shows kilograms, and was mistyped
        ("1234", "kg", "15000", "more than Max"),
        ("0.12", "lb", "1000", ""),
        ("-1.2", "g", "15", "as the display shows it"),
        ("1.2", "", "15", "type the unit"),
        ("5.5", "g", "15", "tell too little"),
    ],
)
def test_a_load_lies_between_a_hundredth_of_max_and_max(
    word: str, unit: str, max_g: str, wrong: str
) -> None:
    load, said = a_load(word, unit, Decimal(max_g), "2 lb" if unit == "lb" else f"{max_g} g")
    assert (load is None) is bool(wrong) and wrong in said
    assert load is None or load == Decimal(word.replace(",", "."))


def test_who_gives_up_keeps_what_was_heard_and_may_begin_again_under_the_same_name(
    scale: Unknown, tmp_path: Path
) -> None:
    folder = tmp_path / "scales"
    for ends, files in (("eof", ["auction.capture"]), ("intr", ["auction-2.capture"])):
        person = Person(scale, tmp_path)
        person.does("What is Max", None, "3 kg")
        person.does("off the pan", OFF)
        person.does("its display show", None)
        person.does("heavier the better.*press Enter", State(LOAD))
        person.child.expect("every digit and its unit")
        person.child.sendeof() if ends == "eof" else person.child.sendintr()
        said = person.ends()
        assert "nobody answered" in said and files[0] in said, said
        heard = read_capture((folder / files[0]).read_text().splitlines())
        assert heard.head["display empty"] == "0" and heard.chunks
    assert sorted(path.name for path in folder.iterdir()) == [
        "auction-2.capture",
        "auction.capture",
    ]


def test_a_display_read_wrong_is_looked_at_again_at_once(scale: Unknown, tmp_path: Path) -> None:
    person = Person(scale, tmp_path)
    person.does("What is Max", None, "3 kg")
    person.does("off the pan", OFF)
    person.does("its display show", None)
    person.does("heavier the better.*press Enter", State(LOAD))
    person.does("every digit and its unit", None, "261.40 g")
    person.does("nothing that it sends reads 261.40.*every digit and its unit", None, "216.40 g")
    person.does("set it down again", None, "s")
    assert "nothing that it sends" not in person.child.before
    person.does("too much", None, "s")
    person.does("tare key", State(LOAD, LOAD))
    person.does("its display show.*Enter: 0.00", None, "5.00")
    person.does("nothing that it sends reads 5.00.*Enter: 0.00", None)
    person.does("leave the tare", State(OFF.gross, LOAD))
    person.does("its display show.*Enter: -216.40", None)
    person.does("clear the tare", OFF)
    person.compares("g")
    person.ends()
    assert person.child.exitstatus == 0


def test_frames_that_are_signs_at_a_slower_speed_too_are_heard_at_their_own(
    tmp_path: Path,
) -> None:
    scale = Unknown(INVENTED["words between bars"], termios.B19200, garbled=b"%5\r")
    try:
        person = Person(scale, tmp_path)
        person.child.expect("sends at 19200 baud")
        person.child.expect("What is Max")
        person.child.sendeof()
        assert "nobody answered" in person.ends()
    finally:
        scale.end()
    assert not list((tmp_path / "scales").iterdir())  # nothing was heard of any load


def test_a_cable_that_is_pulled_meanwhile_keeps_what_was_heard(tmp_path: Path) -> None:
    scale = Unknown(INVENTED["words between bars"], termios.B9600)
    person = Person(scale, tmp_path)
    person.does("What is Max", None, "3 kg")
    person.does("off the pan", OFF)
    person.does("its display show", None)
    person.child.expect("heavier the better.*press Enter")
    person.child.sendline("")
    person.child.expect("every digit and its unit")
    person.child.sendline("216.40 g")
    time.sleep(0.3)
    scale.end()
    said = person.ends()
    assert "cable is out" in said and "begin again" in said
    assert [path.name for path in (tmp_path / "scales").iterdir()] == ["auction.capture"]


def test_with_a_question_from_its_papers_that_one_alone_is_sent(tmp_path: Path) -> None:
    scale = Unknown(INVENTED["STX letter ETX"], termios.B4800, b"W\r")
    try:
        person = Person(scale, tmp_path, "--ask", "W\\r")
        person.child.expect(r"sends at 4800 baud, asked with W\\r")
        person.child.expect("What is Max")
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
