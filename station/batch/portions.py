"""What was weighed ahead and waits in its bag for the batch that it goes into."""

from collections.abc import Iterator

from station.batch import events as ev
from station.batch.change import replace
from station.batch.line import Line, Load
from station.batch.state import Batch, Portion, Station
from station.formula.ahead import formula_of, line_of


def portions_after(station: Station, event: ev.Event, at: str, batch_id: str | None) -> Station:
    """The bags of the bench after an event: they are all weighed, one is used, or thrown away."""
    match event:
        case ev.Closed() if (batch := station.find(batch_id)) is not None and batch.opened.ahead:
            made = {one.vessel: one for one in _made(batch, at)}
            return replace(station, portions={**station.portions, **made})
        case ev.PortionUsed() | ev.PortionDiscarded():
            return _without(station, event.vessel)
        case ev.LoadWeighed() | ev.TippedUnaccepted() if batch := station.find(batch_id):
            return _without(station, batch.lines[event.line].used)
    return station


def _without(station: Station, vessel: str | None) -> Station:
    """The same where that bag, if it is one, waits no more."""
    if vessel not in station.portions:
        return station
    left = {name: one for name, one in station.portions.items() if name != vessel}
    return replace(station, portions=left)


def _made(batch: Batch, at: str) -> Iterator[Portion]:
    """The lines that stand as one load in a vessel on record, weighed on a scale: nothing else can
    be told by its weight on another day."""
    for line in batch.lines.values():
        if len(line.standing) == 1:
            (load,) = line.standing
            if load.vessel is not None and load.scale is not None and load.gross_g > 0:
                yield _of(batch, line, load, load.vessel, load.scale, at)


def _of(batch: Batch, line: Line, load: Load, vessel: str, scale: str, at: str) -> Portion:
    lot = line.lots.get(load.lot or "")
    return Portion(
        batch=batch.id,
        formula=formula_of(batch.formula.name),
        line=line_of(line.name),
        vessel=vessel,
        scale=scale,
        division_g=load.division_g,
        tare_g=load.tare_g,
        tare_raw=load.tare_raw,
        gross_g=load.gross_g,
        lot=load.lot,
        contains=dict(line.contents(load)),
        allergens=line.addition.allergens,
        expires=lot.expires if lot else None,
        at=at,
    )


def waiting_for(station: Station, batch: Batch, line: str) -> list[Portion]:
    """The bags of a line that were weighed ahead for the formula of a batch, the oldest first. One
    of what the line has become since, with other allergens, is not among them."""
    found = [
        one
        for one in station.portions.values()
        if (one.formula, one.line) == (batch.formula.name, line)
        and set(one.allergens) == set(batch.lines[line].addition.allergens)
        and (one.lot is not None or one.contains == batch.lines[line].stands_for)
    ]
    return sorted(found, key=lambda one: (one.at, one.batch, one.vessel))
