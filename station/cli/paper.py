"""Tables and sentences for people, on a terminal of any width, names and reasons as recorded."""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Any

import click
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions
from rich.segment import Segment
from rich.style import Style
from rich.text import Text

from station.cli.common import shown


def plain(value: Any) -> Any:
    """Every text of a sheet or a row as a terminal may have it."""
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value


class Paper(Console):
    """Names and reasons are printed as recorded: brackets and colons in them mean nothing here. No
    line is cut: a terminal that is too narrow for it breaks it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(highlight=False, markup=False, emoji=False, **options)

    def print(self, *objects: Any, **options: Any) -> None:
        super().print(*objects, **{"crop": False, **options})


def printer() -> Paper:
    """Where lines for a person go."""
    return Paper()


class Table:
    """Rows under their titles, for `printer().print`. A column is true where it holds figures:
    right, and never cut; the others are folded, the widest first, until a row fits the terminal.
    Where words would be broken for that, each row is told one below the other, title by title.

    The library's own tables take a millisecond a row, of which an answer over years has thousands.
    """

    def __init__(self, columns: Mapping[str, bool], rows: Iterable[Sequence[Any]]) -> None:
        self._figures = tuple(columns.values())
        self._cells = [tuple(columns)]
        self._cells += [tuple("-" if c is None else shown(str(c)) for c in row) for row in rows]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Segment]:
        whole = [max(map(cell_len, column)) for column in zip(*self._cells, strict=True)]
        widths = self._widths(whole, options.max_width)
        if widths != whole and self._breaks_words(widths, options.max_width):
            for line in self._stacked(options.max_width, console):
                yield Segment(line)
                yield Segment.line()
            return
        style: Style | None = Style(bold=True)
        for row in self._cells:
            for line in self._lines(row, widths, console):
                yield Segment(line, style)
                yield Segment.line()
            style = None

    def _breaks_words(self, widths: list[int], most: int) -> bool:
        """Whether a row still does not fit, or words of some column had to be broken for it."""
        if len(self._cells) == 1:
            return False
        if sum(widths) + len(_GAP) * (len(widths) - 1) > most:
            return True
        return any(
            width < min(max(map(cell_len, cell.split()), default=0), _WORD)
            for row in self._cells
            for cell, width, figures in zip(row, widths, self._figures, strict=True)
            if not figures
        )

    def _stacked(self, most: int, console: Console) -> Iterator[str]:
        """Each row as lines of a title and a cell, the next one after a blank line."""
        titles, *rows = self._cells
        wide = max(map(cell_len, titles))
        room = max(most - wide - len(_GAP), _LEAST)
        for number, row in enumerate(rows):
            if number:
                yield ""
            for title, cell, figures in zip(titles, row, self._figures, strict=True):
                parts = [cell] if figures else _folded(cell, room, console)
                for place, part in enumerate(parts or [""]):
                    name = "" if place else title
                    yield f"{name}{' ' * (wide - cell_len(name))}{_GAP}{part}".rstrip(" ")

    def _widths(self, whole: list[int], most: int) -> list[int]:
        """The width of each column, so that all of them have `most` with two blanks between."""
        widths = list(whole)
        folded = [at for at, figures in enumerate(self._figures) if not figures]
        too_wide = sum(widths) + len(_GAP) * (len(widths) - 1) - most
        for _ in range(too_wide if folded else 0):
            widest = max(folded, key=lambda at: widths[at])
            widths[widest] -= widths[widest] > _LEAST
        return widths

    def _lines(self, row: Sequence[str], widths: list[int], console: Console) -> Iterator[str]:
        columns = [
            [cell] if figures or cell_len(cell) <= width else _folded(cell, width, console)
            for cell, width, figures in zip(row, widths, self._figures, strict=True)
        ]
        for parts in zip_longest(*columns, fillvalue=""):
            told = [
                blanks + part if figures else part + blanks
                for part, width, figures in zip(parts, widths, self._figures, strict=True)
                for blanks in [" " * (width - cell_len(part))]
            ]
            yield _GAP.join(told).rstrip(" ")


_WORD = 20
"""Signs of the longest word that is not to be broken."""
_GAP = "  "
_LEAST = 2
"""Places that a column keeps: some signs take two."""


def _folded(cell: str, width: int, console: Console) -> list[str]:
    return [line.plain.rstrip(" ") for line in Text(cell).wrap(console, width, overflow="fold")]


def print_csv(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> None:
    """Comma-separated with a line of names, an empty cell where nothing is known. A text that a
    spreadsheet would take for a formula gets an apostrophe before it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(row[column]) for column in columns])
    click.echo(out.getvalue(), nl=False)


def _cell(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        value = "; ".join(value)
    if not isinstance(value, str):
        return value
    text = shown(value)
    return f"'{text}" if text[:1] in tuple("=+-@") and not _is_figure(text) else text


def _is_figure(text: str) -> bool:
    return text.lstrip("-").replace(".", "", 1).isdigit()
