"""From events to where a batch stands: `evolve(station, event, at, batch_id)`, one small function
an event. No event is ever refused here: what is recorded has happened."""

from fractions import Fraction

from station.batch import events as ev
from station.batch.bags import drawn_after
from station.batch.change import replace
from station.batch.effects import batch as _batch  # each enters its effects
from station.batch.effects import product as _product
from station.batch.effects import weighing as _weighing
from station.batch.effects.base import EFFECTS
from station.batch.leftovers import kept_after
from station.batch.line import Line, MeatLine
from station.batch.portions import portions_after
from station.batch.state import Batch, Lag, Station, Vessel
from station.batch.timing import begun
from station.formula.limits import required_for, rows_for
from station.formula.model import Addition

PARTS = (_batch, _product, _weighing)
"""The files of effects."""


def evolve(station: Station, event: ev.Event, at: str, batch_id: str | None) -> Station:
    """The state after `event`, recorded at the time `at` (RFC 3339 UTC) for `batch_id`."""
    if at[:10] > station.day:
        station = replace(station, day=at[:10])
    match event:
        case ev.VesselRecorded():
            vessel = Vessel(event.name, event.empty_g, event.division_g)
            return replace(station, vessels={**station.vessels, event.name: vessel})
        case ev.BatchOpened():
            return _begun(station, event, at, batch_id or "")
        case ev.LagMeasured():
            lag = Lag(float(event.window_s), event.shape, at, event.in_use)
            return replace(station, lags={**station.lags, event.scale: lag})
        case ev.ScaleKnown():
            return _known(station, event)
        case ev.LedgerBorn() | ev.LedgerRecovered() | ev.ScaleTold():
            return station
        case ev.Parked():
            return _parked(station, event, at)
        case ev.TakenUp():
            return _taken_up(station, event, at, batch_id or "")
    station = _soiled(_kept_of(station, event, batch_id), event, batch_id)
    station = kept_after(station, event, at, batch_id)
    station = portions_after(station, event, at, batch_id)
    found, evolver = station.find(batch_id), EFFECTS.get(type(event))
    if found is None or evolver is None:
        return station
    batch = replace(evolver(found, event, at), day=at[:10])
    if steps := begun(batch):
        batch = replace(batch, step_since={**batch.step_since, **dict.fromkeys(steps, at)})
    if batch.parked_at is not None:
        return replace(station, parked={**station.parked, batch.id: batch})
    return replace(station, batch=batch)


def _soiled(station: Station, event: ev.Event, batch_id: str | None) -> Station:
    """The allergens on the bench: those of each line that was begun, until it is washed down."""
    if isinstance(event, ev.WashedDown):
        return replace(station, soiled={})
    batch = station.find(batch_id)
    if batch is None or not (brought := _allergens(batch, event)):
        return station
    if all(name in station.soiled for name in brought):
        return station
    return replace(station, soiled={**dict.fromkeys(brought, batch.id), **station.soiled})


def _allergens(batch: Batch, event: ev.Event) -> tuple[str, ...]:
    """What comes onto the bench with the line that the event is about, or what is left of another
    batch."""
    name: str = getattr(event, "line", None) or ""
    if (line := batch.lines.get(name)) is not None:
        return line.addition.allergens
    if isinstance(event, ev.StepEnded):
        step = batch.step(event.name)
        return step.allergens if isinstance(step, Addition) else ()
    if isinstance(event, ev.MeatWeighed):
        lot = batch.meats[name].lots.get(event.lot or "")
        return lot.leftover.allergens if lot and lot.leftover else ()
    return ()


def _kept_of(station: Station, event: ev.Event, batch_id: str | None) -> Station:
    """What the bench keeps of a batch's event for the batches to come."""
    match event:
        case ev.PersonCame():
            return replace(station, last_who=event.who)
        case ev.MeatLotNamed(leftover=None):
            return replace(station, deliveries={**station.deliveries, event.line: event})
        case ev.Closed() | ev.Abandoned() if (batch := station.find(batch_id)) is not None:
            return replace(station, drawn=drawn_after(station, batch))
    return station


def _known(station: Station, event: ev.ScaleKnown) -> Station:
    """Open batches are weighed on it from now on."""

    name = event.scale.name

    def on_it(batch: Batch) -> Batch:
        return replace(batch, confirmed={**batch.confirmed, name: event.scale})

    return replace(
        station,
        scales={**station.scales, name: event},
        batch=on_it(station.open) if station.open else station.batch,
        parked={batch.id: on_it(batch) for batch in station.parked.values()},
    )


def _parked(station: Station, event: ev.Parked, at: str) -> Station:
    if station.batch is None:
        return station
    batch = replace(station.batch, parked_at=at, left=event.left)
    return replace(station, batch=None, parked={**station.parked, batch.id: batch})


def _taken_up(station: Station, event: ev.TakenUp, at: str, batch_id: str) -> Station:
    parked = dict(station.parked)
    batch = parked.pop(batch_id, None)
    if batch is None:
        return station
    batch = replace(batch, parked_at=None, left={}, who=event.who, day=at[:10])
    return replace(station, batch=batch, parked=parked)


def _begun(station: Station, event: ev.BatchOpened, at: str, batch_id: str) -> Station:
    """A batch comes to the bench."""
    known = station.formulas
    if not event.ahead:  # bags for another plan have other amounts, and no revision
        known = {**known, (event.formula.name, event.formula.revision): event.formula}
    return replace(
        station,
        batch=_opened(event, at, batch_id),
        batches=station.batches + 1,
        last_who=event.who,
        formulas=known,
    )


def _opened(event: ev.BatchOpened, at: str, batch_id: str) -> Batch:
    formula = event.formula
    meat_g = Fraction(event.plan_g) or Fraction(10_000)  # unplanned, nothing hangs on the weight
    lines = {a.name: Line(a, a.contains) for a in formula.additions if a.amount.on != "count"}
    return Batch(
        id=batch_id,
        opened=event,
        opened_at=at,
        rows=rows_for(formula, event.limits, meat_g),
        required=required_for(formula, event.limits),
        meats={
            meat.name: MeatLine(meat.name, meat.share, ended=bool(event.ahead))
            for meat in formula.meats
        },
        lines=lines,
        order=tuple(item.name for item in formula.sequence),
        who=event.who,
        day=at[:10],
    )
