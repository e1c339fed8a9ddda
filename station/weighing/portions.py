"""Bags that were weighed ahead: one is named for a line, and topped up or used in part; or it is
thrown away."""

from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.line import Line
from station.batch.portions import waiting_for
from station.batch.state import Batch, Portion
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing import lots
from station.weighing.commands import Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.facts import Facts
from station.weighing.leftovers import discard_leftover
from station.weighing.sight import Sight


def uses(sight: Sight, line: Line, portion: Portion) -> tuple[ev.Event, ...]:
    """The events that name a bag for a line: its lot is opened with it. Raises `Refusal` for a bag
    of something else, or once the line is begun."""
    batch = sight.facts.open_batch()
    if portion not in waiting_for(sight.station, batch, line.name):
        what = f"{portion.vessel} holds {portion.content}, for {portion.formula}"
        raise Refusal("vessel-taken", what, "use another", line.name)
    if line.loads:
        what = f"{plain(line.actual_g)} g of {line.name} is weighed already"
        raise Refusal("begun", what, "use an empty vessel for the rest", line.name)
    named = ev.VesselUsed(line.name, portion.vessel)
    if portion.lot is None or (line.lot is not None and line.lot.lot == portion.lot):
        return (named,)
    day = max(sight.at[:10], sight.station.day)
    opened = do.OpenLot(line.name, portion.lot, portion.contains, portion.expires, day)
    return (*lots.open_lot(sight, opened).events, named)


def says(facts: Facts, line: Line, portion: Portion) -> str:
    """How much of a bag goes in, or what it lacks."""
    choice, d = facts.choice(line.name), portion.division_g
    held = f"holds {shown(portion.net_g, d)} g"
    if choice is None:
        return held
    limits = choice.limits
    if limits.accepts(portion.net_g):
        return f"{held}, as it should be"
    if portion.net_g > limits.accept_upper:
        return f"{held}, use {shown(limits.aim, d)} g of it"
    return f"{held}, top up {shown(Fraction(limits.aim) - Fraction(portion.net_g), d)} g"


def to_use(facts: Facts, batch: Batch, line: Line) -> list[Offer]:
    """To take a bag that was weighed ahead for a line that has no vessel yet."""
    if line.loads or line.used in facts.station.portions:
        return []
    return [
        Offer(
            "use",
            {"vessel": portion.vessel, "line": line.name},
            means=f"{portion.vessel} {says(facts, line, portion)}",
        )
        for portion in waiting_for(facts.station, batch, line.name)
    ]


@decides
def discard(sight: Sight, command: do.Discard) -> Decision:
    """A bag that was weighed ahead, or what is left of a batch, was thrown away."""
    portion = sight.station.portions.get(command.name)
    if portion is None:
        return discard_leftover(sight, command)
    who = sight.station.last_who
    if who is None:
        raise Refusal("no-person", "who throws it away?", "say who is at the bench")
    if any(ln.used == portion.vessel for b in sight.station.unfinished for ln in b.lines.values()):
        raise Refusal(
            "in-use", f"{portion.vessel} is named for a line", "name another vessel first"
        )
    net: Decimal = portion.net_g
    event = ev.PortionDiscarded(portion.vessel, portion.batch, net, command.reason, who)
    return Decision((event,), answer=f"{portion.vessel} holds nothing any more")
