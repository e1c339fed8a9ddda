"""What was weighed into batches from each lot, and what is left of one of which somebody wrote down
how much came. What was voided or spilt is not counted."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from decimal import Decimal
from itertools import groupby

import msgspec

from station.audit.trace import dates
from station.batch import events as ev
from station.batch.codec import kind_of
from station.ledger.records import Recorded
from station.ledger.tables import Row
from station.received import Received
from station.units import plain

LEFT_OVER = frozenset(kind_of(event) for event in (ev.LeftoverKept, ev.LeftoverDiscarded))
"""The kinds of events that say what is left over of batches."""


class LotStock(msgspec.Struct, frozen=True, kw_only=True):
    """A lot in a line, over all its batches. `at_least`: more was taken, and nobody knows how much;
    `may_be_g`: what was poured from it besides, and given another place than the mix, unproved;
    `left_g`: what came less both, at most, and below nothing where more was weighed than came; null
    where nobody wrote down what came."""

    lot: str
    line: str
    expires: str | None
    weighed_g: str
    at_least: bool
    may_be_g: str
    batches: int
    last_at: str | None
    left_g: str | None = None


def stock(
    rows: Iterable[Row], came: Iterable[Received] = (), over: Iterable[Received] = ()
) -> tuple[LotStock, ...]:
    """The lots of those rows of table `lot`, and of what `came`, sorted by line and lot; then what
    is left `over` of batches. With both the rows must be those of all days."""

    rows, over = list(rows), list(over)
    lots = {kept.lot for kept in over}
    mine = [row for row in rows if row["lot"] in lots]
    rows = [row for row in rows if row["lot"] not in lots]

    def key(row: Row) -> tuple[str, str]:
        return row["line"], row["lot"]

    used = {place: list(group) for place, group in groupby(sorted(rows, key=key), key)}
    known = {(each.line, each.lot): each for each in came}
    found = tuple(
        _of(line, lot, used.get((line, lot), []), known.get((line, lot)))
        for line, lot in sorted({*used, *known})
    )
    return found + tuple(
        _of(kept.line, kept.lot, [row for row in mine if row["lot"] == kept.lot], kept)
        for kept in sorted(over, key=lambda kept: kept.lot)
    )


def left_over(records: Iterable[Recorded]) -> Iterator[Received]:
    """What is left of batches, less what was thrown away of it, by the events of `LEFT_OVER`."""
    kept: dict[str, Received] = {}
    for record in records:
        match event := record.event:
            case ev.LeftoverKept():
                line = f"left of {record.batch}"
                kept[event.lot] = Received(line, event.lot, event.net_g)
            case ev.LeftoverDiscarded():
                was = kept[event.lot]
                kept[event.lot] = replace(was, amount_g=was.amount_g - event.left_g)
    yield from kept.values()


def _of(line: str, lot: str, rows: list[Row], came: Received | None) -> LotStock:
    days = [*dates(rows), *([came.expires] if came and came.expires else [])]
    weighed, may_be = (_sum(row[key] for row in rows) for key in ("actual_text", "doubt_text"))
    return LotStock(
        lot=lot,
        line=line,
        expires=min(days, default=None),
        weighed_g=plain(weighed),
        at_least=any(row["unknown_more"] for row in rows),
        may_be_g=plain(may_be),
        batches=sum(row["at"] is not None for row in rows),
        last_at=max((row["at"] for row in rows if row["at"]), default=None),
        left_g=None if came is None else plain(came.amount_g - weighed - may_be),
    )


def _sum(grams: Iterable[str | None]) -> Decimal:
    return sum((Decimal(text) for text in grams if text is not None), Decimal(0))
