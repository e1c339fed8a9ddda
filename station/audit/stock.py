"""What was weighed into batches from each lot. How much of one came is on no record, and so is what
is left of it; what was voided or spilt is not counted."""

from collections.abc import Iterable
from decimal import Decimal
from itertools import groupby

import msgspec

from station.audit.trace import dates
from station.ledger.tables import Row
from station.units import plain


class LotStock(msgspec.Struct, frozen=True, kw_only=True):
    """A lot in a line, over all its batches. `at_least`: more was taken, and nobody knows how much;
    `may_be_g`: what was poured from it besides, and given another place than the mix, unproved;
    `left_g` is null: what came is not on record."""

    lot: str
    line: str
    expires: str | None
    weighed_g: str
    at_least: bool
    may_be_g: str
    batches: int
    last_at: str | None
    left_g: None = None


def stock(rows: Iterable[Row]) -> tuple[LotStock, ...]:
    """The lots of those rows of table `lot`, sorted by line and lot."""

    def key(row: Row) -> tuple[str, str]:
        return row["line"], row["lot"]

    return tuple(
        _of(lot, line, list(group)) for (line, lot), group in groupby(sorted(rows, key=key), key)
    )


def _of(lot: str, line: str, rows: list[Row]) -> LotStock:
    return LotStock(
        lot=lot,
        line=line,
        expires=min(dates(rows), default=None),
        weighed_g=_sum(row["actual_text"] for row in rows),
        at_least=any(row["unknown_more"] for row in rows),
        may_be_g=_sum(row["doubt_text"] for row in rows),
        batches=sum(row["at"] is not None for row in rows),
        last_at=max((row["at"] for row in rows if row["at"]), default=None),
    )


def _sum(grams: Iterable[str | None]) -> str:
    return plain(sum((Decimal(text) for text in grams if text is not None), Decimal(0)))
