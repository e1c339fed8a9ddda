"""How much a bag of known size still has, by what was weighed from it. Masses in grams."""

from decimal import Decimal

from station.batch.line import Lot
from station.batch.state import Batch, Station

LOW = Decimal("0.2")
"""Share of its size under which a bag is low (common practice: time to order another)."""


def drawn_after(station: Station, batch: Batch) -> dict[str, Decimal]:
    """Lot -> what was weighed from it in batches that are over, this one counted too."""
    weighed = _weighed(batch)
    if not weighed:
        return station.drawn
    drawn = dict(station.drawn)
    for lot, grams in weighed.items():
        drawn[lot] = drawn.get(lot, Decimal(0)) + grams
    return drawn


def left_g(station: Station, lot: Lot) -> Decimal | None:
    """What a bag has left, nothing at least; None where nobody said how much was in it."""
    if lot.size_g is None:
        return None
    taken = station.drawn.get(lot.lot, Decimal(0))
    taken += sum((_weighed(b).get(lot.lot, Decimal(0)) for b in station.unfinished), Decimal(0))
    return max(lot.size_g - taken, Decimal(0))


def low(station: Station) -> list[tuple[str, Lot, Decimal]]:
    """The open bags of the batch at the bench that are low, or hold less than their line still
    wants: line, lot, what is left."""
    batch = station.open
    if batch is None:
        return []
    found = []
    for line in batch.lines.values():
        lot = line.lot
        if lot is None or (left := left_g(station, lot)) is None:
            continue
        assert lot.size_g is not None  # something is left of a size
        short = batch.meat_ended and left < batch.target(line.name) - line.meant_g()
        if short or left < LOW * lot.size_g:
            found.append((line.name, lot, left))
    return found


def _weighed(batch: Batch) -> dict[str, Decimal]:
    """Lot -> grams, of bags of known size. What clings to a cup left the bag all the same."""
    found: dict[str, Decimal] = {}
    if batch.opened.ahead:  # it counts in the batch that it goes into
        return found
    for line in batch.lines.values():
        for load in line.loads:
            known = line.lots.get(load.lot or "")
            if known is not None and known.size_g is not None and load.net_g is not None:
                found[known.lot] = found.get(known.lot, Decimal(0)) + load.net_g
    return found
