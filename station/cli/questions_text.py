"""The answers to the auditor's questions, as text for a person."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NoReturn

import msgspec

from station.audit.day import Day, DayBatch
from station.audit.listing import ListedBatch
from station.audit.trace import Trace
from station.cli.answering import Form, answer_csv, answer_json, end
from station.cli.common import clock, local, shown
from station.cli.paper import Table, printer
from station.ledger.asking import Asked

TOLD = "read from the tables, not verified: station ledger verify does that"

LATEST = 20
"""Points that the text shows; all of them are in --json and --csv."""


def head(ledger: Asked, title: str) -> None:
    printer().print(shown(title) + ("  SIMULATED" if ledger.simulated else ""))
    if ledger.verdict.reason:
        reason = shown(ledger.verdict.reason)
        printer().print(f"THE LEDGER IS BROKEN, do not trust this: {reason}")


def foot(ledger: Asked) -> None:
    printer().print(f"\nledger: {ledger.verdict.events} events, head {ledger.verdict.head}; {TOLD}")


def many(count: int, one: str, more: str) -> str:
    """How many, in words."""
    return f"{count or 'no'} {one if count == 1 else more}"


def tell_rows(
    found: Asked,
    rows: Sequence[msgspec.Struct],
    kind: type[msgspec.Struct],
    show: Callable[[Any], None],
    *,
    form: Form,
    key: str,
    words: str,
    step: str | None,
    note: str = "",
    beside: Mapping[str, Any] | None = None,
) -> NoReturn:
    """Answer with rows of one `kind`, in the form that was asked for, and end. `key` names them in
    JSON, `beside` stands beside them there; `show` prints them; `note` is said of all of them."""
    if form == "json":
        told = {key: msgspec.to_builtins(rows), **(beside or {})}
        answer_json(found, told, answer=f"{words}; {note}" if note else words, next=step)
    elif form == "csv":
        answer_csv(found, kind.__struct_fields__, msgspec.to_builtins(rows))
    else:
        head(found, words)
        if rows:
            show(rows)
        if step:
            printer().print(f"  next: {shown(step)}")
        if note:
            printer().print(note)
        foot(found)
    end(found)


def print_batches(batches: Sequence[ListedBatch]) -> None:
    columns = {"batch": False, "opened": False, "formula": False, "state": False}
    rows = [
        (
            row.batch,
            local(row.opened_at)[:16],
            f"{row.formula} r{row.revision}",
            row.state + (", BY HAND" if row.by_hand else ""),
            row.meat_g,
            None if row.salt_pct is None else _at_least(row.salt_at_least, row.salt_pct),
        )
        for row in batches
    ]
    printer().print(Table(columns | {"meat g": True, "salt %": True}, rows))
    for row in batches:
        for reason in row.hold:
            printer().print(shown(f"{row.batch} ON HOLD: {reason}"))


def _at_least(unknown: bool, figure: str | None) -> str:
    return f"{'at least ' if unknown else ''}{figure or '-'}"


def print_trace(found: Asked, answer: Trace) -> None:
    head(found, answer.answer)
    print_lines(answer)
    if answer.batches:
        columns = {"batch": False, "line": False, "at": False, "state": False, "actual g": True}
        rows = [(u.batch, u.line, local(u.at), u.state, u.actual_g) for u in answer.batches]
        printer().print(Table(columns, rows))
    for use in answer.batches:
        if use.unknown_more:
            said = f"MORE WENT IN, nobody knows how much ({use.unknown_more})"
            printer().print(shown(f"{use.batch} {use.line}: {said}"))
        if use.may_be_in_g:
            said = f"{use.may_be_in_g} g more may be in, nobody saw where it went"
            printer().print(shown(f"{use.batch} {use.line}: {said}"))
        if use.through:
            printer().print(shown(f"{use.batch} {use.line}: as leftover {use.through}"))
    for batch, words in {use.batch: use.made.words for use in answer.batches}.items():
        if words:
            printer().print(shown(f"{batch} made: {words}"))
    printer().print(f"  next: {shown(answer.next)}")
    foot(found)


def print_lines(answer: Trace) -> None:
    """What was told of a lot, for each line."""
    for line in answer.lines:
        told = [
            " and ".join(f"{agent} {share} %" for agent, share in one.items())
            for one in line.strengths
        ]
        total = _at_least(line.at_least, line.actual_g)
        expires = f", expires {line.expires}" if line.expires else ""
        strength = f", told as {', before that as '.join(told)}" if told else ""
        printer().print(shown(f"{line.line}: {total} g weighed{expires}{strength}"))
        for batch, date in line.refused.items():
            printer().print(shown(f"  refused for {batch}, past its date {date}"))
        if line.unused:
            printer().print(shown(f"  opened and not weighed for {', '.join(line.unused)}"))


def print_day(found: Asked, answer: Day, words: str, step: str | None) -> None:
    head(found, words)
    for batch in answer.batches:
        _day_batch(batch)
    for at, text in [(row.at, row.text) for row in answer.bench] + [
        (note.at, f"{note.text} ({note.who})") for note in answer.notes
    ]:
        printer().print(shown(f"{clock(at)} {text}"))
    if step:
        printer().print(f"  next: {shown(step)}")
    foot(found)


def _day_batch(batch: DayBatch) -> None:
    say = printer().print
    salt = _at_least(batch.salt_at_least, batch.salt_pct)
    begun = "opened" if batch.opened else "goes on, opened"
    say()
    say(shown(f"Batch {batch.batch}  {batch.formula} revision {batch.revision}"))
    say(
        f"{begun} {local(batch.opened_at)}; now {batch.state}, {batch.meat_g} g meat, salt {salt} %"
    )
    for reason in batch.hold:
        say(shown(f"ON HOLD: {reason}"))
    columns = {"addition": False, "target g": True, "actual g": True, "diff %": True}
    columns |= {"verdict": False, "lot": False, "who": False}
    rows = [
        (r.name, r.target_g, r.actual_g, r.difference_percent, r.verdict, r.lot, r.who)
        for r in batch.additions
    ]
    if rows:
        say(Table(columns, rows))
    for row in batch.additions:
        if row.by_hand:
            say(shown(f"{row.name}: BY HAND, {row.by_hand}"))
        if row.unknown_more:
            more = f"MORE WENT IN, nobody knows how much ({row.unknown_more})"
            say(shown(f"{row.name}: {more}"))
    told = [(step.at, f"{step.name}: {step.said}, {step.who}") for step in batch.steps]
    told += [(w.at, f"{w.addition}: {w.text}" if w.addition else w.text) for w in batch.warnings]
    told += [
        (r.at, f"refused{f' ({r.times} more like it)' if r.times > 1 else ''}: {r.reason}")
        for r in batch.refusals
    ]
    told += [(note.at, f"{note.text} ({note.who})") for note in batch.notes]
    for at, text in sorted(told):
        say(shown(f"  {clock(at)} {text}"))
