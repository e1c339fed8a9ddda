"""What was made of a batch, from the events that count it alone: for a recall over many batches."""

from collections.abc import Iterable

import msgspec

from station.batch import events as ev
from station.batch.codec import kind_of
from station.batch.tally import Tally, gone_on, struck, weighed
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
    tallies: dict[str, Tally] = {}
    for record in records:
        match event := record.event:
            case ev.TallyBegun():
                tallies[event.tally] = gone_on(tallies.get(event.tally), event, record.at)
            case ev.ItemWeighed():
                tallies[event.tally] = weighed(tallies[event.tally], event, record.at)
            case ev.ItemStruck():
                tallies[event.tally] = struck(tallies[event.tally], event)
    packs = tuple(
        Packs(one.count, plain(one.begun.nominal_g), one.begun.store, one.begun.use_by)
        for one in tallies.values()
        if one.begun.nominal_g is not None and one.items
    )
    pieces = sum(one.count for one in tallies.values() if one.begun.what == "pieces")
    return Made(pieces, packs)
