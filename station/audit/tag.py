"""What stands on a pack's tag: six lines, large enough to be copied by hand."""

from collections.abc import Callable
from decimal import Decimal

import msgspec

from station.batch.state import Batch
from station.batch.tally import Tally
from station.units import plain


class Tag(msgspec.Struct, frozen=True):
    """Of one kind of pack, `count` of them. `keep`: where, as the maker named the place."""

    name: str
    batch: str
    packed: str
    use_by: str
    weight: str
    keep: str
    count: int

    @property
    def lines(self) -> tuple[str, ...]:
        """What a printer gets that takes plain text."""
        return (
            self.name,
            f"batch {self.batch}",
            f"packed {self.packed}",
            f"use by {self.use_by}",
            self.weight,
            f"keep: {self.keep}",
        )


def tags(batch: Batch, day_of: Callable[[str], str]) -> tuple[Tag, ...]:
    """One for each kind of pack of the batch. `day_of`: a recorded time as the day at the bench."""
    return tuple(_tag(batch, tally, day_of) for tally in batch.tallies_of("packs"))


def _tag(batch: Batch, tally: Tally, day_of: Callable[[str], str]) -> Tag:
    return Tag(
        batch.formula.name,
        batch.id,
        day_of(tally.items[0].at),
        tally.begun.use_by or "not told",
        f"{plain(tally.begun.nominal_g or Decimal(0))} g",
        tally.begun.store or "not told",
        tally.count,
    )
