"""From events to where a batch stands: `evolve(station, event, at, batch_id)`, one small function
an event. No event is ever refused here: what is recorded has happened."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any, TypeVar, get_type_hints

import msgspec

from station.batch import events as ev
from station.batch.state import Batch, Doubt, Lag, Line, Load, Lot, MeatLine, Station, Tare, Vessel
from station.batch.strength import differing
from station.formula.limits import required_for, rows_for

Effect = Callable[[Batch, Any, str], Batch]
_EFFECTS: dict[type[ev.Event], Effect] = {}
E = TypeVar("E", bound=Effect)


def _effect(change: E) -> E:
    """Enter what an event changes in its batch, by the type of its parameter `event`."""
    _EFFECTS[get_type_hints(change)["event"]] = change
    return change


def evolve(station: Station, event: ev.Event, at: str, batch_id: str | None) -> Station:
    """The state after `event`, recorded at the time `at` (RFC 3339 UTC) for `batch_id`."""
    if at[:10] > station.day:
        station = replace(station, day=at[:10])
    match event:
        case ev.VesselRecorded():
            vessel = Vessel(event.name, event.empty_g, event.division_g)
            return replace(station, vessels={**station.vessels, event.name: vessel})
        case ev.BatchOpened():
            batch = _opened(event, at, batch_id or "")
            known = {
                **station.formulas,
                (event.formula.name, event.formula.revision): event.formula,
            }
            return replace(
                station,
                batch=batch,
                batches=station.batches + 1,
                last_who=event.who,
                formulas=known,
            )
        case ev.LagMeasured():
            lag = Lag(float(event.window_s), event.shape, at, event.in_use)
            return replace(station, lags={**station.lags, event.scale: lag})
        case ev.LedgerBorn() | ev.LedgerRecovered() | ev.ScaleTold():
            return station
        case ev.Parked():
            return _parked(station, event, at)
        case ev.TakenUp():
            return _taken_up(station, event, at, batch_id or "")
    if isinstance(event, ev.PersonCame):
        station = replace(station, last_who=event.who)
    found, evolver = station.find(batch_id), _EFFECTS.get(type(event))
    if found is None or evolver is None:
        return station
    batch = replace(evolver(found, event, at), day=at[:10])
    if batch.parked_at is not None:
        return replace(station, parked={**station.parked, batch.id: batch})
    return replace(station, batch=batch)


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


def _opened(event: ev.BatchOpened, at: str, batch_id: str) -> Batch:
    formula = event.formula
    lines = {a.name: Line(a, a.contains) for a in formula.additions if a.amount.on != "count"}
    return Batch(
        id=batch_id,
        opened=event,
        opened_at=at,
        rows=rows_for(formula, event.limits),
        required=required_for(formula, event.limits),
        meats={meat.name: MeatLine(meat.name, meat.share) for meat in formula.meats},
        lines=lines,
        order=tuple(item.name for item in formula.sequence),
        who=event.who,
        day=at[:10],
    )


def _with_line(batch: Batch, name: str, **changes: Any) -> Batch:
    lines = {**batch.lines, name: replace(batch.lines[name], **changes)}
    return replace(batch, lines=lines)


def _with_meat(batch: Batch, name: str, **changes: Any) -> Batch:
    meats = {**batch.meats, name: replace(batch.meats[name], **changes)}
    return replace(batch, meats=meats)


@_effect
def _lot_opened(batch: Batch, event: ev.LotOpened, at: str) -> Batch:
    """The bag last opened is the one in use, unless it is of another strength or a cup is being
    filled; what went in from a bag that nobody had named was of this one."""
    line = batch.lines[event.line]
    known = line.lots.get(event.lot)
    before: tuple[dict[str, Decimal], ...] = ()
    if known is not None and any(load.lot == event.lot for load in line.loads):
        before = tuple(told for told in known.tellings if told != event.contains)
    lot = Lot(event.lot, event.contains, event.expires, before)
    loads = tuple(replace(load, lot=load.lot or event.lot) for load in line.loads)
    fits = not differing(line.stands_for, lot.contains) and line.tare is None
    current = lot if fits or line.lot is None or line.lot.lot == lot.lot else line.lot
    return _with_line(
        batch, event.line, lot=current, lots={**line.lots, event.lot: lot}, loads=loads
    )


@_effect
def _rescaled(batch: Batch, event: ev.Rescaled, at: str) -> Batch:
    line = batch.lines[event.line]
    addition = msgspec.structs.replace(line.addition, amount=event.amount)
    lot = line.lots.get(event.lot)  # none for the salt, which is made up by another line's bag
    if lot is None:
        return _with_line(batch, event.line, addition=addition)
    return _with_line(batch, event.line, addition=addition, stands_for=lot.contains, lot=lot)


@_effect
def _bag_changed(batch: Batch, event: ev.BagChanged, at: str) -> Batch:
    line = batch.lines[event.line]
    known = line.lots.get(event.lot) or Lot(event.lot, line.stands_for, event.expires)
    return _with_line(batch, event.line, lot=known, lots={**line.lots, event.lot: known})


@_effect
def _vessel_used(batch: Batch, event: ev.VesselUsed, at: str) -> Batch:
    if event.line in batch.meats:
        return _with_meat(batch, event.line, tub=event.vessel)
    return _with_line(batch, event.line, used=event.vessel)


@_effect
def _meat_weighed(batch: Batch, event: ev.MeatWeighed, at: str) -> Batch:
    meat = batch.meats[event.line]
    batch = replace(_with_meat(batch, event.line, loads=(*meat.loads, event)), last_meat=event)
    if event.net_g < 0:  # what leaves in a tub is not counted in it any more
        kept = {tub: gross for tub, gross in batch.counted.items() if tub != event.vessel}
        return replace(batch, counted=kept)
    return replace(batch, counted={**batch.counted, event.vessel: event.gross_g})


@_effect
def _tub_emptied(batch: Batch, event: ev.TubEmptied, at: str) -> Batch:
    counted = {tub: gross for tub, gross in batch.counted.items() if tub != event.vessel}
    return replace(batch, counted=counted)


@_effect
def _tared(batch: Batch, event: ev.Tared, at: str) -> Batch:
    tare = Tare(event.scale, event.division_g, event.vessel, event.tare_g, event.raw, event.onto)
    tipped_on = {scale: line for scale, line in batch.tipped_on.items() if scale != event.scale}
    batch = replace(batch, tipped_on=tipped_on)
    return _with_line(batch, event.line, tare=tare, lifted=None, skipped=False, over_g=None)


@_effect
def _load_weighed(batch: Batch, event: ev.LoadWeighed, at: str) -> Batch:
    line = batch.lines[event.line]
    load = Load(
        net_g=event.net_g,
        gross_g=event.gross_g,
        tare_g=event.tare_g,
        tare_raw=event.tare_raw,
        scale=event.scale,
        division_g=event.division_g,
        vessel=event.vessel,
        lot=event.lot,
        who=event.who,
        at=at,
        tipped=event.onto,
        tipped_at=at if event.onto else None,
        by_hand=event.by_hand,
    )
    tare = None
    if event.stays and line.tare:  # the cup stays on: what is in it is the next load's tare
        tare = replace(line.tare, tare_g=event.gross_g, raw=event.raw)
    return _with_line(
        batch, event.line, loads=(*line.loads, load), tare=tare, lifted=None, used=None
    )


@_effect
def _accepted(batch: Batch, event: ev.Accepted, at: str) -> Batch:
    return _with_line(batch, event.line, accepted=event, unaccepted=False, judged=True)


@_effect
def _lifted(batch: Batch, event: ev.Lifted, at: str) -> Batch:
    return _with_line(batch, event.line, lifted=event)


@_effect
def _taken_back(batch: Batch, event: ev.TakenBack, at: str) -> Batch:
    return _with_line(batch, event.line, lifted=None)


@_effect
def _tipped(batch: Batch, event: ev.Tipped, at: str) -> Batch:
    """Every standing load of that vessel goes in; the residue is the last one's."""
    line = batch.lines[event.line]
    if event.scale is not None:
        batch = replace(batch, tipped_on={**batch.tipped_on, event.scale: event.line})
    last = max((n for n, load in enumerate(line.loads) if _in(load, event.vessel)), default=-1)
    loads = tuple(
        replace(load, tipped=True, tipped_at=at, residue_g=event.residue_g if n == last else None)
        if _in(load, event.vessel)
        else load
        for n, load in enumerate(line.loads)
    )
    stands = line.tare is not None or any(not load.tipped for load in loads)
    return _with_line(batch, event.line, loads=loads, voiding=line.voiding if stands else None)


def _in(load: Load, vessel: str | None) -> bool:
    return not load.tipped and load.vessel == vessel


@_effect
def _tipped_unaccepted(batch: Batch, event: ev.TippedUnaccepted, at: str) -> Batch:
    line = batch.lines[event.line]
    zero = Decimal(0)
    load = Load(
        net_g=event.net_g,
        gross_g=zero,
        tare_g=zero,
        tare_raw="",
        scale=event.scale,
        division_g=event.division_g or zero,
        vessel=event.vessel,
        lot=event.lot,
        who=event.who,
        at=at,
        tipped=True,
        tipped_at=at,
        residue_g=event.residue_g,
        by_hand=event.by_hand,
    )
    return _with_line(
        batch,
        event.line,
        loads=(*line.loads, load),
        tare=None,
        lifted=None,
        used=None,
        unaccepted=True,
        judged=True,
        skipped=False,
        voiding=None,
    )


@_effect
def _void_asked(batch: Batch, event: ev.VoidAsked, at: str) -> Batch:
    return _with_line(batch, event.line, voiding=event)


@_effect
def _voided(batch: Batch, event: ev.Voided, at: str) -> Batch:
    line = batch.lines[event.line]
    kept = tuple(load for load in line.loads if not _in(load, event.vessel))
    here = line.tare is not None and line.tare.vessel == event.vessel
    left = any(not load.tipped for load in kept) or (line.tare is not None and not here)
    same = len(kept) == len(line.loads)  # a top-up voided changes no acceptance
    batch = _with_line(
        batch,
        event.line,
        loads=kept,
        accepted=line.accepted if same else None,
        used=None,
        judged=line.judged and any(load.tipped for load in kept),
        voiding=line.voiding if left else None,
    )
    if event.doubted and event.content_g is not None:
        division = event.division_g or Decimal(0)
        doubt = Doubt(event.content_g, division, event.lot)
        batch = _with_line(batch, event.line, doubts=(*line.doubts, doubt))
    return _with_line(batch, event.line, tare=None, lifted=None) if here else batch


@_effect
def _doubt_settled(batch: Batch, event: ev.DoubtSettled, at: str) -> Batch:
    return _with_line(batch, event.line, doubts=())


@_effect
def _bag_refused(batch: Batch, event: ev.BagRefused, at: str) -> Batch:
    refused = {**batch.lines[event.line].refused, event.lot: event.expires}
    return _with_line(batch, event.line, refused=refused)


@_effect
def _reopened(batch: Batch, event: ev.Reopened, at: str) -> Batch:
    line = batch.lines[event.line]
    last = line.loads[-1]
    tare = Tare(last.scale or "", last.division_g, last.vessel, last.tare_g, last.tare_raw)
    lifted = ev.Lifted(event.line, event.scale, last.gross_g, "")
    return _with_line(
        batch, event.line, loads=line.loads[:-1], tare=tare, lifted=lifted, accepted=None
    )


@_effect
def _skipped(batch: Batch, event: ev.Skipped, at: str) -> Batch:
    order = (*(name for name in batch.order if name != event.line), event.line)
    return replace(_with_line(batch, event.line, skipped=True, used=None), order=order)


@_effect
def _closed(batch: Batch, event: ev.Closed, at: str) -> Batch:
    return replace(batch, end="closed", named=event.named)


@_effect
def _overpoured(batch: Batch, event: ev.Overpoured, at: str) -> Batch:
    return _with_line(batch, event.line, over_g=event.net_g)


@_effect
def _person_came(batch: Batch, event: ev.PersonCame, at: str) -> Batch:
    return replace(batch, who=event.who)


@_effect
def _meat_ended(batch: Batch, event: ev.MeatEnded, at: str) -> Batch:
    return _with_meat(batch, event.line, ended=True)


@_effect
def _jar_weighed(batch: Batch, event: ev.JarWeighed, at: str) -> Batch:
    return _with_line(batch, event.line, jars=(*batch.lines[event.line].jars, event))


@_effect
def _required_missing(batch: Batch, event: ev.RequiredMissing, at: str) -> Batch:
    return _with_line(batch, event.line, missing=True)


@_effect
def _step_ended(batch: Batch, event: ev.StepEnded, at: str) -> Batch:
    return replace(batch, steps_done={**batch.steps_done, event.name: event.value})


@_effect
def _put_on_hold(batch: Batch, event: ev.PutOnHold, at: str) -> Batch:
    return replace(batch, hold=event.reasons)


@_effect
def _hold_lifted(batch: Batch, event: ev.HoldLifted, at: str) -> Batch:
    return replace(batch, hold=())


@_effect
def _abandoned(batch: Batch, event: ev.Abandoned, at: str) -> Batch:
    return replace(batch, end="abandoned")
