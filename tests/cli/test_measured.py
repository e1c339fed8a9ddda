"""What is no weight is shown as what it is, and no scale can be made of it."""

import json
from pathlib import Path

import pytest

from station.resources import Config
from station.settings import load_settings
from station.tomlfile import FileMistakes
from tests.cli.test_scale import Sender
from tests.service.daemons import ROOT, station

pytestmark = pytest.mark.slow

WARM, SOUR = b"P1 + 18.5 C *\r\n", b"pH  5.32 OK \r\n"
FILES = {"temperature-in-columns": WARM, "ph-with-word": SOUR}


@pytest.mark.parametrize(
    ("name", "shows"),
    [
        ("temperature-in-columns", "temperature 18.5 degC stable"),
        ("ph-with-word", "pH 5.32 stable"),
    ],
)
def test_listening_shows_it_with_its_unit_and_no_grams(name: str, shows: str) -> None:
    sender = Sender([FILES[name]])
    try:
        words = ("scale", "listen", sender.name, "--grammar", name, "--for", "700 ms")
        told, said = station(*words), station(*words, "--json")
    finally:
        sender.end()
    assert shows in told.stdout and " g" not in told.stdout.partition("|  ")[2]
    line = json.loads(said.stdout.splitlines()[0])
    assert set(line) == {"at", "quantity", "value", "unit", "stable", "state", "raw", "reason"}


@pytest.mark.parametrize("name", FILES)
def test_check_grammar_reads_its_capture_as_what_it_is(name: str) -> None:
    file = str(ROOT / "config" / "scales" / f"{name}.toml")
    against = str(ROOT / "tests" / "captures" / f"{name}.capture")
    told = station("scale", "check-grammar", file, "--against", against)
    assert told.returncode == 0 and f"{name}: 5 readings, 0 faults" in told.stdout
    assert "the station uses" not in told.stdout and "ERROR" in told.stdout
    replayed = station("scale", "replay", against, "--grammar", name, "--speed", "20")
    assert replayed.returncode == 0 and len(replayed.stdout.splitlines()) == 5


def test_a_scale_that_names_it_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "station.toml").write_text(
        'name = "t"\nauthority = "us"\npeople = ["Ansel"]\n[[scale]]\nname = "fine"\n'
        'port = "/dev/x"\ngrammar = "ph-with-word"\nmax = "600 g"\ndivision = "0.05 g"\n'
        'class = "II"\nunit = "g"\n'
    )
    with pytest.raises(FileMistakes) as caught:
        load_settings(Config(tmp_path))
    (mistake,) = caught.value.mistakes
    assert "grammar: " in str(mistake) and "measures a pH and no weight" in str(mistake)


def test_identify_takes_an_instrument_for_no_scale_and_says_nothing_of_it() -> None:
    sender = Sender([WARM])
    try:
        found = station("scale", "identify", sender.name, "--json")
    finally:
        sender.end()
    assert json.loads(found.stdout)["fits"] == [] and found.stderr == ""
