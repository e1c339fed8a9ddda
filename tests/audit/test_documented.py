"""Every question documents itself, and the README names it."""

from pathlib import Path

import pytest

from station.cli.audit import audit

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(audit.commands))
def test_a_question_has_an_example_a_sentence_and_a_place_in_the_readme(name: str) -> None:
    command = audit.commands[name]
    assert (command.epilog or "").startswith(f"Example: station audit {name}")
    assert (command.help or "").strip().partition("\n")[0].endswith((".", ":"))
    assert f"station audit {name}" in README
