"""The meat's own lots: who holds a delivery must be answerable months later."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.line import MeatLine
from station.units import plain
from station.weighing import commands as do
from station.weighing.commands import Decision
from station.weighing.deciders import decides
from station.weighing.leftovers import named_as
from station.weighing.people import second_person
from station.weighing.sight import Sight


@decides
def name_meat_lot(sight: Sight, command: do.NameMeatLot) -> Decision:
    """Loads that are taken from now on are of this delivery. One that is past its use-by wants a
    second person: what may be done with it is for local law and whoever answers for the food."""
    batch, meat = sight.facts.open_batch(), sight.facts.meat(command.line)
    kept = named_as(sight.station, batch, meat, command.lot, sight.at)
    known = meat.lots.get(command.lot)
    dates = [command.use_by, known.use_by if known else None]
    use_by = min((day for day in dates if day), default=None)  # the earlier of two
    today = max(command.today, sight.station.day)
    if use_by is not None and use_by < today:
        second_person(
            batch, meat.name, command.second, f"lot {command.lot}, to be used by {use_by},"
        )
    event = ev.MeatLotNamed(
        meat.name,
        command.lot,
        command.supplier or (known.supplier if known else None),
        command.packed or (known.packed if known else None),
        use_by,
        batch.who,
        command.second,
        known.price if known and command.price is None else command.price,
        kept.leftover if kept else None,
    )
    if known == event and meat.lot == command.lot:
        return Decision(answer=f"{meat.name} is of lot {command.lot}")
    since = "from now on"
    if kept is not None:
        left = plain(kept.left_g)
        return Decision((event,), answer=f"{meat.name} is left of batch {kept.batch}, {left} g")
    if any(load.lot is None for load in meat.loads) and not _delivered(meat):
        before = sum((load.net_g for load in meat.loads if load.lot is None), Decimal(0))
        since = f"from now on, and so are the {plain(before)} g before it"
    return Decision((event,), answer=f"{meat.name} is of lot {command.lot} {since}")


def _delivered(meat: MeatLine) -> bool:
    """Whether a delivery is named, and not only what is left of another batch."""
    return any(lot.leftover is None for lot in meat.lots.values())
