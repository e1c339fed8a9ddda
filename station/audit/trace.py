"""Which batches hold a lot: the answer to a recall."""

import json
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from difflib import get_close_matches
from itertools import groupby

import msgspec
from msgspec.structs import replace

from station.audit.made import Made
from station.ledger.asking import ALWAYS, Period
from station.ledger.tables import Row
from station.names import bare
from station.units import plain


class LotUse(msgspec.Struct, frozen=True, kw_only=True):
    """A lot in one line of a batch. `actual_g`: what was weighed from it, null where nothing was;
    `unknown_more`: who said, and when, that more of it went in and nobody knows how much;
    `may_be_in_g`: what was poured from it and given another place than the mix, unproved; `made`:
    the pieces and packs of that batch, and where they are kept; `through`: the leftover of another
    batch that brought it, whose grams it then is."""

    batch: str
    line: str
    actual_g: str | None
    at: str
    state: str
    unknown_more: str | None
    may_be_in_g: str | None
    made: Made = Made()
    through: str | None = None


class LotLine(msgspec.Struct, frozen=True, kw_only=True):
    """What was told of a lot for one line. `strengths`: each telling, agent -> percent; `unused`:
    batches for which it was opened and not weighed; `refused`: batch -> the date it was past."""

    line: str
    expires: str | None
    strengths: tuple[dict[str, str], ...]
    actual_g: str
    at_least: bool
    unused: tuple[str, ...]
    refused: dict[str, str]


class Trace(msgspec.Struct, frozen=True, kw_only=True):
    """Where a lot is. `line` names every line it was told for, `expires` is the earliest date told.
    `batches` hold some of it, or may. `answer` says it in words, `next` what to do."""

    lot: str
    line: str | None
    expires: str | None
    batches: tuple[LotUse, ...]
    lines: tuple[LotLine, ...]
    known: bool
    answer: str
    next: str


def trace(
    lot: str,
    rows: Iterable[Row],
    known: Sequence[str],
    named: Sequence[tuple[str, str]] = (),
    period: Period = ALWAYS,
    made_of: Callable[[str], Made] = lambda batch: Made(),
) -> Trace:
    """The answer from the rows of table `lot` that fall into a period: by when it was weighed, else
    by when its batch was opened. `known`: all lots, to name one that looks like it; `named`:
    refusals whose sentence has the code, each with its batch, where there are no rows; `made_of`
    says what was made of a batch."""
    every = list(rows)
    found = [row for row in every if (row["at"] or row["opened_at"]) in period]
    made = {batch: made_of(batch) for batch in {row["batch"] for row in found if _is_in(row)}}
    by_line = groupby(sorted(found, key=lambda row: str(row["line"])), key=lambda row: row["line"])
    lines = tuple(_line(name, list(group)) for name, group in by_line)
    if every and not found:
        answer = f"lot {lot} is not in these days; outside them it is told of {len(every)} times"
        step = "ask without --from and --to"
    else:
        answer, step = _words(lot, found, lines, known, named)
    return Trace(
        lot=lot,
        line=", ".join(line.line for line in lines) or None,
        expires=min((line.expires for line in lines if line.expires), default=None),
        batches=tuple(_use(row, made[row["batch"]]) for row in found if _is_in(row)),
        lines=lines,
        known=bool(every or named),
        answer=answer,
        next=step,
    )


def through_leftovers(
    found: Trace, left_of: Callable[[str], Iterable[Row]], made_of: Callable[[str], Made]
) -> Trace:
    """The same with the batches that hold it through what was left of others. `left_of` gives the
    rows of table `lot` of what is left of a batch and was used."""
    uses, direct = list(found.batches), {use.batch for use in found.batches}
    waiting = list(dict.fromkeys(use.batch for use in uses))
    for batch in waiting:  # grows as it goes: a leftover of a leftover holds it, too
        for row in left_of(batch):
            uses.append(replace(_use(row, made_of(row["batch"])), through=row["lot"]))
            if row["batch"] not in waiting:
                waiting.append(row["batch"])
    if len(uses) == len(found.batches):
        return found
    more = [batch for batch in waiting if batch not in direct]
    if not more:
        return replace(found, batches=tuple(uses))
    said = f"{found.answer}; with what was left of them it is in {', '.join(more)} too"
    return replace(found, batches=tuple(uses), answer=said)


def _is_in(row: Row) -> bool:
    """Whether some of the lot is in that batch, or may be."""
    return row["at"] is not None or row["doubt_text"] is not None


def _use(row: Row, made: Made) -> LotUse:
    return LotUse(
        batch=row["batch"],
        line=row["line"],
        actual_g=row["actual_text"],
        at=row["at"] or row["opened_at"],
        state=row["state"],
        unknown_more=row["unknown_more"],
        may_be_in_g=row["doubt_text"],
        made=made,
    )


def _line(name: str, rows: list[Row]) -> LotLine:
    told: list[dict[str, str]] = []
    for row in rows:
        told += [one for one in json.loads(row["strengths"]) if one and one not in told]
    weighed = (Decimal(row["actual_text"]) for row in rows if row["actual_text"] is not None)
    return LotLine(
        line=name,
        expires=min(dates(rows), default=None),
        strengths=tuple(told),
        actual_g=plain(sum(weighed, Decimal(0))),
        at_least=any(row["unknown_more"] for row in rows),
        unused=tuple(row["batch"] for row in rows if not _is_in(row) and not row["refused"]),
        refused={row["batch"]: row["refused"] for row in rows if row["refused"]},
    )


def dates(rows: Iterable[Row]) -> list[str]:
    """The dates that were told of a lot, those that it was past among them."""
    return [row[key] for row in rows for key in ("expires", "refused") if row[key]]


def _words(
    lot: str,
    rows: list[Row],
    lines: tuple[LotLine, ...],
    known: Sequence[str],
    named: Sequence[tuple[str, str]],
) -> tuple[str, str]:
    sure = dict.fromkeys(row["batch"] for row in rows if row["at"] is not None)
    doubted = dict.fromkeys(row["batch"] for row in rows if row["doubt_text"])
    may = [batch for batch in doubted if batch not in sure]
    if batches := [*sure, *may]:
        step = f"station audit batch {batches[0]} for the whole of it"
        return f"lot {lot} {_counted(len(sure), len(may))}", step
    refused = {batch: date for line in lines for batch, date in line.refused.items()}
    if refused:
        batch, date = next(iter(refused.items()))
        what = f"lot {lot} was refused for batch {batch}, past its date {date}: nothing holds it"
        return what, f"station audit batch {batch} says what was used in its place"
    if rows:
        of = ", ".join(dict.fromkeys(row["batch"] for row in rows))
        what = f"lot {lot} was opened for {of} and never weighed: nothing holds it"
        return what, "look at the bag: what is missing from it was not weighed here"
    if named:
        batch, reason = named[0]
        what = f"lot {lot} was refused for batch {batch}: {reason}; nothing holds it"
        return what, f"station audit batch {batch} says what was used in its place"
    return f"no lot {lot!r} is on record", _near(lot, known)


def _counted(sure: int, may: int) -> str:
    said = []
    if sure:
        said.append(f"was weighed into {sure} batch{'' if sure == 1 else 'es'}")
    if may:
        said.append(f"may be in {may} where nobody saw where it went")
    return " and ".join(said)


def _near(lot: str, known: Sequence[str]) -> str:
    same = [one for one in known if bare(one) == bare(lot)]
    near = same or get_close_matches(lot, known, n=3)
    if near:
        return f"read the code again: {', '.join(near)} looks like it"
    if known:
        return f"read the code again; {len(known)} lots are on record, one is {known[-1]}"
    return "no lot was ever told: station lot open, or next-bag, does that"
