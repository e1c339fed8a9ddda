"""One formula, one person, one scale, over time."""

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click
import msgspec

from station.audit.entries import Entry, of_person, of_scale, people, scales
from station.audit.formulas import FormulaView, formula_view
from station.cli.answering import (
    Rows,
    answer_csv,
    answer_json,
    csv_option,
    end,
    near_names,
    one_form,
    opened,
    there_are,
)
from station.cli.common import WRONG_USE, fail, json_option, ledger_option, local, shown
from station.cli.paper import Table, printer
from station.cli.period import between, period, period_options
from station.cli.questions_text import LATEST, foot, head, many
from station.cli.spread_text import print_series
from station.ledger.asking import Asked, Period

_FORMULA_COLUMNS = (
    *("batch", "opened_at", "revision", "state", "meat_g", "salt_pct", "salt_at_least"),
    *("agents", "ingoing", "ingoing_unit", "ingoing_at_least"),
)


@click.command(epilog='Example: station audit formula "Fenwether garlic ring" --from 2026-11-01')
@click.argument("name")
@period_options
@ledger_option
@json_option
@csv_option
def formula(
    name: str, first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """A formula over time: revisions and what differs, batches, salt and ingoing amounts.

    What a law limits is read from each batch's events, a thousand of them in some two seconds.
    --csv has a row for each batch and agent that a rule limits.
    """
    one_form(as_json, as_csv)
    span = period(first, last)
    with opened(ledger) as found:
        every = found.batches()
        _known("formula", name, sorted({row["formula"] for row in every}))
        answer = formula_view(found, name, span)
        mine = [row for row in every if row["formula"] == name]
        step = None if answer.batches else there_are(mine)
    if as_json:
        answer_json(found, answer, next=step)
    elif as_csv:
        answer_csv(found, _FORMULA_COLUMNS, _formula_rows(answer))
    else:
        _print_formula(found, answer, between(first, last), step)
    end(found)


def _formula_rows(answer: FormulaView) -> Rows:
    nothing: dict[str, Any] = {
        "agents": None,
        "ingoing": None,
        "ingoing_unit": None,
        "ingoing_at_least": None,
    }
    rows = []
    for batch in answer.batches:
        whole = {k: v for k, v in msgspec.to_builtins(batch).items() if k != "ingoing"}
        parts = [
            {
                "agents": part.agents,
                "ingoing": part.actual,
                "ingoing_unit": part.unit,
                "ingoing_at_least": part.at_least,
            }
            for part in batch.ingoing
        ]
        rows += [whole | part for part in parts or [nothing]]
    return rows


def _print_formula(found: Asked, answer: FormulaView, days: str, step: str | None) -> None:
    head(found, f"{answer.formula}: {many(len(answer.batches), 'batch', 'batches')}{days}")
    say = printer().print
    if step:
        say(f"  next: {shown(step)}")
    for one in answer.revisions:
        count = many(one.batches, "batch", "batches")
        first = f"first {one.first_batch}, {local(one.first_at)[:10]}"
        say(shown(f"revision {one.revision}: {count}, {first}"))
        for change in one.changes:
            say(shown(f"  {change}"))
    rows = [
        (
            *(b.batch, local(b.opened_at)[:16], f"r{b.revision}", b.state, b.meat_g),
            _figure(b.salt_pct, b.salt_at_least),
            "; ".join(f"{_figure(i.actual, i.at_least)} {i.unit}" for i in b.ingoing) or "none",
        )
        for b in answer.batches[-LATEST:]
    ]
    if rows:
        if len(rows) < len(answer.batches):
            say(f"the last {len(rows)}; all are in --json and --csv")
        columns = {"batch": False, "opened": False, "": False, "state": False, "meat g": True}
        say(Table(columns | {"salt %": True, "ingoing": False}, rows))
    for series in (*answer.salt, *answer.ingoing):
        print_series(series)
    foot(found)


def _figure(figure: str | None, at_least: bool) -> str:
    return f"{'at least ' if at_least else ''}{figure or 'unknown'}"


@click.command(epilog="Example: station audit person Brida --from 2026-11-01")
@click.argument("name")
@period_options
@ledger_option
@json_option
@csv_option
def person(
    name: str, first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """What somebody opened, weighed, decided, or saw as the second person; names are as given."""
    _entries("person", name, (first, last), ledger, (as_json, as_csv), of_person, people)


@click.command(epilog="Example: station audit scale fine --from 2026-11-01")
@click.argument("name")
@period_options
@ledger_option
@json_option
@csv_option
def scale(
    name: str, first: str | None, last: str | None, ledger: Path, as_json: bool, as_csv: bool
) -> None:
    """What was weighed on a scale, and what befell it: blocked, another device, orders, its lag."""
    _entries("scale", name, (first, last), ledger, (as_json, as_csv), of_scale, scales)


def _entries(
    what: str,
    name: str,
    days: tuple[str | None, str | None],
    ledger: Path,
    forms: tuple[bool, bool],
    entries: Callable[[Asked, str, Period], list[Entry]],
    everyone: Callable[[Asked], list[str]],
) -> None:
    """Answer with the entries of a name in those days, and end."""
    form, span = one_form(*forms), period(*days)
    with opened(ledger) as found:
        rows = entries(found, name, span)
        if not rows:
            _known(what, name, everyone(found))
        step = None if rows else there_are(found.batches())
    counts = Counter(row.kind for row in rows)
    told = ", ".join(f"{kind} {count}" for kind, count in sorted(counts.items())) or "nothing"
    words = f"{what} {name}{between(*days)}: {told}"
    if form == "json":
        answer = {what: name, "counts": dict(sorted(counts.items()))}
        answer["entries"] = msgspec.to_builtins(rows)
        answer_json(found, answer, answer=words, next=step)
    elif form == "csv":
        answer_csv(found, Entry.__struct_fields__, msgspec.to_builtins(rows))
    else:
        head(found, words)
        _print_entries(rows)
        if step:
            printer().print(f"  next: {shown(step)}")
        foot(found)
    end(found)


def _print_entries(rows: Sequence[Entry]) -> None:
    if len(rows) > LATEST:
        printer().print(f"the last {LATEST}; all are in --json and --csv")
    lines = [
        (
            *(local(row.at)[:19], row.batch, row.kind, row.line, row.actual_g),
            *(row.difference_pct, row.text),
        )
        for row in rows[-LATEST:]
    ]
    if lines:
        columns = {"at": False, "batch": False, "kind": False, "line": False, "actual g": True}
        printer().print(Table(columns | {"diff %": True, "what": False}, lines))


def _known(what: str, name: str, known: Sequence[str]) -> None:
    """A name that is not on record ends the command, with those that look like it."""
    if name not in known:
        near = ", ".join(near_names(name, known))
        step = f"one of {near}" if near else "no batch is on record yet: station open begins one"
        fail(f"no {what} {name!r} is on record", step, WRONG_USE)


VIEWS = (formula, person, scale)
