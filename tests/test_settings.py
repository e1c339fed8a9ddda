"""station.toml: what a list of people must not hold."""

from pathlib import Path

import pytest

from station.resources import Config
from station.settings import load_settings
from station.tomlfile import FileMistakes

BUNDLED = Path(__file__).parents[1] / "config" / "station.toml"
TWO = '["Ansel", "Brida"]'


def with_people(folder: Path, *people: str) -> Config:
    listed = ", ".join(f'"{person}"' for person in people)
    text = BUNDLED.read_text(encoding="utf-8")
    assert TWO in text
    (folder / "station.toml").write_text(text.replace(TWO, f"[{listed}]"), encoding="utf-8")
    return Config(folder)


@pytest.mark.parametrize(
    "twin",
    ["Ansel", "ansel", "ANSEL", " Ansel", "Ansel  ", "Ａｎｓｅｌ", "Zoe\u0308", "Stra\u00dfe"],
)
def test_one_name_written_in_two_ways_is_no_list_of_two_people(tmp_path: Path, twin: str) -> None:
    config = with_people(tmp_path, "Ansel", "Zo\u00eb", "Strasse", twin)
    with pytest.raises(FileMistakes, match="are one name"):
        load_settings(config)


@pytest.mark.parametrize("name", ["", "  ", "An\\u00adsel", "Ansel\\u200b", "An\\u001bsel"])
def test_a_name_that_cannot_be_read_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileMistakes, match="a name that can be read"):
        load_settings(with_people(tmp_path, "Brida", name))


def test_names_that_the_eye_tells_apart_are_two_people(tmp_path: Path) -> None:
    people = ("Ansel", "Ansel 2", "Anselm", "Zo\u00eb", "Zoe")
    assert load_settings(with_people(tmp_path, *people)).people == people


@pytest.mark.parametrize(
    ("line", "days"), [("", None), ("backup_days = 1", 1), ("backup_days = 7", 7)]
)
def test_how_old_a_backup_may_be_is_a_number_of_days_or_no_matter(
    tmp_path: Path, line: str, days: int | None
) -> None:
    assert load_settings(_config(tmp_path, line)).backup_days == days


@pytest.mark.parametrize("value", ["0", "-1", '"7"', "7.5", "true"])
def test_no_number_of_days_is_refused(tmp_path: Path, value: str) -> None:
    with pytest.raises(FileMistakes, match="backup_days"):
        load_settings(_config(tmp_path, f"backup_days = {value}"))


def _config(folder: Path, line: str) -> Config:
    """The packaged bench with a line more."""
    text = Config().read("station.toml")[0]
    (folder / "station.toml").write_text(text.replace("[[scale]]", f"{line}\n\n[[scale]]", 1))
    return Config(folder)


PROBE = """[[thermometer]]
name = "probe"
port = "/dev/serial/by-id/probe"
grammar = "temperature-in-columns"
baud = 4800
"""


def test_thermometers_hang_at_a_port_or_are_read_by_a_person(tmp_path: Path) -> None:
    dial = '[[thermometer]]\nname = "dial"'
    probe, other = load_settings(_config(tmp_path, f"{PROBE}\n{dial}")).thermometers
    assert probe.at is not None
    assert (probe.name, probe.at.port.port, probe.at.port.baud, probe.at.port.bits) == (
        "probe", "/dev/serial/by-id/probe", 4800, "8N1",
    )  # fmt: skip
    assert probe.at.kind.measures == "temperature"
    assert (other.name, other.at) == ("dial", None)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("temperature-in-columns", "sma-scp-0499", "measures a weight and no temperature"),
        ("temperature-in-columns", "ph-with-word", "measures a pH and no temperature"),
        ("temperature-in-columns", "nothing-such", "nothing-such"),
        ('grammar = "temperature-in-columns"', "", "grammar"),
        ('name = "probe"', 'name = " "', "a name that can be read"),
        ('name = "probe"', 'name = "pro\\u001bbe"', "signs that can be shown"),
        ("by-id/probe", "by-id/fine-scale", "two devices are at '/dev/serial/by-id/fine-scale'"),
        ("baud = 4800", 'bits = "9X9"', "bits"),
        ("baud = 4800", 'unit = "degC"', "unit"),
        ("baud = 4800", PROBE.replace("by-id/probe", "by-id/other"), "named 'probe'"),
    ],
)
def test_a_wrong_thermometer_says_what_is_wrong(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    assert old in PROBE
    with pytest.raises(FileMistakes, match=says):
        load_settings(_config(tmp_path, PROBE.replace(old, new)))


def test_costs_are_in_a_currency_where_one_is_named(tmp_path: Path) -> None:
    assert load_settings(Config(tmp_path)).currency == ""
    text = BUNDLED.read_text(encoding="utf-8").replace("simulated = false", 'currency = "EUR"')
    (tmp_path / "station.toml").write_text(text, encoding="utf-8")
    assert load_settings(Config(tmp_path)).currency == "EUR"
