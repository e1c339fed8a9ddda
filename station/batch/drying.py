"""What pieces lose while they hang: all of them weighed again, as often as somebody likes."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from station.batch.state import Batch
from station.batch.tally import Tally


@dataclass(frozen=True, slots=True)
class Dried:
    """One weighing of pieces that have hung. `green` is what they were when they were counted, as
    it stands now."""

    green: Tally
    now: Tally

    @property
    def whole(self) -> bool:
        """Whether as many were weighed as there are: else nothing is told of a loss."""
        return bool(self.now.items) and self.now.count == self.green.count

    @property
    def loss(self) -> Fraction | None:
        """(Green weight - weight now) / green weight, as 9 CFR 319.106 counts a ham's shrink; below
        nothing where they weigh more. None unless all were weighed."""
        if not self.whole:
            return None
        return 1 - Fraction(self.now.net_g) / Fraction(self.green.net_g)


def weighings(batch: Batch) -> list[Dried]:
    """Every weighing of pieces that have hung, in the order in which they were begun."""
    return [found for tally in batch.tallies_of("dried") if (found := dried(batch, tally))]


def dried(batch: Batch, tally: Tally) -> Dried | None:
    """A count as such a weighing; None where it is none."""
    green = batch.tallies.get(tally.begun.of or "")
    return None if green is None else Dried(green, tally)


def next_name(batch: Batch, pieces: str) -> str:
    """What the next weighing of these is counted under. One that was ended never goes on: the next
    may be another day's."""
    number = 1
    while (name := f"{pieces} dried {number}") in batch.tallies:
        number += 1
    return name


def hung_g(batch: Batch) -> Decimal | None:
    """All pieces as they were weighed last, each kind by its last whole weighing; None where none
    was weighed again."""
    last = {one.green.name: one.now.net_g for one in weighings(batch) if one.whole}
    if not last:
        return None
    pieces = batch.tallies_of("pieces")
    return sum((last.get(tally.name, tally.net_g) for tally in pieces), Decimal(0))
