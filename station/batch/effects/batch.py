"""What happened to a batch as a whole, its lots and its steps: the state after it."""

from decimal import Decimal

import msgspec

from station.batch import events as ev
from station.batch.change import replace
from station.batch.effects.base import effect, with_line
from station.batch.line import Lot
from station.batch.state import Batch
from station.batch.strength import differing


@effect
def lot_opened(batch: Batch, event: ev.LotOpened, at: str) -> Batch:
    """The bag last opened is the one in use, unless it is of another strength or a cup is being
    filled; what went in from a bag that nobody had named was of this one."""
    line = batch.lines[event.line]
    known = line.lots.get(event.lot)
    before: tuple[dict[str, Decimal], ...] = ()
    if known is not None and any(load.lot == event.lot for load in line.loads):
        before = tuple(told for told in known.tellings if told != event.contains)
    size_g = event.size_g or (known.size_g if known else None)
    price = known.price if known and event.price is None else event.price
    lot = Lot(event.lot, event.contains, event.expires, before, size_g, price)
    loads = tuple(replace(load, lot=load.lot or event.lot) for load in line.loads)
    fits = not differing(line.stands_for, lot.contains) and line.tare is None
    current = lot if fits or line.lot is None or line.lot.lot == lot.lot else line.lot
    return with_line(
        batch, event.line, lot=current, lots={**line.lots, event.lot: lot}, loads=loads
    )


@effect
def lot_reviewed(batch: Batch, event: ev.LotReviewed, at: str) -> Batch:
    line = batch.lines[event.line]
    lot = replace(line.lots[event.lot], contains=event.contains, before=())
    current = lot if line.lot is not None and line.lot.lot == lot.lot else line.lot
    return with_line(batch, event.line, lot=current, lots={**line.lots, event.lot: lot})


@effect
def rescaled(batch: Batch, event: ev.Rescaled, at: str) -> Batch:
    line = batch.lines[event.line]
    addition = msgspec.structs.replace(line.addition, amount=event.amount)
    lot = line.lots.get(event.lot)  # none for the salt, which is made up by another line's bag
    if lot is None:
        return with_line(batch, event.line, addition=addition)
    return with_line(batch, event.line, addition=addition, stands_for=lot.contains, lot=lot)


@effect
def bag_changed(batch: Batch, event: ev.BagChanged, at: str) -> Batch:
    line = batch.lines[event.line]
    known = line.lots.get(event.lot) or Lot(event.lot, line.stands_for, event.expires)
    return with_line(batch, event.line, lot=known, lots={**line.lots, event.lot: known})


@effect
def bag_refused(batch: Batch, event: ev.BagRefused, at: str) -> Batch:
    refused = {**batch.lines[event.line].refused, event.lot: event.expires}
    return with_line(batch, event.line, refused=refused)


@effect
def skipped(batch: Batch, event: ev.Skipped, at: str) -> Batch:
    order = (*(name for name in batch.order if name != event.line), event.line)
    return replace(with_line(batch, event.line, skipped=True, used=None), order=order)


@effect
def closed(batch: Batch, event: ev.Closed, at: str) -> Batch:
    return replace(batch, end="closed", named=event.named)


@effect
def person_came(batch: Batch, event: ev.PersonCame, at: str) -> Batch:
    return replace(batch, who=event.who)


@effect
def required_missing(batch: Batch, event: ev.RequiredMissing, at: str) -> Batch:
    return with_line(batch, event.line, missing=True)


@effect
def step_ended(batch: Batch, event: ev.StepEnded, at: str) -> Batch:
    batch = replace(batch, steps_done={**batch.steps_done, event.name: event.value})
    if event.skipped:
        batch = replace(batch, steps_skipped=batch.steps_skipped | {event.name})
    return batch


@effect
def put_on_hold(batch: Batch, event: ev.PutOnHold, at: str) -> Batch:
    return replace(batch, hold=event.reasons)


@effect
def hold_lifted(batch: Batch, event: ev.HoldLifted, at: str) -> Batch:
    return replace(batch, hold=())


@effect
def abandoned(batch: Batch, event: ev.Abandoned, at: str) -> Batch:
    return replace(batch, end="abandoned")
