"""What is left of a batch once it is closed, and what another batch holds of such."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from msgspec import structs

from station.batch import events as ev
from station.batch.amounts import whole_g
from station.batch.change import replace
from station.batch.lawful import agent_g, brought_least_g, brought_most_g, sure_g
from station.batch.state import Batch, Kept, Station
from station.formula.leftover import MEAT, Leftover, Part
from station.formula.limits import LimitRow, agents_of
from station.units import rounded

PLACES = 12
"""Decimals of a share."""


def unused_g(batch: Batch) -> Fraction:
    """Grams of the mix that are in no piece, no pack and no sample, and are not kept yet."""
    made = max(
        sum((tally.net_g for tally in batch.tallies_of(what)), Decimal(0))
        for what in ("pieces", "packs")
    )
    return whole_g(batch) * Fraction(batch.kept) - Fraction(made) - Fraction(batch.left_over_g)


def uncertain_g(batch: Batch) -> Fraction:
    """U of all that was weighed into the mix, grams."""
    lines = sum((line.expanded_g for line in batch.lines.values()), Decimal(0))
    return Fraction(batch.meat_expanded_g + lines)


def next_lot(batch: Batch) -> str:
    """What the next leftover of a batch is called."""
    return f"{batch.id}{BETWEEN}{len(batch.left_over) + 1}"


BETWEEN = "-L"
"""Between the batch and the number of a leftover in its name."""


def batch_of(lot: str) -> str | None:
    """The batch that a lot is left over of, by its name; None for any other lot."""
    batch, between, number = lot.rpartition(BETWEEN)
    day, dash, count = batch.partition("-")
    named = len(day) == 6 and (day + count + number).isdecimal() and dash and between
    return batch if named and count and number else None


def composed(batch: Batch) -> Leftover:
    """What a gram of the mix of a closed batch is made of."""
    whole, uncertain = whole_g(batch), uncertain_g(batch)
    agents = sorted({name for part in _masses(batch) for name in agents_of(part[0].contains)})
    most, least = {}, {}
    for agent in agents:
        row = _only(agent)
        lines = batch.lines.values()
        in_it = sum((agent_g(line, row) for line in lines), brought_most_g(batch, row))
        sure = sum((sure_g(line, row) for line in lines), brought_least_g(batch, row))
        most[agent] = rounded(in_it / (whole - uncertain), PLACES, up=True)
        least[agent] = rounded(sure / (whole + uncertain), PLACES, up=False)
    meat = Fraction(batch.meat_g - batch.meat_expanded_g) / (whole + uncertain)
    return Leftover(
        batch=batch.id,
        formula=batch.formula.name,
        revision=batch.formula.revision,
        parts=tuple(_parts(batch, whole)),
        most=most,
        least=least,
        meat_least=rounded(meat, PLACES, up=False),
        besides=_besides(batch),
    )


def _besides(batch: Batch) -> tuple[str, ...]:
    """The allergens of what is counted and not weighed, of the leftovers in it, too."""
    counted = [one for one in batch.formula.additions if one.amount.on == "count"]
    found = [name for one in counted for name in one.allergens]
    return tuple(
        dict.fromkeys([*found, *(name for _, lot in batch.reworked for name in lot.besides)])
    )


def _only(agent: str) -> LimitRow:
    """A row by which an agent is counted as itself."""
    return LimitRow("", (), (agent,), "mix", Decimal(0), "", "", True, "")


def _parts(batch: Batch, whole: Fraction) -> Iterator[Part]:
    """Its parts, those of one name and kind together."""
    masses = list(_masses(batch))
    parts: list[Part] = []
    for part, _ in masses:  # what a part contains is no key of a table
        if part not in parts:
            parts.append(part)
    for part in parts:
        mass = sum((grams for other, grams in masses if other == part), Fraction(0))
        yield structs.replace(part, share=rounded(mass / whole, PLACES, up=False))


def _masses(batch: Batch) -> Iterator[tuple[Part, Fraction]]:
    """Each part of the mix, without its share, and grams of it."""
    species = {meat.name: meat.species for meat in batch.formula.meats}
    for meat in batch.meats.values():
        if meat.fresh_g > 0:
            part = Part(meat.name, MEAT, Decimal(0), species=species[meat.name])
            yield part, Fraction(meat.fresh_g)
    for line in batch.lines.values():
        if line.counts_g > 0:
            contains = {name: rounded(s, PLACES, up=False) for name, s in line.blend.items()}
            addition = line.addition
            part = Part(addition.name, addition.role, Decimal(0), contains, addition.allergens)
            yield part, line.counts_g
    for load, lot in batch.reworked:
        for part in lot.parts:
            grams = Fraction(load.net_g) * Fraction(part.share)
            yield structs.replace(part, share=Decimal(0)), grams


def kept_after(station: Station, event: ev.Event, at: str, batch_id: str | None) -> Station:
    """The leftovers of the bench after an event: one is weighed, its batch closes, some of it is
    used, or it is thrown away. What is left of a batch that is given up is none."""
    lots = station.leftovers
    match event:
        case ev.LeftoverKept():
            return replace(
                station, leftovers={**lots, event.lot: _kept(station, event, at, batch_id)}
            )
        case ev.LeftoverDiscarded():
            return replace(station, leftovers={k: v for k, v in lots.items() if k != event.lot})
        case ev.Abandoned():
            own = {k: v for k, v in lots.items() if v.batch != batch_id}
            return replace(station, leftovers=own)
        case ev.Closed():
            return _closed(station, batch_id)
        case ev.MeatWeighed() | ev.LoadWeighed() | ev.TippedUnaccepted():
            return _used(_spoilt(station, batch_id), event)
    return station


def _kept(station: Station, event: ev.LeftoverKept, at: str, batch_id: str | None) -> Kept:
    """As it was put away; as old as the oldest leftover that is in it."""
    batch = station.find(batch_id)
    ages = [lot.since for _, lot in batch.reworked] if batch else []
    return Kept(
        batch_id or "",
        event.net_g,
        event.division_g,
        min([at, *ages]),
        vessel=event.vessel,
        gross_g=event.gross_g,
    )


def _used(station: Station, event: ev.Event) -> Station:
    """Some of a leftover is weighed as meat; what is taken out again is none of it."""
    known = station.leftovers.get(getattr(event, "lot", None) or "")
    if not isinstance(event, ev.MeatWeighed) or known is None or event.net_g <= 0:
        return station
    used = replace(known, used_g=known.used_g + event.net_g)
    return replace(station, leftovers={**station.leftovers, event.lot or "": used})


def _spoilt(station: Station, batch_id: str | None) -> Station:
    """Something went into the rest of a batch of which some is kept: nobody can say any more what
    that is made of."""
    own = {k: replace(v, spoilt=True) for k, v in station.leftovers.items() if v.batch == batch_id}
    return replace(station, leftovers={**station.leftovers, **own}) if own else station


def _closed(station: Station, batch_id: str | None) -> Station:
    """What is left of a batch is made of what is in it now: nothing more comes to it."""
    own = {k: v for k, v in station.leftovers.items() if v.batch == batch_id}
    if not own:
        return station
    batch = station.find(batch_id)
    assert batch is not None  # it has leftovers
    made = composed(batch)
    whole = {
        lot: replace(kept, leftover=structs.replace(made, since=kept.at))
        for lot, kept in own.items()
    }
    return replace(station, leftovers={**station.leftovers, **whole})
