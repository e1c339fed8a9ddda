"""A recall, forward from a lot and backward from a batch, from the tables."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from itertools import groupby

import msgspec

from station.audit.made import Made
from station.audit.rows import BatchSheet
from station.audit.stock import LotStock, stock
from station.audit.trace import LotUse, Trace
from station.batch.leftovers import batch_of
from station.ledger.tables import Row
from station.received import Received
from station.units import plain

WENT = "who got it is on no record of this station: ask the sales books"
UNKNOWN = (
    "how much of the lot came does not stand in stock.toml, so what is left is not known: look on"
    " the shelf"
)


class Affected(msgspec.Struct, frozen=True, kw_only=True):
    """A batch that holds a lot, or may. `sure`: it was weighed into it. `actual_g`: what was
    weighed of the lot, null where nothing was; `more`: what else is not known, in words; `made`:
    its pieces and packs, and where they are kept."""

    batch: str
    formula: str
    revision: int
    opened_at: str
    state: str
    meat_g: str
    sure: bool
    lines: tuple[str, ...]
    actual_g: str | None
    more: tuple[str, ...]
    made: Made = Made()


class Unnamed(msgspec.Struct, frozen=True, kw_only=True):
    """Batches in which some of a line of the lot was weighed with no lot told: of which bag, nobody
    knows. Deliveries of meat are not among them."""

    line: str
    batches: tuple[str, ...]


class Recall(msgspec.Struct, frozen=True, kw_only=True):
    """All that holds a lot. `meat_g`: the meat of those batches together. `stock`: what came of it
    and what is left, where that was written down. `went` and `left` say what is known of where it
    is, in words; `suppliers`: who delivered it, where that was told. `answer`, `next`: as of the
    trace, but for a lot that came and was never told at the bench."""

    trace: Trace
    affected: tuple[Affected, ...]
    meat_g: str
    suppliers: tuple[str, ...]
    unnamed: tuple[Unnamed, ...]
    stock: tuple[LotStock, ...]
    left: str
    answer: str
    next: str
    known: bool
    went: str = WENT


def recall(
    found: Trace,
    rows: Iterable[Row],
    batches: Iterable[Row],
    came: Iterable[Received] = (),
    without_lot: Callable[[str], Iterable[str]] = lambda line: (),
) -> Recall:
    """The recall of a traced lot: `rows` are its rows of table `lot`, of all days, `batches` those
    of table `batch`, all of them or those that hold it; `came` is what was written down of any lot
    that came, `without_lot` says in which batches a line was weighed with no lot told."""
    rows = list(rows)
    here = stock(rows, [each for each in came if each.lot == found.lot])
    came_here = [each for each in here if each.left_g is not None]
    by_id = {row["batch"]: row for row in batches}
    uses = sorted(found.batches, key=lambda use: use.batch)
    sure = _sure(found.batches)
    affected = [
        _affected(by_id[name], list(group), name in sure)
        for name, group in groupby(uses, lambda use: use.batch)
    ]
    meat = sum((Decimal(one.meat_g) for one in affected), Decimal(0))
    return Recall(
        trace=found,
        affected=tuple(sorted(affected, key=lambda one: one.opened_at)),
        meat_g=plain(meat),
        suppliers=tuple(dict.fromkeys(row["supplier"] for row in rows if row["supplier"])),
        unnamed=tuple(
            Unnamed(line=line.line, batches=nameless)
            for line in found.lines
            if (nameless := tuple(without_lot(line.line)))
        ),
        stock=here,
        left="; ".join(map(_left, here)) if came_here else UNKNOWN,
        answer=found.answer if found.known or not came_here else _never_told(found.lot),
        next=found.next if found.known or not came_here else "take it off the shelf",
        known=found.known or bool(came_here),
    )


def _never_told(lot: str) -> str:
    return f"lot {lot} came, by stock.toml, and was never told at the bench: nothing holds it"


def _left(lot: LotStock) -> str:
    """What is left of a lot in one line, by what is written down."""
    if lot.left_g is None:
        return f"{lot.line}: not known, stock.toml does not say what came for that line"
    if Decimal(lot.left_g) < 0:
        over = plain(-Decimal(lot.left_g))
        return (
            f"{over} g more of {lot.line} were weighed than stock.toml says came: look on the shelf"
        )
    return f"at most {lot.left_g} g of {lot.line}, less what was voided, spilt or given away"


def _sure(uses: Iterable[LotUse]) -> set[str]:
    """The batches that it was weighed into, and those that surely hold some of what is left of
    them; a leftover comes behind its batch."""
    sure: set[str] = set()
    for use in uses:
        if use.through is None:
            known = use.actual_g is not None or use.unknown_more is not None
        else:
            known = batch_of(use.through) in sure
        sure |= {use.batch} if known else set()
    return sure


def _affected(batch: Row, uses: list[LotUse], sure: bool) -> Affected:
    direct = [use for use in uses if use.through is None]
    weighed = [Decimal(use.actual_g) for use in direct if use.actual_g is not None]
    more = [f"{u.line}: more went in, nobody knows how much" for u in uses if u.unknown_more]
    more += [f"{u.line}: {u.may_be_in_g} g more may be in" for u in uses if u.may_be_in_g]
    return Affected(
        batch=batch["batch"],
        formula=batch["formula"],
        revision=batch["revision"],
        opened_at=batch["opened_at"],
        state=batch["state"],
        meat_g=batch["meat_text"],
        sure=sure,
        lines=tuple(use.line for use in uses),
        actual_g=plain(sum(weighed, Decimal(0))) if weighed else None,
        more=(*more, *(f"{u.actual_g} g of leftover {u.through}" for u in uses if u.through)),
        made=uses[0].made,
    )


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """A lot of a batch, or `of_batch` where what is left of another is in it. `lot` is null where
    something was weighed and no lot told; `weighed_g` null where it was told and nothing weighed;
    `at_least`: more of it went in, and nobody knows how much; `more`: what else is to be said of
    it."""

    line: str
    meat: bool
    lot: str | None
    supplier: str | None
    packed: str | None
    expires: str | None
    weighed_g: str | None
    at_least: bool
    more: str | None
    of_batch: str | None = None


def sources(sheet: BatchSheet, rows: Iterable[Row]) -> tuple[Source, ...]:
    """What a batch was made of, meat first: its lots by the rows of table `lot`, and what was
    weighed without one."""
    by_line: dict[str, list[Row]] = {}
    for row in rows:
        by_line.setdefault(row["line"], []).append(row)
    found: list[Source] = []
    for meat in sheet.meat:
        found += [_source(row, True) for row in by_line.get(meat.name, [])]
        nameless = [Decimal(load.net_g) for load in meat.loads if not load.lot]
        if nameless:
            found.append(_nameless(meat.name, True, plain(sum(nameless, Decimal(0)))))
    for line in sheet.additions:
        mine = by_line.get(line.name, [])
        found += [_source(row, False) for row in mine]
        told = sum((Decimal(row["actual_text"] or 0) for row in mine), Decimal(0))
        rest = Decimal(line.actual_g or 0) - told
        if rest or (line.unknown_more and not mine):
            found.append(_nameless(line.name, False, plain(rest), line.unknown_more))
    return tuple(found)


def _source(row: Row, meat: bool) -> Source:
    more = [f"more went in, nobody knows how much ({row['unknown_more']})"]
    said = more if row["unknown_more"] else []
    said += [f"{row['doubt_text']} g more may be in"] if row["doubt_text"] else []
    said += [f"refused, past its date {row['refused']}"] if row["refused"] else []
    left_of = batch_of(row["lot"]) if meat else None
    said += [f"left of batch {left_of}"] if left_of else []
    return Source(
        line=row["line"],
        meat=meat,
        lot=row["lot"],
        supplier=row["supplier"],
        packed=row["packed"],
        expires=row["expires"] or row["refused"],
        weighed_g=row["actual_text"],
        at_least=row["unknown_more"] is not None,
        more="; ".join(said) or None,
    )


def _nameless(line: str, meat: bool, grams: str, unknown: str | None = None) -> Source:
    more = f"more went in, nobody knows how much ({unknown})" if unknown else None
    return Source(
        line=line,
        meat=meat,
        lot=None,
        supplier=None,
        packed=None,
        expires=None,
        weighed_g=None if unknown and grams == "0" else grams,
        at_least=unknown is not None,
        more=more,
    )
