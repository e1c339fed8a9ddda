"""What stands on paper: a mistyped code is told as one, a right one finds its event."""

import json
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from station.cli.ledger import ledger as verbs
from station.ledger.chain import head_text
from station.ledger.code import ALPHABET, Mistyped, fits, read_code, sheet_code
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from tests.ledger.ledgers import tamper

HEAD = "a65e8c590b1f77d2"
CODES = [sheet_code(seq, HEAD) for seq in (0, 1, 22, 23, 166, 1_000_000)]


@pytest.mark.parametrize("code", CODES)
def test_every_single_sign_mistyped_and_every_two_swapped_are_told(code: str) -> None:
    signs = code.replace("-", "")
    for at, right in enumerate(signs):
        for wrong in set(ALPHABET) - {right}:
            with pytest.raises(Mistyped):
                read_code(signs[:at] + wrong + signs[at + 1 :])
    for at, (one, other) in enumerate(pairwise(signs)):
        if one != other:
            with pytest.raises(Mistyped):
                read_code(signs[:at] + other + one + signs[at + 2 :])


@pytest.mark.parametrize("seq", [0, 1, 22, 23, 166, 1_000_000, 10**12])
def test_a_code_says_its_event_in_any_case_with_any_blanks(seq: int) -> None:
    code = read_code(sheet_code(seq, HEAD).lower().replace("-", " "))
    assert code.seq == seq and fits(code, HEAD) and not fits(code, "b" + HEAD[1:])


@pytest.mark.parametrize("group", ["0OQ", "1IL", "2Z", "5S", "8B", "6G", "UV"])
def test_no_two_signs_look_alike(group: str) -> None:
    assert len(set(group) & set(ALPHABET)) <= 1 and len(set(ALPHABET)) == 23


def ask(path: Path, *words: str) -> Result:
    return CliRunner().invoke(verbs, ["verify", "--ledger", str(path), *words])


def event(path: Path, seq: int) -> bytes:
    with open_reader(path) as db:
        return bytes(db.execute("SELECT hash FROM event WHERE seq = ?", [seq]).fetchone()[0])


def test_paper_of_this_ledger_is_known_by_code_and_by_head(path: Path) -> None:
    digest = event(path, 9)
    for words in (("--sheet", sheet_code(9, digest.hex())), ("--head", head_text(digest))):
        found = ask(path, *words)
        assert found.exit_code == 0 and "events 1 to 9 are as they were then" in found.stdout


@pytest.mark.parametrize(("broken", "status"), [(9, 1), (10, 0)])
def test_what_changed_up_to_the_paper_is_told_from_what_came_after(
    path: Path, broken: int, status: int
) -> None:
    code = sheet_code(9, event(path, 9).hex())
    tamper(path, f"UPDATE event SET at = '2020' WHERE seq = {broken}")
    found = ask(path, "--sheet", code, "--json")
    assert found.exit_code == 1
    assert f'"unchanged": {"false" if status else "true"}' in found.stdout


def test_paper_of_another_ledger_and_a_mistyped_one_are_two_things(path: Path) -> None:
    for seq in (9, 99_999):
        found = ask(path, "--sheet", sheet_code(seq, HEAD))
        assert found.exit_code == 1 and "another ledger" in found.stdout
    assert ask(path, "--head", head_text(bytes(32))).exit_code == 1
    code = sheet_code(9, HEAD)
    for words in (("--sheet", code[:-1] + ("3" if code[-1] != "3" else "4")), ("--head", "a65e")):
        found = ask(path, *words)
        assert found.exit_code == 2 and "mistyped" in found.output


@pytest.mark.parametrize("paper", ["--head", "--sheet"])
def test_an_empty_paper_is_no_paper_and_not_passed_over(path: Path, paper: str) -> None:
    result = ask(path, paper, "")
    assert (result.exit_code, "mistyped" in result.stderr) == (2, True)


def test_without_the_mark_beside_it_nobody_is_told_that_its_end_was_checked(path: Path) -> None:
    """Whoever cuts the end of a ledger may remove that file, too."""
    assert "NOT checked" not in ask(path).stdout
    mark_path(path).unlink()
    result = ask(path)
    assert (result.exit_code, "is whole" in result.stdout) == (0, True)
    assert "NOT checked: whether its end was cut off: " in result.stdout
    (left,) = json.loads(ask(path, "--json").stdout)["not_checked"]
    assert mark_path(path).name in left and "--sheet or --head" in left
