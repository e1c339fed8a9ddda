"""A file that a person names is written new or not at all; the next step is the verb's own."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from station.cli.common import write_new
from station.cli.formula import formula
from station.resources import packaged


def run(tmp_path: Path, verb: str, target: Path) -> Result:
    ring = Path(shutil.copy(packaged() / "formulas" / "garlic-ring.toml", tmp_path / "ring.toml"))
    words = {
        "solve": ["--ppm", "150", "--to", str(target)],
        "sheet": ["--meat", "12 kg", "--code", str(target)],
    }[verb]
    return CliRunner(catch_exceptions=False).invoke(formula, [verb, str(ring), *words])


@pytest.mark.parametrize(
    ("verb", "step", "status"),
    [("solve", "say another file with --to", 3), ("sheet", "name another file", 2)],
)
def test_a_file_that_is_there_is_never_written_over(
    tmp_path: Path, verb: str, step: str, status: int
) -> None:
    taken = tmp_path / "mine"
    taken.write_text("mine", "utf-8")
    result = run(tmp_path, verb, taken)
    assert result.exit_code == status
    assert result.stderr == f"station: {taken} is there already\n  next: {step}\n"
    assert taken.read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("verb", "step"), [("solve", "say another with --to"), ("sheet", "name another file")]
)
def test_a_file_that_cannot_be_written_is_told_with_the_reason(
    tmp_path: Path, verb: str, step: str
) -> None:
    nowhere = tmp_path / "none" / "new"
    result = run(tmp_path, verb, nowhere)
    assert result.exit_code == 3
    told = f"station: {nowhere} cannot be written: No such file or directory\n  next: {step}\n"
    assert result.stderr == told


@pytest.mark.parametrize("verb", ["solve", "sheet"])
def test_a_new_file_has_what_was_made(tmp_path: Path, verb: str) -> None:
    result = run(tmp_path, verb, tmp_path / "new")
    assert result.exit_code == 0, result.output
    text = (tmp_path / "new").read_text("utf-8")
    assert ("revision = 2" in text) if verb == "solve" else ("<svg" in text)


@pytest.mark.parametrize("content", ["5 °C\n", b"5 \xc2\xb0C\n"])
def test_text_is_written_as_it_is_and_bytes_too(tmp_path: Path, content: str | bytes) -> None:
    write_new(tmp_path / "new", content, "say another")
    assert (tmp_path / "new").read_bytes() == b"5 \xc2\xb0C\n"


def test_the_same_step_is_told_where_none_of_its_own_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        write_new(tmp_path, "text", "say another")
    assert ended.value.code == 3
    assert capsys.readouterr().err.endswith("is there already\n  next: say another\n")
