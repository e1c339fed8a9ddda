"""One addition: vessel, pour, key, lift, loads. Everything before it is in the mix."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.plan import limits_on, mix_g, onto
from station.batch.progress import current, lacking, phase
from station.batch.state import Batch, Line, Station
from station.metrology.scale import Scale
from station.pan.view import Pan, Settled
from station.units import plain, shown, tidy
from station.weighing import commands as do
from station.weighing.acceptance import accept_sum, key_first, load_of
from station.weighing.blocked import (
    bench_choice,
    lifted_wrong,
    line_troubles,
    refuse_if_blocked,
)
from station.weighing.commands import Decision, Pans, Refusal
from station.weighing.lots import must_fit
from station.weighing.vessels import EmptyVessel, SeenTipped, held_in, identify


def unopened(batch: Batch) -> list[str]:
    """Regulated lines whose lot is not open, or has expired since: no strength, no weighing."""
    return [
        name for name, line in batch.lines.items() if batch.regulated(name) and _old(batch, line)
    ]


def _old(batch: Batch, line: Line) -> bool:
    """Whether a line still wants a bag that is open and in date."""
    if line.lot is None:
        return True
    expired = line.lot.expires is not None and line.lot.expires < batch.day
    done = line.accepted is not None or line.unaccepted
    return expired and not (done and not lacking(batch, line))


def use(station: Station, batch: Batch, line: Line, command: do.Use) -> Decision:
    """Name the vessel for the line."""
    if line.tare is not None:
        raise Refusal(
            "one-tare", f"{line.name} has its vessel already", "finish it, or void", line.name
        )
    if command.vessel not in station.vessels:
        raise Refusal(
            "no-vessel",
            f"no empty weight on record for {command.vessel}",
            f"set it down empty and say: vessel {command.vessel} SCALE",
            line.name,
        )
    if (content := held_in(station, command.vessel)) is not None:
        step = "tip it, or use another"
        raise Refusal("vessel-taken", f"{command.vessel} holds {content}", step, line.name)
    return Decision(
        (ev.VesselUsed(line.name, command.vessel),), answer=f"{command.vessel} for {line.name}"
    )


def see_load(
    station: Station, batch: Batch, line: Line | None, scale: Scale, settled: Settled, who: str
) -> Decision:
    """Something settled on a pan without a tare: take the tare, or see that a vessel was tipped."""
    if line is not None and onto(station, line.name):
        if settled.gross_g < mix_g(batch) / 2:
            return Decision()
        return Decision((_tared(line, scale, None, settled, onto_mix=True),))
    seen = identify(station, scale, settled.gross_g, line.name if line else None)
    if isinstance(seen, SeenTipped):
        return Decision(
            (ev.Tipped(seen.line, seen.vessel, seen.residue_g, scale.name, who),), happened=True
        )
    if isinstance(seen, EmptyVessel) and line is not None:
        return Decision((_tared(line, scale, seen.name, settled),))
    return Decision()


def _tared(
    line: Line, scale: Scale, vessel: str | None, settled: Settled, onto_mix: bool = False
) -> ev.Tared:
    return ev.Tared(
        line.name, scale.name, scale.division_g, vessel, settled.gross_g, settled.raw, onto_mix
    )


def must_be_open_to(batch: Batch, line: Line) -> None:
    """Raise unless a weighing of this line may go on now."""
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
    turn = current(batch)
    if turn != line.name:
        what = f"the turn is {turn}'s" if turn else "nothing is left to weigh"
        raise Refusal(
            "not-its-turn", f"{line.name}: {what}", f"go on with {turn or 'close'}", line.name
        )
    if phase(batch) == "additions" and (lots := unopened(batch)):
        raise Refusal(
            "no-lot",
            f"the lot of {lots[0]} is not open",
            "open it with the strength on the bag",
            lots[0],
        )
    if line.lot is not None and batch.regulated(line.name):
        must_fit(line, line.lot.lot)


def _under_way(
    station: Station, batch: Batch, line: Line, pans: Pans
) -> tuple[Pan, Settled, Decimal]:
    """Pan, settled weight and sum so far of a weighing that may be decided. Raises `Refusal`."""
    must_be_open_to(batch, line)
    refuse_if_blocked(line_troubles(station, batch, line, pans), line.name)
    choice = bench_choice(station, line.name, pans)
    assert choice is not None
    pan = pans[choice.scale.name]
    if line.tare is None:
        raise Refusal(
            "no-vessel-on",
            f"{line.name} has no vessel on {choice.scale.name} yet",
            "set an empty one down and wait",
            line.name,
        )
    if pan.settled is None or pan.settled.gross_g < line.tare.tare_g - pan.scale.near_g:
        raise Refusal(
            "not-settled",
            f"{choice.scale.name} is not settled with the vessel on",
            "wait",
            line.name,
        )
    return pan, pan.settled, pan.settled.gross_g - line.tare.tare_g + line.actual_g


def accept(station: Station, batch: Batch, line: Line, command: do.Accept, pans: Pans) -> Decision:
    """The key: it explains a jump or a lighter vessel, arms the lift of a cure, takes a weight onto
    the mix, takes as weighed, or ends a load of several."""
    scale_name = line.tare.scale if line.tare else ""
    pan = pans.get(scale_name)
    if pan is not None and (explained := _explain(station, batch, line, pan, pans)):
        return explained
    pan, settled, net = _under_way(station, batch, line, pans)
    limits = limits_on(batch, line.name, pan.scale, 1)
    shown_net = f"{shown(net, pan.scale.division_g)} g"
    if limits.accepts(net):
        if onto(station, line.name):
            taken = accept_sum(batch, line, pan.scale, settled, Decimal(0), keyed=True)
            return _with_pour(batch, line, pan, taken)
        if key_first(batch, line):
            return Decision(answer=f"{line.name} {shown_net}: now lift it off", key=scale_name)
    if command.as_weighed:
        if batch.guarded(line.name):
            raise Refusal(
                "never-as-weighed",
                f"{line.name} is never taken out of its band",
                "pour on, take out, or void",
                line.name,
            )
        if line.tare is None or settled.gross_g - line.tare.tare_g <= pan.scale.near_g:
            raise Refusal("nothing-in", f"no {line.name} is in the vessel", "pour first", line.name)
        taken = accept_sum(batch, line, pan.scale, settled, Decimal(0), keyed=True, as_weighed=True)
        return _with_pour(batch, line, pan, taken)
    if limits.accepts(net):
        raise Refusal(
            "lift", f"{line.name} {shown_net} is in band", "lift it off: that accepts", line.name
        )
    if net > limits.accept_upper:
        over = shown(net - Decimal(limits.accept_upper), pan.scale.division_g)
        raise Refusal("over", f"{line.name} is {over} g over", "take some out", line.name)
    choice = bench_choice(station, line.name, pans)
    if choice is not None and choice.loads > 1:
        return end_load(station, batch, line, pans)
    missing = shown(Fraction(limits.accept_lower - net), pan.scale.division_g)
    raise Refusal("under", f"{line.name} needs {missing} g more", "pour on", line.name)


def _explain(station: Station, batch: Batch, line: Line, pan: Pan, pans: Pans) -> Decision | None:
    """A key that answers what the station asked; it accepts nothing yet."""
    asked = {trouble.asks for trouble in line_troubles(station, batch, line, pans)}
    if not asked or None in asked or pan.settled is None:
        return None
    gross = pan.settled.gross_g
    if asked & {"away", "swapped"}:  # the vessel first, what was set down after that
        same = ev.SameVessel(line.name, gross, batch.who)
        return Decision((same,), answer="it is the vessel of this weighing", same=pan.scale.name)
    if asked == {"jump"} and pan.jump:
        event = ev.JumpExplained(line.name, gross - pan.jump.before_g, batch.who)
        answer = "it belongs in: wait until it settles"
        return Decision((event,), answer=answer, explained=pan.scale.name)
    if asked == {"missing"} and line.lifted:
        back = ev.TakenBack(line.name, line.lifted.gross_g - gross, gross, batch.who)
        return Decision((back,), happened=True, answer="it went back, not into the mix")
    return None


def end_load(
    station: Station,
    batch: Batch,
    line: Line,
    pans: Pans,
    lot: str | None = None,
    expires: str | None = None,
) -> Decision:
    """End a load before the last one; with `lot` the vessel stays on for another bag."""
    pan, settled, _ = _under_way(station, batch, line, pans)
    assert line.tare is not None
    load = settled.gross_g - line.tare.tare_g
    limits = limits_on(batch, line.name, pan.scale, 2)
    if load < pan.scale.min_g:
        raise Refusal(
            "under-min",
            f"a load of {shown(load, pan.scale.division_g)} g is under Min",
            f"Min of {pan.scale.name} is {pan.scale.min_g} g: pour on",
            line.name,
        )
    if load + line.actual_g > limits.accept_upper:
        raise Refusal("over", f"{line.name} is over already", "take some out", line.name)
    if limits_on(batch, line.name, pan.scale, 1).accepts(load + line.actual_g):
        raise Refusal(
            "lift",
            f"{line.name} is in band",
            "lift it off: that accepts, no load to end",
            line.name,
        )
    stays = lot is not None
    events: tuple[ev.Event, ...] = (load_of(batch, line, pan.scale, settled, Decimal(0), stays),)
    events += pour_ended(batch, line, pan)
    if lot is not None:
        events += (ev.BagChanged(line.name, lot, batch.who, expires),)
    return Decision(events, answer=f"load of {shown(load, pan.scale.division_g)} g ended")


def see_lift(station: Station, batch: Batch, line: Line, pan: Pan) -> Decision:
    """The vessel was lifted: that accepts, if all that was shown before it was right."""
    lift = pan.lift
    if lift is None or line.tare is None:
        return Decision()
    poured = lift.held.gross_g - line.tare.tare_g
    if lift.last_g is not None and poured <= pan.scale.near_g:  # lifted before it ever settled
        unsettled = ev.Lifted(line.name, pan.scale.name, lift.last_g, "", unsettled=True)
        return Decision((unsettled,), happened=True)
    if poured <= pan.scale.near_g and line.lifted is None:
        return Decision()  # an empty vessel, lifted to be filled
    limits = limits_on(batch, line.name, pan.scale, 1)
    net = poured + line.actual_g - lift.stayed_g
    lighter = line.lifted is not None and (
        line.lifted.gross_g - lift.held.gross_g > pan.scale.near_g
    )
    believed = (
        lift.at_once
        and lift.last_g is None
        and not lift.jumped
        and not lighter
        and not pan.troubles
        and not lifted_wrong(station, batch, line, pan)
    )
    keyed = lift.keyed or not key_first(batch, line)
    fit = limits.accepts(net) and not (batch.guarded(line.name) and bench_unfit(station, line))
    spilt: tuple[ev.Event, ...] = ()
    if lift.stayed_g > 0:
        spilt = (ev.Spilt(line.name, lift.stayed_g),)
    if believed and keyed and fit and line.voiding is None:
        accepted = accept_sum(batch, line, pan.scale, lift.held, lift.stayed_g, keyed=lift.keyed)
        return Decision((*accepted.events, *pour_ended(batch, line, pan), *spilt))
    if lighter:
        return Decision()  # still to be answered: what was lifted first counts
    lifted = ev.Lifted(line.name, pan.scale.name, lift.held.gross_g, lift.held.raw)
    if lift.last_g is not None:
        lifted = ev.Lifted(line.name, pan.scale.name, lift.last_g, "", unsettled=True)
    return Decision((lifted, *spilt), happened=True)


def _with_pour(batch: Batch, line: Line, pan: Pan, decision: Decision) -> Decision:
    return replace(decision, events=(*decision.events, *pour_ended(batch, line, pan)))


def pour_ended(batch: Batch, line: Line, pan: Pan) -> tuple[ev.Event, ...]:
    """How the pour went that is accepted now; nothing where the pour watch did not see one."""
    poured = pan.poured
    if poured.ended_g is None:
        return ()
    upper = limits_on(batch, line.name, pan.scale, 1).accept_upper
    return (
        ev.PourEnded(
            line.name,
            pan.scale.name,
            None if poured.said_g is None else tidy(poured.said_g),
            tidy(poured.flow_g_s),
            poured.slower,
            poured.ended_g,
            upper,
            batch.who,
        ),
    )


def see_gap(line: Line, pan: Pan) -> Decision:
    """The weight changed while nobody saw: what was last on the pan is recorded."""
    if pan.gap_from_g is None:
        return Decision()
    return Decision((ev.Lifted(line.name, pan.scale.name, pan.gap_from_g, ""),), happened=True)


def bench_unfit(station: Station, line: Line) -> bool:
    """Whether the scale of the weighing under way is not fit for it."""
    choice = bench_choice(station, line.name, {})
    return choice is None or choice.unfit is not None


def see_over(batch: Batch, line: Line, command: do.SeeOver, pans: Pans) -> Decision:
    """Settled over the upper limit: recorded once for each new high."""
    if line.tare is None:
        return Decision()
    scale = pans[line.tare.scale].scale
    if line.over_g is not None and command.net_g <= line.over_g + scale.near_g:
        return Decision()
    upper = limits_on(batch, line.name, scale, 1).accept_upper
    return Decision((ev.Overpoured(line.name, command.net_g, upper),))


def turn_name(batch: Batch) -> str | None:
    """The meat line or addition whose turn it is; None for a step or the end."""
    name = current(batch)
    return name if name in batch.lines or name in batch.meats else None


def turn(batch: Batch) -> Line | None:
    """The addition whose turn it is, if its weighing may begin; a skipped one wants its vessel
    named first."""
    line = batch.lines.get(current(batch) or "")
    if line is None or line.tare is not None or line.voiding is not None or unopened(batch):
        return None
    return None if line.skipped and line.used is None else line
