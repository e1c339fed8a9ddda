"""A scale's file as a kind: what is refused before it is read."""

import pytest

from drivers.grammar import GrammarError
from drivers.kinds import LONGEST_FILE, LONGEST_LINE, load_kind
from station.resources import packaged

GOOD = (packaged() / "scales" / "bare-number.toml").read_text(encoding="utf-8")


def test_a_file_that_is_too_long_is_refused_in_a_sentence() -> None:
    lines = GOOD + "\n" * (LONGEST_FILE - len(GOOD))
    assert load_kind(lines, "x.toml").name == "bare-number"
    with pytest.raises(GrammarError, match=r"x\.toml: too long, expected at most 65536"):
        load_kind(lines + "\n", "x.toml")


def test_a_line_that_is_too_long_is_refused_in_a_sentence() -> None:
    line = "#" * LONGEST_LINE
    assert load_kind(f"{GOOD}\n{line}", "x.toml").name == "bare-number"
    with pytest.raises(GrammarError, match="2000 in a line"):
        load_kind(f"{GOOD}\n{line}#", "x.toml")
