"""A recall from a lot, and what a batch was made of."""

from pathlib import Path
from time import perf_counter
from typing import Any

import click
import msgspec
from msgspec.structs import replace

from station.audit.batch import NoSuchBatch
from station.audit.recall import Affected, Recall, Source, recall, sources
from station.audit.sheets import sheets_of
from station.batch.leftovers import batch_of
from station.cli.answering import (
    answer_csv,
    answer_json,
    csv_option,
    end,
    near_names,
    one_form,
    opened,
)
from station.cli.common import (
    WRONG_USE,
    config_option,
    fail,
    files,
    json_option,
    ledger_option,
    local,
    shown,
)
from station.cli.html import answer_page, clean, html_option
from station.cli.paper import Table, printer
from station.cli.questions import traced
from station.cli.questions_text import foot, head, many, print_lines, tell_rows
from station.ledger.asking import Asked
from station.received import load_received
from station.resources import Config

NAMED = 12
"""Batches that the text names of those with no lot told."""


@click.command("recall", epilog="Example: station audit recall P-41 --html recall.html")
@click.argument("code")
@html_option
@ledger_option
@config_option
@json_option
@csv_option
def recall_lot(
    code: str,
    html: Path | None,
    ledger: Path,
    config: Path | None,
    as_json: bool,
    as_csv: bool,
) -> None:
    """A recall: every batch that holds a lot or may, its meat, and how long the search took.

    CODE as it was told, or a whole scanned GS1 label. Its pieces and packs are told, and where they
    are kept, and what is left of it where stock.toml says how much came; who got them is on no
    record, and said so. Exit status 2 says that no such lot is on record.
    """
    one_form(as_json, as_csv, html)
    with files():
        came = load_received(Config(config))
    began = perf_counter()
    with opened(ledger) as found:
        trace, rows = traced(found, code)
        answer = recall(trace, rows, found.batches(), came, found.without_lot)
    took_s = f"{perf_counter() - began:.2f}"
    if as_json:
        answer_json(found, answer, took_s=took_s)
    elif as_csv:
        answer_csv(found, Affected.__struct_fields__, [_as_row(one) for one in answer.affected])
    elif answer.known and html is not None:
        answer_page(found, html, "recall_page", clean(answer), took_s)
    elif answer.known:
        _print_recall(found, answer, took_s)
    if not answer.known:
        fail(answer.answer, answer.next, WRONG_USE)
    end(found)


def _as_row(one: Affected) -> dict[str, Any]:
    return {**msgspec.to_builtins(one), "made": one.made.words}


def _print_recall(found: Asked, answer: Recall, took_s: str) -> None:
    say = printer().print
    head(found, answer.answer)
    print_lines(answer.trace)
    if answer.suppliers:
        say(shown(f"supplier: {', '.join(answer.suppliers)}"))
    if answer.affected:
        columns = {"batch": False, "opened": False, "formula": False, "state": False, "as": False}
        rows = [
            (
                *(row.batch, local(row.opened_at)[:16], f"{row.formula} r{row.revision}"),
                *(row.state, ", ".join(row.lines), row.meat_g, row.actual_g),
            )
            for row in answer.affected
        ]
        say(Table(columns | {"meat g": True, "of the lot g": True}, rows))
    for row in answer.affected:
        if row.made.words:
            say(shown(f"{row.batch} made: {row.made.words}"))
        for more in row.more:
            say(shown(f"{row.batch} {more}"))
    for one in answer.unnamed:
        rest = len(one.batches) - NAMED
        more = f" and {rest} more, all of them in --json" if rest > 0 else ""
        told = f"{', '.join(one.batches[:NAMED])}{more}"
        say(shown(f"{one.line} with no lot told, so it may be of this one, is in: {told}"))
    count = many(len(answer.affected), "batch", "batches")
    holds = f"{count} with {answer.meat_g} g of meat" if answer.affected else "no batch holds it"
    say(f"{holds}; the search took {took_s} s")
    say(f"where it went: {answer.went}")
    say(shown(f"in stock: {answer.left}"))
    say(shown(f"  next: {answer.next}"))
    foot(found)


@click.command(epilog="Example: station audit origin 261130-1")
@click.argument("batch")
@ledger_option
@json_option
@csv_option
def origin(batch: str, ledger: Path, as_json: bool, as_csv: bool) -> None:
    """What a batch was made of: every lot, deliveries of meat and suppliers included.

    What was weighed without a lot stands there too, without one.
    """
    form = one_form(as_json, as_csv)
    with opened(ledger) as found:
        try:
            (sheet,) = sheets_of(found, [batch])
        except NoSuchBatch:
            known = [row["batch"] for row in found.batches()]
            near = ", ".join(near_names(batch, known)) or "station open begins one"
            fail(f"no batch {batch!r} is on record", near, WRONG_USE)
        rows = sources(sheet, found.lots_of(batch))
        rows += _of_leftovers(found, rows)
    nameless = sum(row.lot is None for row in rows)
    words = f"batch {batch}: {many(len(rows) - nameless, 'lot', 'lots')}"
    if nameless:
        words += f", {many(nameless, 'line', 'lines')} weighed with no lot told"
    step = None if rows else "nothing was weighed yet"
    tell_rows(
        found, rows, Source, _print_sources, form=form, key="sources", words=words, step=step,
        beside={"batch": batch},
    )  # fmt: skip


def _of_leftovers(found: Asked, rows: tuple[Source, ...]) -> tuple[Source, ...]:
    """What the batches were made of that something is left of in this one, and in those."""
    known: dict[str, tuple[Source, ...]] = {}
    waiting = [batch_of(row.lot or "") for row in rows if row.meat]
    while waiting:
        batch = waiting.pop(0)
        if batch is None or batch in known:
            continue
        (sheet,) = sheets_of(found, [batch])
        here = sources(sheet, found.lots_of(batch))
        known[batch] = tuple(replace(row, of_batch=batch) for row in here)
        waiting += [batch_of(row.lot or "") for row in here if row.meat]
    return tuple(row for here in known.values() for row in here)


def _print_sources(rows: tuple[Source, ...]) -> None:
    columns = {"line": False, "lot": False, "supplier": False, "packed": False, "expires": False}
    lines = [
        (
            f"{row.line}, of {row.of_batch}" if row.of_batch else row.line,
            *(row.lot or "none told", row.supplier, row.packed, row.expires),
            _weighed(row),
            row.more or "",
        )
        for row in rows
    ]
    printer().print(Table(columns | {"weighed g": True, "": False}, lines))


def _weighed(row: Source) -> str:
    if row.weighed_g is None:
        return "unknown" if row.at_least else "not weighed"
    return f"at least {row.weighed_g}" if row.at_least else row.weighed_g


RECALLS = (recall_lot, origin)
