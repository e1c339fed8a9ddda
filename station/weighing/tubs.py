"""Tubs of meat: which one is it, what does it hold, is it empty, is its load counted already."""

from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.cups import held_in
from station.batch.line import MeatLine
from station.batch.state import Batch, Station, Vessel
from station.pan.view import Pan
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight
from station.weighing.vessels import like_record

ALIKE = Decimal("0.02")
"""Two loads of meat nearer than this to each other may be one (common practice: trimming)."""


def must_be_free(station: Station, tub: str, meat: MeatLine) -> None:
    """Raise for a tub that holds something else, or meat of a parked batch."""
    content = held_in(station, tub)
    for other in station.parked.values():
        if tub in other.counted:
            content = f"meat of {other.id}"
    if content:
        step = "show it empty, or use another"
        raise Refusal("vessel-taken", f"{tub} holds {content}", step, meat.name)


def tubs_like(sight: Sight, meat: MeatLine) -> list[str]:
    """The free tubs on record that weigh what has settled on the meat's pan, as it was set down.
    A cup of the fine scale is none, whatever it weighs: a ladle would be taken for it."""
    pan = sight.meat_pan(meat)
    if pan is None or pan.troubles or pan.foreign or not pan.loaded:
        return []
    if pan.placed_g is None:
        return []
    placed = pan.placed_g
    tubs = [tub for tub in sight.facts.free if tub.division_g == pan.scale.division_g]
    return [tub.name for tub in tubs if like_record(tub, placed, pan.scale, None, True)]


def other_tub(sight: Sight, meat: MeatLine) -> str | None:
    """The tub that was set down where another was named for the line, by its empty weight."""
    batch, found = sight.facts.open_batch(), tubs_like(sight, meat)
    if meat.tub is None or meat.tub in found or meat.tub in batch.counted:
        return None
    return found[0] if found else None


def must_be_the_one_named(sight: Sight, meat: MeatLine) -> None:
    """Raise where another tub was set down than the one that was named for the line."""
    if (other := other_tub(sight, meat)) is not None and meat.tub is not None:
        what = f"this was set down as {other} empty, not {meat.tub}"
        step = f"use {other}, or use {meat.tub} if it is that one with meat in it"
        raise Refusal("other-tub", what, step, meat.name, which_tub(other, meat.tub))


def which_tub(other: str, named: str) -> list[Offer]:
    """The answers where a tub was set down that weighs like another, empty."""
    return [
        Offer("use", {"vessel": other}, danger=True, means=f"it is {other}"),
        Offer("use", {"vessel": named}, danger=True, means=f"it is {named}, with meat in it"),
    ]


def set_down(sight: Sight, pan: Pan) -> do.SeeTub | None:
    """The empty tub that has just been set down for the meat line whose turn it is, where one tub
    only weighs that much."""
    batch = sight.facts.open_batch()
    meat = batch.meats.get(sight.facts.current or "")
    if meat is None or meat.ended or sight.meat_pan(meat) is not pan or pan.settled is None:
        return None
    if meat.tub is not None and meat.tub not in batch.counted:
        return None
    found = tubs_like(sight, meat)
    if len(found) != 1 or found[0] == meat.tub:
        return None
    still = abs(pan.settled.gross_g - (pan.placed_g or Decimal(0))) <= pan.scale.near_g
    return do.SeeTub(meat.name, found[0]) if still else None


@decides
def see_tub(sight: Sight, command: do.SeeTub) -> Decision:
    """An empty tub is named by being set down."""
    return Decision((ev.VesselUsed(command.line, command.vessel),))


def ask_if_like(
    station: Station, batch: Batch, pan: Pan, tub: Vessel, meat: MeatLine, net_g: Decimal
) -> None:
    """Ask about a load that weighs like one in another tub that nobody has seen empty since (the
    same meat, a little trimmed, under another name?), that is in no tub of this scale (a slip of
    a key?), or that weighs like a vessel on record (no meat at all?)."""
    weight, near = f"{shown(net_g, pan.scale.division_g)} g", pan.scale.near_g
    really = Offer("accept", {"line": meat.name, "sure": True}, "accept", danger=True)
    loads = [load for other in batch.meats.values() for load in other.loads]
    for load in loads:
        if load.vessel == tub.name or load.vessel not in batch.counted or load.net_g <= 0:
            continue
        if abs(net_g - load.net_g) <= ALIKE * load.net_g:
            what = f"{weight} is like the {plain(load.net_g)} g in {load.vessel}"
            step = f"show {load.vessel} empty, or accept again if this is other meat"
            raise Refusal("like-load", what, step, meat.name, [really])
    for lot, kept in station.leftovers.items():
        same = kept.vessel == tub.name and abs(kept.gross_g - net_g - tub.empty_g) <= near
        if same and lot != meat.lot and kept.left_g > 0:
            what = f"{tub.name} weighs as when {lot} was kept in it"
            step = f"meat-lot names {lot}, or accept again if this is other meat"
            raise Refusal("leftover", what, step, meat.name, [really])
    if tub.division_g != pan.scale.division_g:
        what = f"{weight} of meat in {tub.name}, which was weighed empty on another scale"
        step = f"use the tub that it is, or accept again if it is {tub.name}"
        raise Refusal("strange-tub", what, step, meat.name, [really])
    for vessel in station.vessels.values():
        if like_record(vessel, net_g, pan.scale, None, limited=True):
            what = f"{weight} is what {vessel.name} weighs empty"
            step = f"take {vessel.name} off, or accept again if this is meat"
            raise Refusal("like-vessel", what, step, meat.name, [really])


def not_again(station: Station, batch: Batch, pan: Pan, tub: Vessel, meat: MeatLine) -> None:
    """Raise for what is on the pan and was counted already, under whatever name."""
    assert pan.settled is not None
    gross, last = pan.settled.gross_g, batch.last_meat
    for other in station.unfinished:
        for name, counted in other.counted.items():
            if abs(gross - counted) <= pan.scale.near_g:
                what = f"this load is counted, in {name}"
                if other.id != batch.id:
                    what += f" of {other.id}"
                raise Refusal("same-load", what, "empty the tub, or end", meat.name)
    if pan.stayed_on and last is not None and (last.vessel != tub.name or last.net_g < 0):
        raise Refusal(
            "same-load",
            f"what is on {pan.scale.name} was weighed as {last.vessel} already",
            "lift it off first",
            meat.name,
        )


def since_counted(pan: Pan, tub: Vessel, counted: Decimal, meat: MeatLine) -> Decimal:
    """The tare of a tub that was counted before: its last gross, if it never left the pan."""
    if not pan.stayed_on:
        raise Refusal(
            "tub-not-empty",
            f"was {tub.name} emptied? It was counted at {shown(counted, pan.scale.division_g)} g",
            "show it empty on the scale first, or use another tub's name",
            meat.name,
        )
    return counted


def seen_tub(sight: Sight, pan: Pan) -> do.SeeTubEmpty | None:
    """A counted tub that is seen empty on this pan now may count again, one of a parked batch
    too."""
    station = sight.station
    if pan.settled is None or pan.troubles:
        return None
    if any(line.tare and line.tare.scale == pan.scale.name for line in sight.facts.under_way):
        return None
    if sight.facts.counted_on(pan.scale.name) is not None:
        return None
    for other in station.unfinished:
        for name in other.counted:
            load, tub = _last_in(other, name), station.vessels.get(name)
            if tub is None or load.scale != pan.scale.name:
                continue
            twins = [v for v in station.vessels.values() if v.name != name]
            if name != _tub_named(station.open) and any(
                like_record(twin, pan.settled.gross_g, pan.scale, None) for twin in twins
            ):
                continue  # it may be another one: a full tub must not count as seen empty
            share = Fraction(other.meats[load.line].share) * (other.plan_g or 0)
            if like_record(tub, pan.settled.gross_g, pan.scale, share):
                return do.SeeTubEmpty(load.line, name, pan.settled.gross_g, other.id)
    return None


@decides
def see_tub_empty(sight: Sight, command: do.SeeTubEmpty) -> Decision:
    """The tub may count again."""
    holder = sight.station.find(command.batch)
    if holder is None or command.vessel not in holder.counted:
        return Decision()
    return Decision((ev.TubEmptied(command.line, command.vessel, command.gross_g),))


def _tub_named(batch: Batch | None) -> str | None:
    """The tub of the meat line whose turn it is, else of the last one weighed."""
    if batch is None:
        return None
    for meat in batch.meats.values():
        if not meat.ended:
            return meat.tub
    return batch.last_meat.vessel if batch.last_meat else None


def _last_in(batch: Batch, tub: str) -> ev.MeatWeighed:
    """The last load that was counted in a tub."""
    loads = [load for meat in batch.meats.values() for load in meat.loads]
    return next(load for load in reversed(loads) if load.vessel == tub and load.net_g > 0)
