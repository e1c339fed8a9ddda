"""The sheets of some batches of many, each from its own events."""

from collections.abc import Iterable, Sequence
from heapq import merge

from station.audit.batch import batch_sheet
from station.audit.rows import BatchSheet
from station.ledger.asking import Asked
from station.ledger.records import Recorded


def sheets_of(
    ledger: Asked, batches: Iterable[str], outside: Sequence[Recorded] | None = None
) -> list[BatchSheet]:
    """The sheets of those batches; `outside`: the events of no batch, where they are known."""
    others = list(ledger.outside()) if outside is None else outside
    return [
        batch_sheet(merge(ledger.events_of(name), others, key=lambda record: record.seq), name)
        for name in batches
    ]
