"""A table for a person: aligned by what each sign takes on a terminal, folded, no figure cut."""

import io
from collections.abc import Sequence
from typing import Any

import pytest

from station.cli.paper import Paper, Table

COLUMNS = {"line": False, "what": False, "actual g": True}
ROWS = [("salt", "as weighed, because the bag was wet", "216.1"), ("pepper", None, "36")]


def printed(
    width: int, rows: Sequence[Sequence[Any]] = ROWS, columns: dict[str, bool] = COLUMNS,
    terminal: bool = False,
) -> str:  # fmt: skip
    out = io.StringIO()
    paper = Paper(file=out, width=width, force_terminal=terminal, legacy_windows=False)
    paper.print(Table(columns, rows))
    return out.getvalue()


WHOLE = """\
line    what                                 actual g
salt    as weighed, because the bag was wet     216.1
pepper  -                                          36
"""


@pytest.mark.parametrize("width", [80, 53])
def test_a_row_that_fits_is_one_line_and_ends_without_blanks(width: int) -> None:
    """6 + 35 + 8 signs and twice two blanks are 53."""
    assert printed(width) == WHOLE


def test_what_is_too_wide_is_folded_between_words_the_widest_column_first() -> None:
    assert printed(40) == (
        "line    what                    actual g\n"
        "salt    as weighed, because        216.1\n"
        "        the bag was wet\n"
        "pepper  -                             36\n"
    )
    assert printed(52).count("\n") == 4


def test_a_word_that_is_too_long_is_folded_and_no_sign_of_it_lost() -> None:
    lines = printed(20, [("a", "x" * 50, "1")]).splitlines()
    assert "".join(lines[1:]).count("x") == 50
    assert all(len(line) <= 20 for line in lines)


def test_a_figure_is_never_cut_however_narrow_the_terminal() -> None:
    for width in (1, 8, 12):
        text = printed(width, [("salt", "wet", "123456.789")])
        assert "123456.789" in text and "actual g" in text


def test_a_sign_that_takes_two_places_is_counted_as_two() -> None:
    lines = printed(80, [("塩", "x", "1"), ("salt", "y", "2")]).splitlines()
    assert lines[1:] == ["塩    x            1", "salt  y            2"]
    assert printed(14, [("塩塩塩塩塩塩", "x", "1")]).count("塩") == 6


def test_a_table_of_figures_alone_is_whole() -> None:
    assert printed(3, [("1", "22")], {"n": True, "mean": True}) == "n  mean\n1    22\n"


def test_nothing_in_a_cell_is_taken_for_an_order_of_the_terminal() -> None:
    text = printed(80, [("[bold]salt[/]", "\x1b[2J:smile:", "1")])
    assert "[bold]salt[/]" in text and "\\x1b[2J:smile:" in text and "\x1b" not in text


def test_only_the_titles_are_bold_and_only_on_a_terminal() -> None:
    first, *rest = printed(80, terminal=True).splitlines()
    assert "\x1b[1m" in first and not any("\x1b" in line for line in rest)


def test_without_a_row_the_titles_stand_alone() -> None:
    assert printed(80, []) == "line  what  actual g\n"


LISTED = {"batch": False, "formula": False, "state": False, "meat g": True, "salt %": True}
BATCHES = [
    ("261130-1", "garlic ring", "closed", "12000", "1.9985"),
    ("261130-2", "herb link", "abandoned", "9000", None),
]


def test_where_words_would_be_broken_each_row_stands_title_by_title() -> None:
    """At 40 signs the formula would keep six: "garlic" and "abando", "ned"."""
    assert printed(40, BATCHES, LISTED) == (
        "batch    261130-1\nformula  garlic ring\nstate    closed\n"
        "meat g   12000\nsalt %   1.9985\n"
        "\n"
        "batch    261130-2\nformula  herb link\nstate    abandoned\nmeat g   9000\nsalt %   -\n"
    )
    assert printed(44, BATCHES, LISTED).startswith("batch    261130-1\n")
    assert printed(46, BATCHES, LISTED).splitlines()[0].split() == [
        "batch", "formula", "state", "meat", "g", "salt", "%",
    ]  # fmt: skip


def test_a_long_cell_of_a_row_told_so_is_folded_behind_its_title() -> None:
    text = printed(22, [("salt", "as weighed, because the bag was wet", "216.1")] * 2)
    assert text.splitlines()[:4] == [
        "line      salt", "what      as weighed,", "          because the", "          bag was wet",
    ]  # fmt: skip
