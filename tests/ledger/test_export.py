"""An export is verified by one file of standard library, and no change in it goes unseen."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from station.cli.ledger import ledger as verbs
from station.ledger import inspector

PARTS = {"whole": (), "range": ("--from", "3", "--to", "12"), "batch": ("--batch", "b-1")}


def export(path: Path, *words: str) -> Result:
    out = str(path.with_name("out.jsonl"))
    return CliRunner().invoke(verbs, ["export", "--ledger", str(path), "--out", out, *words])


def inspected(file: Path) -> tuple[int, str]:
    words = [sys.executable, "-I", str(inspector.__file__), str(file)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert not done.stderr
    return done.returncode, done.stdout


def parts(path: Path, *words: str) -> tuple[Path, list[dict[str, Any]]]:
    assert export(path, *words).exit_code == 0
    out = path.with_name("out.jsonl")
    return out, [json.loads(line) for line in out.read_text().splitlines()]


@pytest.mark.parametrize("part", PARTS)
def test_an_export_is_whole_and_each_kind_of_change_in_it_is_broken(path: Path, part: str) -> None:
    before = path.read_bytes()
    out, lines = parts(path, *PARTS[part])
    assert path.read_bytes() == before
    assert inspected(out)[0] == 0
    seq = lines[4]["seq"]
    changed = [*lines[:4], lines[4] | {"at": "2020"}, *lines[5:]]
    for wrong in (changed, lines[:4] + lines[5:], lines[:-1], lines[:5] + lines[4:]):
        out.write_text("".join(f"{json.dumps(line)}\n" for line in wrong))
        status, said = inspected(out)
        assert status == 1 and "BROKEN: event" in said
    out.write_text("".join(f"{json.dumps(line)}\n" for line in changed))
    assert f"event {seq} was changed" in inspected(out)[1]


@pytest.mark.parametrize("text", ["", "{}\n", "[]\n", "no json\n", '{"format": "other"}\n'])
def test_what_is_no_export_cannot_be_read(tmp_path: Path, text: str) -> None:
    file = tmp_path / "x"
    file.write_text(text)
    assert inspected(file)[0] == 2
    assert inspected(tmp_path / "none")[0] == 2


def test_a_head_or_a_ledger_that_is_another_is_broken(path: Path) -> None:
    out, lines = parts(path)
    for key in ("head", "ledger"):
        wrong = [lines[0] | {key: "00" * 32}, *lines[1:]]
        out.write_text("".join(f"{json.dumps(line)}\n" for line in wrong))
        assert inspected(out)[0] == 1


def test_nothing_is_overwritten_and_wrong_words_are_told(path: Path) -> None:
    assert export(path).exit_code == 0
    assert "exists already" in export(path).output
    path.with_name("out.jsonl").unlink()
    assert export(path, "--batch", "b-9").exit_code == 3
    assert export(path, "--from", "9", "--to", "8").exit_code == 3
    assert export(path, "--batch", "b-1", "--to", "8").exit_code == 2
    assert not path.with_name("out.jsonl").exists()


def test_the_verifier_is_printed_as_it_stands() -> None:
    printed = CliRunner().invoke(verbs, ["verifier"]).output
    assert printed == Path(inspector.__file__).read_text()
