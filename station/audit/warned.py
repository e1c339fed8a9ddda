"""What went wrong, over many batches: the sentences that stand on their sheets."""

from collections.abc import Iterable, Iterator

import msgspec

from station.audit.decisions import DECIDED
from station.audit.remarks import REMARKED, remarks
from station.ledger.book import Recorded

WARNED = REMARKED - DECIDED
"""The kinds of events that warn: what a person decided is told by `decisions`."""


class Warned(msgspec.Struct, frozen=True, kw_only=True):
    """One remark of a batch's sheet; `batch` is null where it is about the ledger."""

    batch: str | None
    addition: str | None
    kind: str
    text: str
    at: str


def warned(records: Iterable[Recorded]) -> Iterator[Warned]:
    """The warnings among those events, in their order."""
    for record in records:
        for row in remarks([(record.at, record.event)]):
            yield Warned(
                batch=record.batch, addition=row.addition, kind=row.kind, text=row.text, at=row.at
            )
