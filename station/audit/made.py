"""What was made of a batch, from the events that count it alone: for a recall over many batches."""

from collections.abc import Iterable

import msgspec

from station.batch import events as ev
from station.batch.codec import kind_of
from station.ledger.records import Recorded
from station.units import plain

KINDS = frozenset(kind_of(event) for event in (ev.TallyBegun, ev.ItemWeighed, ev.ItemStruck))
"""The kinds of events that say what was counted."""


class Packs(msgspec.Struct, frozen=True):
    """Packs of one weight, place and date."""

    count: int
    nominal_g: str
    store: str | None
    use_by: str | None


class Made(msgspec.Struct, frozen=True):
    """Pieces and packs of a batch, as they were counted; none where nothing was."""

    pieces: int = 0
    packs: tuple[Packs, ...] = ()

    @property
    def words(self) -> str:
        """The same for people; empty where nothing was counted."""
        told = [f"{self.pieces} pieces"] if self.pieces else []
        told += [
            f"{one.count} x {one.nominal_g} g, {one.store}, use by {one.use_by}"
            for one in self.packs
        ]
        return "; ".join(told)


def made(records: Iterable[Recorded]) -> Made:
    """Of a batch's events of `KINDS`, in their order: one that was weighed again counts once, one
    that was struck does not."""
    begun: dict[str, ev.TallyBegun] = {}
    counted: dict[str, dict[int, int]] = {}
    for record in records:
        match event := record.event:
            case ev.TallyBegun():
                begun[event.tally] = event
            case ev.ItemWeighed():
                counted.setdefault(event.tally, {})[event.number] = event.links
            case ev.ItemStruck():
                counted.get(event.tally, {}).pop(event.number, None)
    sums = {name: sum(items.values()) for name, items in counted.items()}
    packs = tuple(
        Packs(sums[name], plain(one.nominal_g), one.store, one.use_by)
        for name, one in begun.items()
        if one.nominal_g is not None and sums.get(name)
    )
    pieces = sum(sums.get(name, 0) for name, one in begun.items() if one.what == "pieces")
    return Made(pieces, packs)
