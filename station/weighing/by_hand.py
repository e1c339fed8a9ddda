"""A figure that a person read and typed: the scale's line is dead, or the power was out."""

from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.line import Line, MeatLine
from station.batch.progress import lacking
from station.batch.state import Batch, Station
from station.metrology.fitness import why_unfit
from station.metrology.scale import Scale
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing.acceptance import accepted, key_first
from station.weighing.additions import must_be_open_to
from station.weighing.commands import Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.facts import Facts
from station.weighing.leftovers import must_have_room
from station.weighing.meat import may_take
from station.weighing.offering import MORE_WENT_IN, more_went_in, went_in
from station.weighing.people import second_person
from station.weighing.sight import Pans, Sight
from station.weighing.tubs import must_be_free

DEAD = frozenset({"link", "stale", "error"})
"""Why a scale cannot be read at all; every other trouble is mended at the scale."""


@decides
def by_hand(sight: Sight, command: do.ByHand) -> Decision:
    """Take a typed net weight: judged like any other, marked wherever it is shown.

    What is in the mix already (`in_mix`, for meat what is minced already) is recorded whatever it
    is; everything else is refused while the scale itself can be read. A cure, every line with a
    hard limit, and the meat that limit hangs on want a second person.
    """
    batch, found, pans = sight.facts.open_batch(), sight.facts.line(command.line), sight.pans
    if batch.opened.ahead:
        what = "a bag that is weighed ahead is told by its weight: no figure is typed for it"
        raise Refusal("ahead", what, "wait for the scale, or weigh it on the day", found.name)
    scale = _scale(batch, command)
    if command.net_g <= 0:
        raise Refusal("bad-net", "a net weight is more than nothing", "say what was weighed in")
    if command.net_g > scale.max_g:
        raise Refusal(
            "over-max",
            f"{plain(command.net_g)} g is over Max of {scale.name}",
            "name the scale it was weighed on",
        )
    if command.net_g % scale.division_g:
        raise Refusal(
            "off-grid",
            f"{scale.name} cannot show {plain(command.net_g)} g",
            f"its division is {plain(scale.division_g)} g: read it again",
        )
    typed = ev.ByHand(command.reason, command.second)
    lines = [found] if isinstance(found, Line) else batch.lines.values()
    if command.second is not None or any(key_first(batch, line) for line in lines):
        second_person(batch, found.name, command.second, f"{found.name} by hand")
    if command.in_mix and isinstance(found, Line):
        return _in_mix(batch, found, scale, command, typed, pans)
    under_way = found.tare.scale if isinstance(found, Line) and found.tare else None
    for name in () if command.in_mix else dict.fromkeys((scale.name, under_way)):
        pan = pans.get(name or "")
        if pan is not None and not {trouble.reason for trouble in pan.troubles} & DEAD:
            step = "weigh it there"
            if pan.troubles:
                step = f"first: {pan.troubles[0].next}"
            raise Refusal("scale-is-well", f"{name} can be read", step, command.line)
    if isinstance(found, MeatLine):
        return _meat(sight, batch, found, scale, command, typed)
    return _accept(sight.facts, found, scale, command, typed, pans)


def _scale(batch: Batch, command: do.ByHand) -> Scale:
    for scale in batch.scales:
        if scale.name == command.scale:
            return scale
    names = ", ".join(scale.name for scale in batch.scales)
    raise Refusal("unknown-scale", f"no scale is named {command.scale}", f"one of {names}")


def _meat(
    sight: Sight,
    batch: Batch,
    meat: MeatLine,
    scale: Scale,
    command: do.ByHand,
    typed: ev.ByHand,
) -> Decision:
    """A load of meat in the tub that `use` named; its weight empty is on record."""
    may_take(batch, meat)
    tub = sight.station.vessels.get(meat.tub or "")
    if tub is None:
        raise Refusal("no-tub", "which tub is the meat in?", "say use TUB first", meat.name)
    must_be_free(sight.station, tub.name, meat)
    if not command.in_mix:
        must_have_room(sight.station, batch, meat, command.net_g, sight.at)
    counted = batch.counted.get(tub.name)
    if counted is not None and abs(counted - tub.empty_g - command.net_g) <= scale.near_g:
        what = f"{plain(command.net_g)} g in {tub.name} is counted"
        raise Refusal("same-load", what, "name another tub if it is another load", meat.name)
    event = ev.MeatWeighed(
        line=meat.name,
        net_g=command.net_g,
        gross_g=tub.empty_g + command.net_g,
        tare_g=tub.empty_g,
        scale=scale.name,
        division_g=scale.division_g,
        vessel=tub.name,
        who=batch.who,
        raw="",
        by_hand=typed,
        lot=meat.lot,
    )
    return Decision((event,), answer=f"{plain(command.net_g)} g of {meat.name}, by hand")


def _in_the_mix(command: do.ByHand) -> Offer:
    """The same figure, of what is in the mix already."""
    params = {"line": command.line, "net": f"{plain(command.net_g)} g", "scale": command.scale}
    params |= {"reason": command.reason, **({"second": command.second} if command.second else {})}
    return Offer("by-hand", {**params, "in_mix": True}, danger=True, means="it is in the mix")


def _in_mix(
    batch: Batch, line: Line, scale: Scale, command: do.ByHand, typed: ev.ByHand, pans: Pans
) -> Decision:
    """What is in the mix already, as a person read it."""
    if line.standing:
        step = "tip it: it was accepted"
        raise Refusal("stands", f"{line.name} stands, weighed", step, line.name)
    if line.loads and line.tare is None and not lacking(batch, line):
        what = f"{line.name} is in the mix already"
        raise Refusal("blocked-again", what, MORE_WENT_IN, line.name, [more_went_in(line.name)])
    seen = _seen_g(line, pans)
    if seen is not None and seen - command.net_g > scale.near_g:
        what = f"{plain(seen)} g of {line.name} were seen in its vessel"
        step = "say that it went in unaccepted: that records it"
        raise Refusal("seen-more", what, step, line.name, [went_in(line.name)])
    event = ev.TippedUnaccepted(
        line=line.name,
        net_g=command.net_g,
        residue_g=None,
        scale=scale.name,
        division_g=scale.division_g,
        vessel=line.tare.vessel if line.tare else line.used,
        lot=command.lot or (line.lot.lot if line.lot else None),
        who=batch.who,
        by_hand=typed,
    )
    answer = f"{plain(command.net_g)} g of {line.name} is in the mix, by hand"
    return Decision((event,), happened=True, answer=answer)


def _seen_g(line: Line, pans: Pans) -> Decimal | None:
    """The most that a scale has shown in the vessel of the weighing under way."""
    if line.tare is None:
        return None
    grosses = [line.lifted.gross_g] if line.lifted else []
    pan = pans.get(line.tare.scale)
    if pan is not None:
        grosses += [g for g in (pan.gap_from_g, pan.settled and pan.settled.gross_g) if g]
    return max(grosses) - line.tare.tare_g if grosses else None


def _accept(
    facts: Facts, line: Line, scale: Scale, command: do.ByHand, typed: ev.ByHand, pans: Pans
) -> Decision:
    batch = facts.open_batch()
    must_be_open_to(facts, line)
    limits = facts.limits(line.name, scale, 1)
    unfit = why_unfit(scale, limits, Fraction(command.net_g))
    if unfit and batch.guarded(line.name):
        raise Refusal(
            "blocked-unfit", f"{scale.name} is not fit: {unfit}", "use a finer scale", line.name
        )
    net = line.actual_g + command.net_g
    if not limits.accepts(net):
        side = "over" if net > limits.accept_upper else "under"
        low, high = (shown(g, scale.division_g) for g in (limits.accept_lower, limits.accept_upper))
        raise Refusal(
            side,
            f"{line.name} {plain(net)} g is {side} its limits, {low} to {high} g",
            "take out or pour on, and read it again; or it is in the mix",
            line.name,
            [_in_the_mix(command)],
        )
    vessel, tare = _vessel(facts.station, line)
    _not_seen_empty(facts.station, line, vessel, command.net_g, pans)
    load = ev.LoadWeighed(
        line=line.name,
        net_g=command.net_g,
        gross_g=tare + command.net_g if tare else Decimal(0),
        tare_g=tare or Decimal(0),
        spilt_g=Decimal(0),
        scale=scale.name,
        division_g=scale.division_g,
        vessel=vessel,
        lot=line.lot.lot if line.lot else None,
        who=batch.who,
        raw="",
        tare_raw="",
        by_hand=typed,
    )
    event = accepted(batch, line, limits, net, keyed=True, as_weighed=False)
    events = (*_taken_out(batch, line, scale, command, pans), load, event)
    return Decision(events, answer=f"{line.name} {plain(net)} g accepted, by hand")


def _taken_out(
    batch: Batch, line: Line, scale: Scale, command: do.ByHand, pans: Pans
) -> tuple[ev.Event, ...]:
    """What a scale saw in the vessel and the typed figure has not: it left it, and counts for the
    most like all that leaves a vessel of a limited line."""
    seen = _seen_g(line, pans)
    if line.tare is None or seen is None or not batch.limited(line.name):
        return ()
    if seen - command.net_g <= scale.near_g:
        return ()
    grosses = (line.tare.tare_g + net for net in (seen, command.net_g))
    return tuple(ev.ContentSeen(line.name, line.tare.scale, gross, "") for gross in grosses)


def _not_seen_empty(
    station: Station, line: Line, vessel: str | None, net_g: Decimal, pans: Pans
) -> None:
    """Raise if the vessel that is said to be full is on a scale that can be read, empty."""
    known = station.vessels.get(vessel or "")
    for pan in pans.values():
        if known is None or pan.troubles or pan.settled is None:
            continue
        near = 3 * max(pan.scale.division_g, known.division_g)
        if abs(pan.settled.gross_g - known.empty_g) <= near < net_g:
            what = f"{vessel} is on {pan.scale.name}, empty"
            raise Refusal("seen-empty", what, f"take it off, or weigh {line.name} there", line.name)


def _vessel(station: Station, line: Line) -> tuple[str | None, Decimal | None]:
    """(vessel, its weight empty), so that it is known when it comes back."""
    if line.tare is not None and not line.tare.onto:
        return line.tare.vessel, line.tare.tare_g
    used = station.vessels.get(line.used or "")
    return (None, None) if used is None else (used.name, used.empty_g)
