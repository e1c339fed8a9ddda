"""Tables and sentences for people, on a terminal of any width, names and reasons as recorded."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import click
from rich.console import Console
from rich.table import Table

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


def printer() -> Console:
    """Names and reasons are printed as recorded: brackets and colons in them mean nothing here."""
    return Console(highlight=False, markup=False, emoji=False)


def table(columns: Mapping[str, bool], rows: Iterable[Sequence[Any]]) -> Table:
    """Rows under their titles. A column is true where it holds figures: right, and never cut."""
    made = Table(box=None, pad_edge=False)
    for title, figures in columns.items():
        if figures:
            made.add_column(title, justify="right", no_wrap=True)
        else:
            made.add_column(title, overflow="fold")
    for row in rows:
        made.add_row(*("-" if cell is None else shown(str(cell)) for cell in row))
    return made


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
