"""The sheets of some batches of many, each from its own events."""

from bisect import bisect
from collections.abc import Iterable, Iterator, Sequence
from heapq import merge

from station.audit.batch import NoSuchBatch, batch_sheet
from station.audit.rows import BatchSheet
from station.batch import events as ev
from station.batch.codec import kind_of
from station.batch.evolve import evolve
from station.batch.state import Station
from station.ledger.asking import Asked
from station.ledger.records import Recorded

_ENDS = {kind_of(ev.Closed), kind_of(ev.Abandoned)}
_TOUCHES = {kind_of(ev.LossAccepted), kind_of(ev.LedgerRepaired)}
"""Events of no batch that touch the record of one that has ended."""


def sheets_of(
    ledger: Asked, batches: Iterable[str], outside: Sequence[Recorded] | None = None
) -> list[BatchSheet]:
    """The sheets of those batches, in their order; `outside`: the events of no batch, where they
    are known. They are folded once, not for each batch.

    Raises `NoSuchBatch`.
    """
    others = list(ledger.outside()) if outside is None else outside
    wanted = list(batches)
    opened = {name: _opened(ledger, name) for name in wanted}
    made: dict[str, BatchSheet] = {}
    bench, folded = Station(), 0
    for name, seq in sorted(opened.items(), key=lambda one: one[1]):
        mine = list(ledger.events_of(name))
        while folded < len(others) and others[folded].seq < seq:
            record = others[folded]
            bench = evolve(bench, record.event, record.at, None)
            folded += 1
        beside = _beside(mine, others[folded:])
        made[name] = batch_sheet(merge(mine, beside, key=lambda r: r.seq), name, bench)
    return [made[name] for name in wanted]


def _opened(ledger: Asked, name: str) -> int:
    seq = ledger.opened_seq(name)
    if seq is None:
        raise NoSuchBatch(f"no batch {name!r}")
    return seq


def _beside(mine: Sequence[Recorded], later: Sequence[Recorded]) -> Iterator[Recorded]:
    """Of the events of the bench since a batch was opened, those that its sheet is made with."""
    ends = [record.seq for record in mine if record.kind in _ENDS]
    if not ends:
        return iter(later)
    during = bisect(later, ends[-1], key=lambda record: record.seq)
    touching = (record for record in later[during:] if record.kind in _TOUCHES)
    return iter([*later[:during], *touching])
