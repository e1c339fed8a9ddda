"""What the pan has shown of an addition: its vessel, what is in it, that it was lifted."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.line import Line
from station.batch.plan import mix_g
from station.batch.state import Batch, Portion
from station.metrology.scale import Scale
from station.pan.view import Lift, Settled
from station.weighing import commands as do
from station.weighing.acceptance import accept_sum, key_first, pour_ended
from station.weighing.blocked import came_back_whole
from station.weighing.commands import Decision
from station.weighing.deciders import decides
from station.weighing.sight import Look, Sight
from station.weighing.vessels import EmptyVessel, Portioned, SeenTipped, identify, seen_in


@decides
def see_load(sight: Sight, command: do.SeeLoad) -> Decision:
    """Something settled on a pan without a tare: take the tare, or see that a vessel was tipped."""
    batch, facts = sight.facts.open_batch(), sight.facts
    scale, settled = sight.pans[command.scale].scale, command.settled
    line = facts.turn
    choice = sight.choice(line.name) if line else None
    if choice is None or choice.scale.name != command.scale:
        line = None  # the load is on another pan: only a tipped vessel matters there
    if line is not None and facts.onto(line.name):
        if settled.gross_g < mix_g(batch) / 2:
            return Decision()
        return Decision((_tared(line, scale, None, settled, onto_mix=True),))
    seen = identify(facts, scale, settled.gross_g, line.name if line else None)
    if isinstance(seen, Portioned) and line is not None:
        return Decision((_portion_used(seen.portion, line, settled, batch.who),))
    if isinstance(seen, SeenTipped) and batch.opened.ahead:
        return Decision((_emptied(batch, seen),), happened=True)
    if isinstance(seen, SeenTipped):
        tipped = ev.Tipped(seen.line, seen.vessel, seen.residue_g, scale.name, batch.who)
        return Decision((tipped,), happened=True)
    if isinstance(seen, EmptyVessel) and line is not None:
        return Decision((_tared(line, scale, seen.name, settled),))
    return Decision()


def _portion_used(portion: Portion, line: Line, settled: Settled, who: str) -> ev.PortionUsed:
    """Its tare is that with which it was weighed ahead."""
    return ev.PortionUsed(
        line=line.name,
        vessel=portion.vessel,
        scale=portion.scale,
        division_g=portion.division_g,
        tare_g=portion.tare_g,
        tare_raw=portion.tare_raw,
        gross_g=settled.gross_g,
        raw=settled.raw,
        of=portion.batch,
        who=who,
        lot=portion.lot,
    )


def _emptied(batch: Batch, seen: SeenTipped) -> ev.Voided:
    """A bag that was weighed ahead came back empty: there is no mix that it could be in."""
    loads = [load for load in batch.lines[seen.line].standing if load.vessel == seen.vessel]
    net = sum((load.net_g or Decimal(0) for load in loads), Decimal(0))
    return ev.Voided(seen.line, seen.vessel, "its bag came back empty", net, batch.who)


@decides
def see_other_vessel(sight: Sight, command: do.SeeOtherVessel) -> Decision:
    """Its tare is taken instead."""
    line, scale = sight.facts.addition(command.line), sight.pans[command.scale].scale
    return Decision((_tared(line, scale, command.vessel, command.settled),))


def _tared(
    line: Line, scale: Scale, vessel: str | None, settled: Settled, onto_mix: bool = False
) -> ev.Tared:
    return ev.Tared(
        line.name, scale.name, scale.division_g, vessel, settled.gross_g, settled.raw, onto_mix
    )


@decides
def see_lift(sight: Sight, command: do.SeeLift) -> Decision:
    """The vessel was lifted: that accepts, if all that was shown before it was right."""
    batch = sight.facts.open_batch()
    line = batch.lines[command.line]
    look, pan = sight.look(line), sight.pans[command.scale]
    lift = pan.lift
    if lift is None or line.tare is None:
        return Decision()
    if batch.limited(line.name) and (elsewhere := _elsewhere(look)):
        return Decision((elsewhere,), happened=True)
    poured = lift.held.gross_g - line.tare.tare_g
    if lift.last_g is not None and poured <= pan.scale.near_g:  # lifted before it ever settled
        unsettled = ev.Lifted(line.name, pan.scale.name, lift.last_g, "", unsettled=True)
        return Decision((unsettled,), happened=True)
    if poured <= pan.scale.near_g and line.lifted is None:
        return Decision()  # an empty vessel, lifted to be filled
    net = poured + line.actual_g - lift.stayed_g
    lighter = line.lifted is not None and (
        line.lifted.gross_g - lift.held.gross_g > pan.scale.near_g
        and not came_back_whole(batch, line, lift.placed_g, pan.scale)
    )
    believed = (
        lift.at_once
        and lift.last_g is None
        and not lift.jumped
        and not pan.troubles
        and not look.lifted_wrong()  # lighter, too
    )
    keyed = lift.keyed or not key_first(batch, line)
    fit = look.limits().accepts(net) and not (batch.guarded(line.name) and look.unfit)
    if believed and keyed and fit and line.voiding is None:
        accepted = accept_sum(look, lift.held, lift.stayed_g, keyed=lift.keyed)
        return Decision((*accepted.events, *pour_ended(look), *_spilt(line, lift)))
    if lighter:
        return Decision()  # still to be answered: what was lifted first counts
    return only_lifted(sight, command)


def only_lifted(sight: Sight, command: do.SeeLift) -> Decision:
    """The vessel was lifted, and nothing is accepted by it."""
    line, pan = sight.facts.addition(command.line), sight.pans[command.scale]
    lift = pan.lift
    assert lift is not None
    lifted = ev.Lifted(line.name, pan.scale.name, lift.held.gross_g, lift.held.raw)
    if lift.last_g is not None:
        lifted = ev.Lifted(line.name, pan.scale.name, lift.last_g, "", unsettled=True)
    return Decision((lifted, *_spilt(line, lift)), happened=True)


def _spilt(line: Line, lift: Lift) -> tuple[ev.Event, ...]:
    """What stayed on the pan."""
    return (ev.Spilt(line.name, lift.stayed_g),) if lift.stayed_g > 0 else ()


def _elsewhere(look: Look) -> ev.PouredElsewhere | None:
    """What went into another vessel than that of the weighing, which was lifted off with it."""
    pan = look.pan
    lift = pan.lift if pan else None
    if pan is None or lift is None or lift.placed_g is None:
        return None
    if all(trouble.asks == "missing" for trouble in look.lifted_wrong()):
        return None  # its own vessel
    content = lift.held.gross_g - (lift.recorded_g or lift.placed_g)
    if content <= pan.scale.near_g:
        return None
    return ev.PouredElsewhere(look.line.name, pan.scale.name, content, lift.held.raw)


@decides
def see_poured_elsewhere(sight: Sight, command: do.SeePouredElsewhere) -> Decision:
    """Keep what settled in another vessel than that of the weighing: a power cut must not lose
    it."""
    look = sight.look(sight.facts.addition(command.line))
    if look.pan is None or look.pan.settled is None:
        return Decision()
    content, raw = look.poured_elsewhere_g, look.pan.settled.raw
    return Decision((ev.PouredElsewhere(command.line, command.scale, content, raw),), happened=True)


@decides
def see_gap(sight: Sight, command: do.SeeGap) -> Decision:
    """The weight changed while nobody saw: what was last on the pan is recorded."""
    pan = sight.pans[command.scale]
    if pan.gap_from_g is None:
        return Decision()
    lifted = ev.Lifted(command.line, pan.scale.name, pan.gap_from_g, "")
    return Decision((lifted,), happened=True)


@decides
def see_content(sight: Sight, command: do.SeeContent) -> Decision:
    """Keep what settled in the vessel of a limited line: after a restart it is asked about, and
    what left the vessel counts for the most until somebody else saw where it went."""
    line = sight.facts.addition(command.line)
    if line.tare is None:
        return Decision()
    gross, raw = command.settled.gross_g, command.settled.raw
    return Decision((ev.ContentSeen(line.name, line.tare.scale, gross, raw),), happened=True)


@decides
def see_in(sight: Sight, command: do.SeeIn) -> Decision:
    """The vessel of what one person called tipped came back empty: that is more than a word."""
    pan, batch = sight.pans[command.scale], sight.facts.open_batch()
    found = seen_in(sight.facts, pan)
    if found is None or pan.settled is None:
        return Decision()
    line, load = found
    residue = max(pan.settled.gross_g - load.tare_g, Decimal(0))
    seen = ev.SeenIn(line.name, load.vessel, residue, pan.scale.name, batch.who)
    return Decision((seen,), happened=True)


@decides
def see_over(sight: Sight, command: do.SeeOver) -> Decision:
    """Settled over the upper limit: recorded once for each new high."""
    look = sight.look(sight.facts.addition(command.line))
    line, pan = look.line, look.pan
    if line.tare is None or pan is None:
        return Decision()
    if line.over_g is not None and command.net_g <= line.over_g + pan.scale.near_g:
        return Decision()
    upper = look.limits().accept_upper
    return Decision((ev.Overpoured(line.name, command.net_g, upper),))
