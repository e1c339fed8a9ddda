"""`station formula solve` writes a new revision beside the old file, nothing that is refused."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from station.cli.formula import formula
from station.resources import packaged


@pytest.fixture
def ring(tmp_path: Path) -> Path:
    return Path(shutil.copy(packaged() / "formulas" / "garlic-ring.toml", tmp_path / "ring.toml"))


def run(verb: str, *words: str | Path) -> Result:
    return CliRunner().invoke(formula, [verb, *map(str, words)])


def test_the_next_revision_stands_beside_the_old_one_and_passes(ring: Path) -> None:
    """150 mg/kg are 2.4 g/kg of a 6.25 % premix; 19 g of salt less its 2.25 are 16.75 (by hand)."""
    before = ring.read_text("utf-8")
    result = run("solve", ring, "--ppm", "150", "--salt", "1.9 %")
    new = ring.with_name("ring-2.toml")
    assert result.exit_code == 0
    assert f"{new}: Fenwether garlic ring, revision 2, by the law of us" in result.stdout
    assert "curing premix: 0.20 % -> 2.4 g/kg, 150 mg/kg of nitrite" in result.stdout
    assert "salt: 1.8 % -> 16.75 g/kg, salt 1.9 % of the meat" in result.stdout
    assert "all salt: 1.9875 -> 1.9 % of the meat" in result.stdout
    assert ring.read_text("utf-8") == before
    assert run("check", new).exit_code == 0
    third = run("solve", new, "--sodium", "0.8 %", "--json")
    told = json.loads(third.stdout)
    assert (told["file"], told["revision"]) == (str(ring.with_name("ring-3.toml")), 3)
    assert [(row["line"], row["aim"]) for row in told["changed"]] == [("salt", "sodium")]


def test_no_file_is_written_over(ring: Path) -> None:
    taken = ring.with_name("ring-2.toml")
    taken.write_text("mine", "utf-8")
    result = run("solve", ring, "--ppm", "150")
    assert result.exit_code == 3
    assert "is there already" in result.stderr
    assert taken.read_text("utf-8") == "mine"
    result = run("solve", ring, "--ppm", "150", "--to", ring.parent / "none" / "x.toml")
    assert (result.exit_code, "cannot be written" in result.stderr) == (3, True)


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (("--ppm", "156.4"), 1, "the law of us refuses it: curing premix: 156.38"),
        (("--ppm", "156.4"), 1, "next: the law leaves --ppm 156.25 here"),
        (("--salt", "0.1 %"), 1, "no amount of salt meets it"),
        ((), 2, "an aim is --ppm, one of --salt and --sodium, or both"),
        (("--salt", "1.9 %", "--sodium", "1 %"), 2, "an aim is --ppm"),
        (("--ppm", "many"), 2, "expected a number such as"),
        (("--ppm", "0"), 2, "expected more than nothing"),
        (("--salt", "1,9 %"), 2, "write a point"),
    ],
)
def test_what_cannot_be_met_is_said_and_nothing_is_written(
    ring: Path, words: tuple[str, ...], status: int, says: str
) -> None:
    result = run("solve", ring, *words)
    assert result.exit_code == status
    assert says in result.stderr
    assert [path.name for path in ring.parent.iterdir()] == ["ring.toml"]


@pytest.mark.parametrize(
    ("authority", "ppm", "leaves"),
    [
        ("gb", "150", None), ("gb", "150.1", "150"), ("us", "150.1", None),
        ("eu", "119.97", None), ("eu", "120", "119.9375"),  # a milligram of premix is 0.0625
    ],
)  # fmt: skip
def test_it_is_judged_by_the_law_that_is_asked_for(
    ring: Path, authority: str, ppm: str, leaves: str | None
) -> None:
    """Great Britain 150 mg/kg as NaNO2 (trade press), the EU 80 as NO2, which are 119.98
    (Regulation (EU) 2023/2108, summary; computed), the US 156.25 (9 CFR 424.21(c), 2015 edition);
    asked for, it comes before the one that the formula names."""
    named = {"us": "gb", "gb": "us", "eu": "us"}[authority]
    text = ring.read_text("utf-8").replace("revision = 1", f'revision = 1\nauthority = "{named}"')
    ring.write_text(text, "utf-8")
    result = run("solve", ring, "--ppm", ppm, "--authority", authority)
    assert result.exit_code == (1 if leaves else 0), result.output
    if leaves:
        assert f"the law of {authority} refuses it" in result.stderr
        assert f"next: the law leaves --ppm {leaves}" in result.stderr
    else:
        assert f"revision 2, by the law of {authority}" in result.stdout


def test_without_being_asked_it_is_judged_by_the_law_that_the_formula_names(ring: Path) -> None:
    text = ring.read_text("utf-8").replace("revision = 1", 'revision = 1\nauthority = "gb"')
    ring.write_text(text, "utf-8")
    result = run("solve", ring, "--ppm", "156")
    assert (result.exit_code, "the law of gb refuses it" in result.stderr) == (1, True)


def test_an_authority_that_is_not_known_is_told_with_those_that_are(ring: Path) -> None:
    result = run("solve", ring, "--ppm", "150", "--authority", "uk")
    assert result.exit_code == 2
    assert all(f"'{name}'" in result.stderr for name in ("us", "eu", "gb"))
