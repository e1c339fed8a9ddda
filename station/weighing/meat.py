"""The meat: loads taken by a key, the end of a line, meat taken out again."""

from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.lawful import breaches
from station.batch.line import MeatLine
from station.batch.preview import line_warnings
from station.batch.progress import phase
from station.batch.state import Batch, Vessel
from station.batch.way_back import too_much
from station.formula.bands import MEAT
from station.pan.view import Pan
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.leftovers import must_have_room, rework_warnings
from station.weighing.sight import Sight, refuse_if_blocked
from station.weighing.tubs import (
    ask_if_like,
    must_be_free,
    must_be_the_one_named,
    not_again,
    since_counted,
)

PLAN_TOLERANCE = Fraction(5, 100)
"""Meat further off the plan than this is asked about: every target and limit hangs on it."""


def may_take(batch: Batch, meat: MeatLine) -> None:
    """Raise unless a load of this meat may be taken now: before its end, until a limited line is in
    the mix, on hold, and where more of something is in than the meat bears; never once some of it
    is filled."""
    if batch.opened.ahead:
        what = "it is weighed ahead: the meat comes with its own batch"
        raise Refusal("ahead", what, "close it, and open a batch", meat.name)
    if batch.sampled_g and batch.required:
        what = "a sample has left: what the law requires cannot be worked out with more meat"
        raise Refusal("sampled", what, "leave it out", meat.name)
    if batch.apart is not None:
        raise Refusal("filled", batch.apart, "leave it out", meat.name)
    cured = any(
        batch.limited(line.name) and any(load.tipped for load in line.loads)
        for line in batch.lines.values()
    )
    if meat.ended and cured and phase(batch) != "on hold" and not too_much(batch):
        raise Refusal(
            "meat-ended",
            f"{meat.name} is ended",
            "with the cure in, more meat is the way back from too much only",
            meat.name,
        )


def weigh(sight: Sight, meat: MeatLine) -> tuple[Pan, Vessel]:
    """The pan and tub of this line, settled and believed. Raises `Refusal`."""
    pan = sight.meat_pan(meat)
    if pan is None:
        raise Refusal("no-scale", "no scale for the meat", "check station.toml", meat.name)
    refuse_if_blocked(pan.troubles, meat.name)
    if meat.tub is None:
        raise Refusal("no-tub", "which tub is the meat in?", "say use TUB first", meat.name)
    must_be_free(sight.station, meat.tub, meat)
    must_be_the_one_named(sight, meat)
    if pan.foreign:
        what = f"what is on {pan.scale.name} was there with another batch"
        raise Refusal("same-load", what, "lift it off first", meat.name)
    if pan.settled is None or not pan.loaded:
        raise Refusal(
            "not-settled",
            f"{pan.scale.name} is not settled with a load",
            "wait, then press again",
            meat.name,
        )
    return pan, sight.station.vessels[meat.tub]


def accept(sight: Sight, meat: MeatLine, sure: bool = False) -> Decision:
    """Take a load while settled; while the tub stays on, the difference to the last one."""
    station, batch = sight.station, sight.facts.open_batch()
    may_take(batch, meat)
    pan, tub = weigh(sight, meat)
    assert pan.settled is not None
    gross = pan.settled.gross_g
    tare = tub.empty_g
    not_again(station, batch, pan, tub, meat)
    if (counted := batch.counted.get(tub.name)) is not None:
        tare = since_counted(pan, tub, counted, meat)
    net = gross - tare
    if net < max(pan.scale.near_g, pan.scale.min_g if tare == tub.empty_g else Decimal(0)):
        raise Refusal(
            "too-light",
            f"{shown(net, pan.scale.division_g)} g is no load of meat",
            f"Min of {pan.scale.name} is {pan.scale.min_g} g: put more in",
            meat.name,
        )
    must_have_room(station, batch, meat, net, sight.at)
    if not sure:
        ask_if_like(station, batch, pan, tub, meat, net)
    event = ev.MeatWeighed(
        meat.name,
        net,
        gross,
        tare,
        pan.scale.name,
        pan.scale.division_g,
        tub.name,
        batch.who,
        pan.settled.raw,
        lot=meat.lot,
    )
    return Decision((event,), answer=f"{shown(net, pan.scale.division_g)} g of {meat.name}")


def end(sight: Sight, meat: MeatLine, sure: bool) -> Decision:
    """End the line. One that is far off its share is asked about at once, and after the last one
    the block is compared with the plan."""
    station, batch = sight.station, sight.facts.open_batch()
    really = Offer("end", {"line": meat.name, "sure": True}, "done", danger=True)
    if meat.ended and phase(batch) != "on hold":
        raise Refusal("meat-ended", f"{meat.name} is ended already", "go on", meat.name)
    if meat.net_g <= 0 and not sure:
        raise Refusal(
            "no-meat",
            f"no {meat.name} was weighed",
            "weigh it, or end it all the same",
            meat.name,
            [really],
        )
    last = all(other.ended for other in batch.meats.values() if other.name != meat.name)
    plan = batch.plan_g
    if plan and not sure and not last and (off_share := _off_share(batch, meat, plan)):
        step = "a tub forgotten, or counted twice? if it is right, end it again"
        raise Refusal("off-share", f"{off_share} of the plan", step, meat.name, [really])
    events: list[ev.Event] = [ev.MeatEnded(meat.name, meat.net_g, batch.who, sure)]
    if last:
        if batch.meat_g <= 0:
            raise Refusal("no-meat", "no meat at all was weighed", "weigh the meat", meat.name)
        if not sure and (doubt := _doubt_of_all(batch)) is not None:
            raise Refusal(*doubt, meat.name, [really])
        events += [*share_warnings(batch), *rework_warnings(batch), *line_warnings(station, batch)]
    return Decision(tuple(events), answer=f"{plain(meat.net_g)} g of {meat.name}")


def _doubt_of_all(batch: Batch) -> tuple[str, str, str] | None:
    """Why a person is asked whether the meat is right, as code, sentence and next step; None where
    it is near the plan."""
    meat_g = plain(batch.meat_g)
    if not batch.opened.plan_g:
        off_shares = [_off_share(batch, meat, batch.meat_g) for meat in batch.meats.values()]
        what = "; ".join([f"{meat_g} g of meat: is that all?", *filter(None, off_shares)])
        return "all-meat", what, "weigh the rest, or end it again"
    off = Fraction(batch.meat_g) / Fraction(batch.opened.plan_g) - 1
    if abs(off) <= PLAN_TOLERANCE:
        return None
    what = f"{meat_g} g of meat is {plain(round(abs(off) * 100, 1))} %"
    what += f" {'more' if off > 0 else 'less'} than the plan's {plain(batch.opened.plan_g)} g"
    return "off-plan", what, "a tub counted as meat? if it is right, end it again"


def share_warnings(batch: Batch) -> list[ev.Event]:
    """A word for each meat line whose share is outside its band; it never blocks."""
    warnings: list[ev.Event] = []
    for meat in batch.meats.values():
        if (off := _off_share(batch, meat, batch.meat_g)) is not None:
            warnings.append(ev.Warned(meat.name, "share", f"{off} of the meat"))
    return warnings


def _off_share(batch: Batch, meat: MeatLine, of_g: Decimal | Fraction) -> str | None:
    """What share of so many grams the line is, as words, where that is outside its band."""
    band, share = batch.opened.bands[MEAT], Fraction(meat.meat_g) / Fraction(of_g)
    low = Fraction(meat.share) - Fraction(band.lower or 0)
    high = Fraction(meat.share) + Fraction(band.upper or 0)
    if low <= share <= high:
        return None
    found, meant = plain(round(share * 100, 1)), plain(meat.share * 100)
    return f"{meat.name}, {meant} % by the formula, is {found} %"


def _leaves(meat: MeatLine) -> str | None:
    """The lot of what leaves a line: none of several, and no leftover, for that stays in."""
    lots = {load.lot for load in meat.loads if load.net_g > 0}
    return meat.lot if lots == {meat.lot} else None


@decides
def take_out(sight: Sight, command: do.TakeMeatOut) -> Decision:
    """Weigh what leaves the block, until a limited line is in the mix. What stands is judged anew:
    a limited line that the smaller block no longer allows is to be voided."""
    batch, meat = sight.facts.open_batch(), sight.facts.meat(command.line)
    for line in batch.lines.values():
        if batch.limited(line.name) and any(load.tipped for load in line.loads):
            raise Refusal(
                "cure-is-in",
                f"{line.name} is in the mix: meat that leaves now takes some along",
                "leave the meat in",
                meat.name,
            )
    if meat.reworked:
        what = f"what is left of another batch is in it: some of that would leave with {meat.name}"
        raise Refusal("leftover-is-in", what, "leave the meat in", meat.name)
    if batch.apart is not None:
        raise Refusal("filled", batch.apart, "leave the meat in", meat.name)
    pan, tub = weigh(sight, meat)
    assert pan.settled is not None
    net = pan.settled.gross_g - tub.empty_g
    last = batch.last_meat
    if pan.stayed_on and last is not None and last.net_g < 0:
        raise Refusal(
            "same-load", "this meat has left the block already", "lift it off first", meat.name
        )
    if net < pan.scale.near_g or net > meat.net_g:
        raise Refusal(
            "not-in-block",
            f"{shown(net, pan.scale.division_g)} g of {meat.name} cannot leave",
            f"{plain(meat.net_g)} g were weighed in",
            meat.name,
        )
    event = ev.MeatWeighed(
        meat.name,
        -net,
        pan.settled.gross_g,
        tub.empty_g,
        pan.scale.name,
        pan.scale.division_g,
        tub.name,
        batch.who,
        pan.settled.raw,
        lot=_leaves(meat),
    )
    after = evolve(sight.station, event, sight.at, batch.id).batch
    assert after is not None
    events: list[ev.Event] = [event]
    if breaches(after):
        events += [
            ev.VoidAsked(line.name, "meat was taken out", batch.who)
            for line in after.lines.values()
            if after.limited(line.name) and line.standing
        ]
    return Decision(tuple(events), happened=True, answer=f"{plain(net)} g taken out")
