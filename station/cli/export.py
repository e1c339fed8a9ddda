"""`station ledger export`: the ledger as text, with what proves it."""

from dataclasses import asdict, replace
from pathlib import Path

import click

from station.cli.common import CANNOT, WRONG_USE, fail, json_option, ledger_option, print_json, say
from station.cli.period import one_day
from station.ledger.book import LedgerError
from station.ledger.export import Part
from station.ledger.export import export as write

_MOST = 15
"""Digits of an event's number: more are none, and SQLite could not compare them."""


@click.command(epilog="Example: station ledger export --out november.jsonl --from 2026-11-01")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The file, which must not exist.",
)
@click.option("--batch", metavar="ID", help="Only the events of one batch.")
@click.option("--from", "first", metavar="SEQ|DAY", help="From that event or day on.")
@click.option("--to", "last", metavar="SEQ|DAY", help="Up to that event or day, itself included.")
@click.option("--csv", "as_csv", is_flag=True, help="For a spreadsheet; verify.py reads no CSV.")
@ledger_option
@json_option
def export(
    out: Path,
    batch: str | None,
    first: str | None,
    last: str | None,
    as_csv: bool,
    ledger: Path,
    as_json: bool,
) -> None:
    """Write events to a file, one JSON object a line, each with its hash; the ledger is only read.

    A file verify.py is laid beside it: `python verify.py FILE` proves it wherever there is Python.
    It writes over nothing. Nothing is verified here: station ledger verify does.
    """
    if batch is not None and (first or last):
        fail("a batch has no --from and --to", "leave one of them out", WRONG_USE)
    part = _bounds(Part(batch=batch), first, last)
    try:
        about = write(ledger, out, part, as_csv)
    except LedgerError as error:
        fail(error.sentence, error.next, CANNOT)
    if as_json:
        print_json({"file": str(out), **asdict(about)})
        return
    stamp = " (SIMULATED)" if about.simulated else ""
    say(f"{out}{stamp}: {about.events} events, {about.first} to {about.last}")
    if not as_csv:
        say(f"  next: python {out.with_name('verify.py')} {out}")


def _bounds(part: Part, first: str | None, last: str | None) -> Part:
    """With `--from` and `--to`, each an event's number or a day. A wrong one ends the command."""
    if first is not None:
        number = _number("--from", first)
        part = replace(part, first=number) if number else replace(part, begin=_day(first)[0])
    if last is not None:
        number = _number("--to", last)
        part = replace(part, last=number) if number else replace(part, end=_day(last)[1])
    if part.first and part.last and part.first > part.last:
        fail(f"--from {first} is after --to {last}", "change them over", WRONG_USE)
    return part


def _number(option: str, text: str) -> int | None:
    if not text.isascii() or not text.isdigit():
        return None
    if len(text) > _MOST or int(text) == 0:
        fail(f"{option}: there is no event {text}", "the first one is 1", WRONG_USE)
    return int(text)


def _day(text: str) -> tuple[str, str]:
    _, period = one_day(text)
    return period.begin, period.end
