"""No lines for station.toml before two loads were compared with the scale's own display."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pexpect
import pytest

from drivers.identify import proves_nothing
from tests.cli.test_scale import Sender
from tests.service.daemons import ROOT, station

pytestmark = pytest.mark.slow


def frame(weight: str) -> bytes:
    return b"\n 0G  " + weight.rjust(10).encode() + b"g  \r"


@pytest.fixture
def sender() -> Iterator[Sender]:
    found = Sender([frame("216.40")])
    yield found
    found.end()


@pytest.fixture
def person(sender: Sender) -> Iterator["pexpect.spawn[str]"]:
    words = ["-m", "station", "scale", "identify", sender.name]
    child = pexpect.spawn(sys.executable, words, cwd=str(ROOT), timeout=20, encoding="utf-8")
    yield child
    child.close(force=True)


def load(person: "pexpect.spawn[str]", sender: Sender, weight: str) -> None:
    person.expect("press Enter ")
    sender._frames = [frame(weight)]
    person.sendline("")


def test_the_lines_come_after_two_loads_that_the_display_shows(
    sender: Sender, person: "pexpect.spawn[str]"
) -> None:
    load(person, sender, "12.35")
    person.expect("display show 12.35 g")
    assert "[[scale]]" not in person.before
    person.sendline("y")
    load(person, sender, "12.35")
    person.expect("12.35 g was there before")
    load(person, sender, "12.21")
    person.expect("12.21 g reads the same backwards")
    load(person, sender, "87.04")
    person.expect("display show 87.04 g")
    assert "[[scale]]" not in person.before
    person.sendline("y")
    person.expect("grammar = .sma-scp-0499")
    person.expect("sends = .continuous. ")
    person.expect(pexpect.EOF)
    person.close()
    assert person.exitstatus == 0


def test_a_weight_that_the_display_does_not_show_ends_it_without_lines(
    sender: Sender, person: "pexpect.spawn[str]"
) -> None:
    load(person, sender, "12.35")
    person.expect("display show 12.35 g")
    person.sendline("n")
    person.expect(pexpect.EOF)
    assert "another format" in person.before and "[[scale]]" not in person.before
    person.close()
    assert person.exitstatus == 1


TWIN = """name = "twin"
about = "reads the same frames"
start = "\\n"
end = "\\r"
unit = "%s"
regex = '.{5}(?P<value>[ .0-9]{10})g  '
"""


def beside_a_twin(sender: Sender, folder: Path, unit: str) -> "pexpect.spawn[str]":
    (folder / "scales").mkdir()
    (folder / "scales" / "twin.toml").write_text(TWIN % unit)
    words = ["-m", "station", "scale", "identify", sender.name, "--config", str(folder)]
    return pexpect.spawn(sys.executable, words, cwd=str(ROOT), timeout=20, encoding="utf-8")


def test_of_two_grammars_that_could_be_meant_the_display_decides(
    sender: Sender, tmp_path: Path
) -> None:
    person = beside_a_twin(sender, tmp_path, "kg")
    load(person, sender, "12.35")
    person.expect("1: 12.35 g")
    person.expect("2: 12.35 kg")
    person.expect("0: none")
    person.sendline("2")
    load(person, sender, "87.04")
    person.expect("display show 87.04 kg")
    person.sendline("y")
    person.expect("grammar = .twin")
    person.expect(pexpect.EOF)
    person.close()


def test_two_grammars_that_read_the_same_weights_are_both_named(
    sender: Sender, tmp_path: Path
) -> None:
    person = beside_a_twin(sender, tmp_path, "g")
    for weight in ("12.35", "87.04"):
        load(person, sender, weight)
        person.expect(f"display show {weight} g")
        person.sendline("y")
    person.expect("(sma-scp-0499|twin) and (sma-scp-0499|twin) read the same weights")
    person.expect(pexpect.EOF)
    person.close()


def test_a_weight_that_is_read_begins_the_count_of_vain_readings_anew(
    sender: Sender, person: "pexpect.spawn[str]"
) -> None:
    load(person, sender, "12.35")
    person.expect("display show 12.35 g")
    person.sendline("y")
    for _ in range(2):
        person.expect("press Enter ")
        sender._frames = [b""]
        person.sendline("")
        person.expect("no weight was read: wait")
    load(person, sender, "12.35")
    person.expect("12.35 g was there before")
    person.expect("press Enter ")
    sender._frames = [b""]
    person.sendline("")
    person.expect("no weight was read: wait")
    load(person, sender, "87.04")
    person.expect("display show 87.04 g")
    person.sendline("y")
    person.expect(pexpect.EOF)
    assert "[[scale]]" in person.before


def test_nothing_read_three_times_in_a_row_is_said_with_the_next_step(
    sender: Sender, person: "pexpect.spawn[str]"
) -> None:
    for _ in range(3):
        person.expect("press Enter ")
        sender._frames = [b""]
        person.sendline("")
    person.expect(pexpect.EOF)
    assert "3 times no weight was read" in person.before
    assert "station scale listen" in person.before
    person.close()
    assert person.exitstatus == 1


def test_where_nobody_can_be_asked_no_lines_are_given(sender: Sender) -> None:
    found = station("scale", "identify", sender.name)
    assert found.returncode == 1
    assert "sma-scp-0499 fits" in found.stdout and "[[scale]]" not in found.stdout
    assert "run it at a terminal" in found.stderr


@pytest.mark.parametrize(
    ("weight", "nothing"),
    [("1.234 kg", False), ("0.000 kg", True), ("12.21 g", True), ("-0.870", False), ("5 g", True)],
)
def test_digits_that_are_the_same_from_both_ends_prove_nothing(weight: str, nothing: bool) -> None:
    assert proves_nothing(weight) is nothing
