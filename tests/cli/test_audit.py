"""What the audit prints for people."""

import pytest

from station.cli.audit import _print_pours


def test_brackets_and_colons_of_a_name_are_printed_as_recorded(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Read as markup, the first loses a part, the second is a picture, the third fails."""
    for name in ("pepper [red]", "sage :herb:", "salt [/fine]"):
        row = {
            "addition": name, "who": "Ansel", "pours": 1, "slower": 1, "stops": 0, "in_time": 0,
            "beyond_mean_g": None, "beyond_most_g": None,
        }  # fmt: skip
        _print_pours([row], f"row 7 of {name}")
        assert capsys.readouterr().out.count(name) == 2
