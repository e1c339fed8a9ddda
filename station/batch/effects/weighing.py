"""What was weighed, and what became of it: the state after it."""

from decimal import Decimal

from msgspec import structs

from station.batch import events as ev
from station.batch.change import replace
from station.batch.effects.base import effect, with_line, with_meat
from station.batch.line import Doubt, Line, Load, Tare
from station.batch.state import Batch


@effect
def vessel_used(batch: Batch, event: ev.VesselUsed, at: str) -> Batch:
    if event.line in batch.meats:
        return with_meat(batch, event.line, tub=event.vessel)
    return with_line(batch, event.line, used=event.vessel)


@effect
def scale_chosen(batch: Batch, event: ev.ScaleChosen, at: str) -> Batch:
    return with_line(batch, event.line, on=event.scale)


@effect
def meat_lot_named(batch: Batch, event: ev.MeatLotNamed, at: str) -> Batch:
    """What was weighed before any delivery was named is of the first one: a recall must find it.
    What is left of a batch is no delivery."""
    meat = batch.meats[event.line]
    loads, taken_at = meat.loads, meat.taken_at
    named = any(lot.leftover is None for lot in meat.lots.values())
    if not named and event.leftover is None and any(load.lot is None for load in loads):
        loads = tuple(structs.replace(load, lot=load.lot or event.lot) for load in loads)
        taken_at = {**taken_at, event.lot: at}
    lots = {**meat.lots, event.lot: event}
    return with_meat(batch, event.line, lots=lots, lot=event.lot, loads=loads, taken_at=taken_at)


@effect
def meat_weighed(batch: Batch, event: ev.MeatWeighed, at: str) -> Batch:
    meat = batch.meats[event.line]
    taken_at = meat.taken_at
    if event.lot and event.net_g > 0:
        taken_at = {**taken_at, event.lot: at}
    batch = with_meat(batch, event.line, loads=(*meat.loads, event), taken_at=taken_at)
    batch = replace(batch, last_meat=event)
    if event.net_g < 0:  # what leaves in a tub is not counted in it any more
        kept = {tub: gross for tub, gross in batch.counted.items() if tub != event.vessel}
        return replace(batch, counted=kept)
    return replace(batch, counted={**batch.counted, event.vessel: event.gross_g})


@effect
def tub_emptied(batch: Batch, event: ev.TubEmptied, at: str) -> Batch:
    counted = {tub: gross for tub, gross in batch.counted.items() if tub != event.vessel}
    return replace(batch, counted=counted)


@effect
def tared(batch: Batch, event: ev.Tared, at: str) -> Batch:
    tare = Tare(event.scale, event.division_g, event.vessel, event.tare_g, event.raw, event.onto)
    tipped_on = {scale: line for scale, line in batch.tipped_on.items() if scale != event.scale}
    batch = replace(batch, tipped_on=tipped_on)
    return with_line(
        batch, event.line, tare=tare, lifted=None, seen_g=None, skipped=False, over_g=None
    )


@effect
def portion_used(batch: Batch, event: ev.PortionUsed, at: str) -> Batch:
    """What is in the bag is of its own lot, whichever was opened since."""
    line = batch.lines[event.line]
    tare = Tare(event.scale, event.division_g, event.vessel, event.tare_g, event.tare_raw)
    lot = line.lots.get(event.lot or "", line.lot)
    batch = with_line(batch, event.line, tare=tare, lot=lot, seen_g=event.gross_g)
    return with_line(batch, event.line, lifted=None, skipped=False, over_g=None)


@effect
def load_weighed(batch: Batch, event: ev.LoadWeighed, at: str) -> Batch:
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
        seen_in=event.onto,
        worth=batch.worth,
    )
    tare = None
    if event.stays and line.tare:  # the cup stays on: what is in it is the next load's tare
        tare = replace(line.tare, tare_g=event.gross_g, raw=event.raw)
    return with_line(
        batch, event.line, loads=(*line.loads, load), tare=tare, lifted=None, used=None
    )


@effect
def accepted(batch: Batch, event: ev.Accepted, at: str) -> Batch:
    return with_line(batch, event.line, accepted=event, unaccepted=False, judged=True)


@effect
def lifted(batch: Batch, event: ev.Lifted, at: str) -> Batch:
    return with_line(batch, event.line, lifted=event, seen_g=event.gross_g)


@effect
def content_seen(batch: Batch, event: ev.ContentSeen, at: str) -> Batch:
    line = batch.lines[event.line]
    known = line.known_gross_g
    if line.tare is None or known is None:
        return batch
    gone = line.gone
    if (left := known - event.gross_g) > 3 * line.tare.division_g:
        gone = (*gone, _doubt(batch, line, left))
    return with_line(batch, event.line, seen_g=event.gross_g, gone=gone)


@effect
def poured_elsewhere(batch: Batch, event: ev.PouredElsewhere, at: str) -> Batch:
    line = batch.lines[event.line]
    return with_line(batch, event.line, gone=(*line.gone, _doubt(batch, line, event.content_g)))


@effect
def taken_back(batch: Batch, event: ev.TakenBack, at: str) -> Batch:
    line = batch.lines[event.line]
    doubts = line.doubts
    if event.doubted:
        doubts = (*doubts, _doubt(batch, line, event.missing_g))
    gone = _less(line.gone, line.short_g)
    return with_line(batch, event.line, lifted=None, seen_g=event.gross_g, doubts=doubts, gone=gone)


def _doubt(batch: Batch, line: Line, grams: Decimal) -> Doubt:
    division = line.tare.division_g if line.tare else Decimal(0)
    return Doubt(grams, division, line.lot.lot if line.lot else None, batch.worth)


def _less(gone: tuple[Doubt, ...], grams: Decimal) -> tuple[Doubt, ...]:
    """What is left of `gone` once it is known what became of the last `grams` of it."""
    kept = list(gone)
    while kept and grams > 0:
        last = kept.pop()
        if last.content_g > grams:
            kept.append(replace(last, content_g=last.content_g - grams))
        grams -= last.content_g
    return tuple(kept)


@effect
def tipped(batch: Batch, event: ev.Tipped, at: str) -> Batch:
    """Every standing load of that vessel goes in; the residue is the last one's."""
    line = batch.lines[event.line]
    if event.scale is not None:
        batch = replace(batch, tipped_on={**batch.tipped_on, event.scale: event.line})
    last = max((n for n, load in enumerate(line.loads) if _in(load, event.vessel)), default=-1)
    seen = event.scale is not None or event.residue_g is not None or event.second is not None
    loads = tuple(
        replace(
            load,
            tipped=True,
            tipped_at=at,
            residue_g=event.residue_g if n == last else None,
            seen_in=seen,
        )
        if _in(load, event.vessel)
        else load
        for n, load in enumerate(line.loads)
    )
    stands = line.tare is not None or any(not load.tipped for load in loads)
    return with_line(batch, event.line, loads=loads, voiding=line.voiding if stands else None)


@effect
def seen_in(batch: Batch, event: ev.SeenIn, at: str) -> Batch:
    line = batch.lines[event.line]
    loads = list(line.loads)
    residue = event.residue_g
    for n in reversed(range(len(loads))):
        load = loads[n]
        if load.tipped and not load.seen_in and (event.second or load.vessel == event.vessel):
            found = load.residue_g if load.residue_g is not None else residue
            loads[n] = replace(load, seen_in=True, residue_g=found)
            residue = None  # what clings to a vessel is that of its last load
    return with_line(batch, event.line, loads=tuple(loads))


@effect
def tipped_unaccepted(batch: Batch, event: ev.TippedUnaccepted, at: str) -> Batch:
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
        seen_in=event.residue_g is not None or event.by_hand is not None,
        worth=batch.worth,
    )
    return with_line(
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
        gone=_less(line.gone, line.short_g),
    )


@effect
def tipped_in_word(batch: Batch, event: ev.TippedInWord, at: str) -> Batch:
    """What was accepted stands again; the weighing of what was not goes on, its vessel lifted."""
    line = batch.lines[event.line]
    said = line.last_said_tipped
    loads = tuple(
        replace(load, tipped=False, tipped_at=None, residue_g=None) if load in said else load
        for load in line.loads
        if load not in said or load.was_accepted
    )
    doubts = line.doubts
    if event.doubted and event.content_g is not None:
        doubts = (*doubts, Doubt(event.content_g, event.division_g, event.lot, batch.worth))
    in_the_mix = [load for load in loads if load.tipped]
    batch = with_line(
        batch,
        event.line,
        loads=loads,
        doubts=doubts,
        unaccepted=any(not load.was_accepted for load in in_the_mix),
        judged=bool(loads),
    )
    if event.tare_g is None or event.on is None:
        return batch
    tare = Tare(event.on, event.division_g, event.vessel, event.tare_g, "")
    gross = event.tare_g + (event.content_g or Decimal(0))
    lifted = ev.Lifted(event.line, event.on, gross, "")
    return with_line(batch, event.line, tare=tare, lifted=lifted, seen_g=gross)


@effect
def void_asked(batch: Batch, event: ev.VoidAsked, at: str) -> Batch:
    return with_line(batch, event.line, voiding=event)


@effect
def voided(batch: Batch, event: ev.Voided, at: str) -> Batch:
    line = batch.lines[event.line]
    kept = tuple(load for load in line.loads if not _in(load, event.vessel))
    here = line.tare is not None and line.tare.vessel == event.vessel
    left = any(not load.tipped for load in kept) or (line.tare is not None and not here)
    same = len(kept) == len(line.loads)  # a top-up voided changes no acceptance
    batch = with_line(
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
        doubt = Doubt(event.content_g, division, event.lot, batch.worth)
        batch = with_line(batch, event.line, doubts=(*line.doubts, doubt))
    if not here:
        return batch
    settled = event.second is not None and not event.doubted
    gone = () if settled else _less(line.gone, line.short_g)
    return with_line(batch, event.line, tare=None, lifted=None, gone=gone)


@effect
def doubt_settled(batch: Batch, event: ev.DoubtSettled, at: str) -> Batch:
    return with_line(batch, event.line, doubts=(), gone=())


@effect
def reopened(batch: Batch, event: ev.Reopened, at: str) -> Batch:
    line = batch.lines[event.line]
    last = line.loads[-1]
    tare = Tare(last.scale or "", last.division_g, last.vessel, last.tare_g, last.tare_raw)
    lifted = ev.Lifted(event.line, event.scale, last.gross_g, "")
    return with_line(
        batch,
        event.line,
        loads=line.loads[:-1],
        tare=tare,
        lifted=lifted,
        seen_g=last.gross_g,
        accepted=None,
    )


@effect
def overpoured(batch: Batch, event: ev.Overpoured, at: str) -> Batch:
    return with_line(batch, event.line, over_g=event.net_g)


@effect
def meat_ended(batch: Batch, event: ev.MeatEnded, at: str) -> Batch:
    return with_meat(batch, event.line, ended=True)


@effect
def jar_weighed(batch: Batch, event: ev.JarWeighed, at: str) -> Batch:
    return with_line(batch, event.line, jars=(*batch.lines[event.line].jars, event))


def _in(load: Load, vessel: str | None) -> bool:
    return not load.tipped and load.vessel == vessel
