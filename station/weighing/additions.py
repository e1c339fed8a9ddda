"""One addition, by its key: what it answers, arms, accepts or ends."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.line import Line
from station.batch.progress import lacking
from station.pan.view import Pan, Settled
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing.acceptance import accept_sum, key_first, load_of, pour_ended
from station.weighing.commands import Decision, Refusal
from station.weighing.facts import Facts
from station.weighing.jar import jar_proves
from station.weighing.lots import must_fit
from station.weighing.people import second_person
from station.weighing.sight import Look, refuse_if_blocked

_EXPLAINED = frozenset({"jump", "away", "swapped", "missing"})
"""Questions that the key answers with yes."""


def must_be_open_to(facts: Facts, line: Line) -> None:
    """Raise unless a weighing of this line may go on now."""
    batch = facts.open_batch()
    if line.voiding is not None:
        raise Refusal(
            "voiding",
            f"{line.name} is to be voided",
            "empty its vessel and put it on the scale",
            line.name,
        )
    done = line.accepted is not None or line.unaccepted
    if done and line.tare is None and not lacking(batch, line):
        last = line.loads[-1]
        where = "in the mix" if last.tipped else f"standing in {last.vessel or 'its vessel'}"
        raise Refusal(
            "blocked-again",
            f"{line.name} was weighed already by {last.who} at {last.at[11:16]} UTC"
            f" ({plain(line.actual_g)} g, {where})",
            "go on with the next line",
            line.name,
        )
    turn = facts.current
    if turn != line.name:
        what = f"the turn is {turn}'s" if turn else "nothing is left to weigh"
        raise Refusal(
            "not-its-turn", f"{line.name}: {what}", f"go on with {turn or 'close'}", line.name
        )
    if facts.phase == "additions" and facts.unopened:
        wanted = facts.unopened[0]
        step = "open it with the strength on the bag"
        raise Refusal("no-lot", f"the lot of {wanted} is not open", step, wanted)
    if line.lot is not None and batch.regulated(line.name):
        must_fit(line, line.lot.lot)


def _under_way(look: Look) -> tuple[Pan, Settled, Decimal]:
    """Pan, settled weight and sum so far of a weighing that may be decided. Raises `Refusal`."""
    line = look.line
    must_be_open_to(look.facts, line)
    refuse_if_blocked(look.troubles, line.name)
    assert look.pan is not None
    scale = look.pan.scale.name
    if line.tare is None:
        what = f"{line.name} has no vessel on {scale} yet"
        raise Refusal("no-vessel-on", what, "set an empty one down and wait", line.name)
    if look.settled is None or look.settled_g is None:
        what = f"{scale} is not settled with the vessel on"
        raise Refusal("not-settled", what, "wait", line.name)
    return look.pan, look.settled, look.settled_g


def accept(look: Look, command: do.Accept) -> Decision:
    """The key: it explains a jump or a lighter vessel, arms the lift of a cure, takes a weight onto
    the mix, takes as weighed, or ends a load of several."""
    batch, line = look.batch, look.line
    if command.second is not None:
        return _second_saw(look, command.second)
    if line.tare is not None and (explained := _explain(look)):
        return explained
    pan, settled, net = _under_way(look)
    limits, d = look.limits(), pan.scale.division_g
    shown_net = f"{shown(net, d)} g"
    if limits.accepts(net):
        if look.facts.onto(line.name):
            return _with_pour(look, accept_sum(look, settled, Decimal(0), keyed=True))
        if key_first(batch, line):
            return Decision(answer=f"{line.name} {shown_net}: now lift it off", key=pan.scale.name)
    if command.as_weighed:
        return _as_weighed(look, pan, settled)
    if limits.accepts(net):
        what, step = f"{line.name} {shown_net} is in band", "lift it off: that accepts"
        raise Refusal("lift", what, step, line.name)
    if net > limits.accept_upper:
        over = shown(net - Decimal(limits.accept_upper), d)
        raise Refusal("over", f"{line.name} is {over} g over", "take some out", line.name)
    if look.choice is not None and look.choice.loads > 1:
        return end_load(look)
    missing = shown(Fraction(limits.accept_lower - net), d)
    raise Refusal("under", f"{line.name} needs {missing} g more", "pour on", line.name)


def _second_saw(look: Look, second: str) -> Decision:
    """Somebody else saw where it went that left the vessel: it is not in the mix."""
    batch, line = look.batch, look.line
    second_person(batch, line.name, second, f"what left the vessel of {line.name}")
    if not line.in_doubt:
        what = f"nothing of {line.name} is in doubt"
        raise Refusal("no-doubt", what, "accept it alone", line.name)
    settled = ev.DoubtSettled(line.name, "second person", "seen", batch.who, second)
    answer = f"{second} saw where {plain(line.in_doubt_g)} g of {line.name} went"
    return Decision((settled,), happened=True, answer=answer)


def _as_weighed(look: Look, pan: Pan, settled: Settled) -> Decision:
    line = look.line
    if look.batch.guarded(line.name):
        what = f"{line.name} is never taken out of its band"
        raise Refusal("never-as-weighed", what, "pour on, take out, or void", line.name)
    if line.tare is None or settled.gross_g - line.tare.tare_g <= pan.scale.near_g:
        raise Refusal("nothing-in", f"no {line.name} is in the vessel", "pour first", line.name)
    return _with_pour(look, accept_sum(look, settled, Decimal(0), keyed=True, as_weighed=True))


def _explain(look: Look) -> Decision | None:
    """A key that answers what the station asked; it accepts nothing yet."""
    batch, line, pan = look.batch, look.line, look.pan
    asked = {t.asks for t in look.troubles if t.asks != "doubt" and t.reason != "unfit"}
    if not asked or not asked <= _EXPLAINED or pan is None or pan.settled is None:
        return None
    gross = pan.settled.gross_g
    if asked & {"away", "swapped"}:  # the vessel first, what was set down after that
        same, scale = ev.SameVessel(line.name, gross, batch.who), pan.scale.name
        if "swapped" not in asked:  # whether it weighs like another vessel is asked after that
            return Decision((same,), answer="it is as it was", gap_explained=scale)
        return Decision((same,), answer="it is the vessel of this weighing", same=scale)
    if asked == {"jump"} and pan.jump:
        event = ev.JumpExplained(line.name, gross - pan.jump.before_g, batch.who)
        answer = "it belongs in: wait until it settles"
        return Decision((event,), answer=answer, explained=pan.scale.name)
    if asked == {"missing"} and line.lifted:
        missing = line.lifted.gross_g - gross
        doubted = batch.limited(line.name) and not jar_proves(line, missing)
        doubted = doubted and not batch.opened.ahead  # there is no mix that it may be in
        back = ev.TakenBack(line.name, missing, gross, batch.who, doubted=doubted)
        answer = "it went back, not into the mix"
        if doubted:
            answer += ": weigh its jar, or accept with a second person who saw it"
        return Decision((back,), happened=True, answer=answer)
    return None


def end_load(look: Look, lot: str | None = None, expires: str | None = None) -> Decision:
    """End a load before the last one; with `lot` the vessel stays on for another bag."""
    pan, settled, net = _under_way(look)
    batch, line = look.batch, look.line
    load = load_of(look, settled, Decimal(0), stays=lot is not None)
    if load.net_g < pan.scale.min_g:
        raise Refusal(
            "under-min",
            f"a load of {shown(load.net_g, pan.scale.division_g)} g is under Min",
            f"Min of {pan.scale.name} is {pan.scale.min_g} g: pour on",
            line.name,
        )
    if net > look.limits(2).accept_upper:
        raise Refusal("over", f"{line.name} is over already", "take some out", line.name)
    if look.limits().accepts(net):
        step = "lift it off: that accepts, no load to end"
        raise Refusal("lift", f"{line.name} is in band", step, line.name)
    events: tuple[ev.Event, ...] = (load, *pour_ended(look))
    if lot is not None:
        events += (ev.BagChanged(line.name, lot, batch.who, expires),)
    return Decision(events, answer=f"load of {shown(load.net_g, pan.scale.division_g)} g ended")


def _with_pour(look: Look, decision: Decision) -> Decision:
    return replace(decision, events=(*decision.events, *pour_ended(look)))
