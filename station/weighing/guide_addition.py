"""What the hand is told of one addition: its vessel, the pour, the lift."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from station.batch.line import Line
from station.batch.portions import waiting_for
from station.batch.state import Batch
from station.metrology.band import Limits
from station.metrology.fitness import Choice
from station.metrology.scale import Scale
from station.pan.pour import bearable_flow_g_s
from station.pan.view import Pan
from station.units import shown, tidy
from station.weighing.acceptance import key_first
from station.weighing.facts import Facts
from station.weighing.portions import says
from station.weighing.sight import Look, Sight
from station.weighing.vessels import StillStanding, identify
from station.weighing.words import Guide, blocked


def addition(sight: Sight, batch: Batch, line: Line) -> Guide:
    look = sight.look(line)
    told = Guide(sight.facts.phase, "WAIT", line.name, "", line.name, line.addition.role)
    if look.choice is None:
        return blocked(told, look.troubles)
    limits, scale, pan = look.choice.limits, look.choice.scale, look.pan
    told = replace(
        told,
        scale=scale.name,
        target_g=limits.target,
        lower_g=limits.lower,
        upper_g=limits.upper,
        limits=limits,
        division_g=scale.division_g,
        net_g=look.net_g,
    )
    if line.voiding is not None:
        return replace(
            told,
            word="SET DOWN",
            sentence=f"void {line.name}: empty its vessel",
            next=f"put {_its_vessel(line)} on {scale.name}",
        )
    if look.troubles:
        return blocked(told, look.troubles)
    assert pan is not None
    if line.put_off:
        sentence = f"{line.name} was skipped"
        return replace(
            told, word="DO", sentence=sentence, next="use VESSEL to weigh it, or close naming it"
        )
    if line.tare is None:
        return _vessel_wanted(sight, look, look.choice, told)
    assert told.net_g is not None
    if told.net_g < line.actual_g - scale.near_g:
        if pan.settled is None:  # whether that was the lift that accepts is seen when it is still
            return replace(told, net_g=None, sentence=f"{line.name}: lifted", next="wait")
        return _put_back(batch, line, limits, scale, replace(told, net_g=None))
    return _pour(batch, line, limits, pan, told, told.net_g)


def _put_back(batch: Batch, line: Line, limits: Limits, scale: Scale, told: Guide) -> Guide:
    """The vessel of the weighing is not on its pan: lifted empty, or with what is not accepted."""
    back = f"put {_its_vessel(line)} back on {scale.name}"
    if line.lifted is None or line.tare is None:
        sentence = f"{line.name}: {back}"
        return replace(told, word="SET DOWN", sentence=sentence, next="it goes on where it was")
    net = line.lifted.gross_g - line.tare.tare_g + line.actual_g
    if line.lifted.unsettled:
        what = "lifted before it settled"
    elif net > limits.accept_upper:
        what = f"{shown(net - limits.accept_upper, scale.division_g)} g too much in it"
    elif net < limits.accept_lower:
        what = f"{shown(limits.accept_lower - net, scale.division_g)} g too little in it"
    elif key_first(batch, line):
        what = "in band, and its key comes before the lift"
    else:
        what = "in band, and it was not still when it was lifted"
    return replace(told, word="PUT BACK", sentence=f"{line.name}: {what}", next=back)


def _its_vessel(line: Line) -> str:
    names = [load.vessel for load in line.standing] + [line.tare.vessel if line.tare else None]
    return next((name for name in names if name), "its vessel")


def _vessel_wanted(sight: Sight, look: Look, choice: Choice, told: Guide) -> Guide:
    facts, line, scale = sight.facts, look.line, choice.scale
    told = replace(told, word="SET DOWN")
    amount = f"{line.name} {shown(choice.limits.aim, scale.division_g)} g"
    if choice.loads > 1:
        amount += f" in {choice.loads} loads"
    pan = sight.pans[scale.name]
    if pan.settled is not None and pan.loaded:
        seen = identify(facts, scale, pan.settled.gross_g, line.name)
        if isinstance(seen, StillStanding):
            vessel = seen.vessel or "this vessel"
            sentence = f"{vessel} still holds {seen.line}"
            if facts.open_batch().opened.ahead:
                return replace(told, sentence=sentence, next="lift it off: it waits for its meat")
            return replace(told, word="TIP", sentence=sentence, next="tip it into the mix")
        if pan.tipped_line is not None:
            what = f"this vessel held {pan.tipped_line}"
            return replace(told, sentence=what, next="lift it off, take a clean one")
    if facts.onto(line.name):
        if facts.stands:
            sentence = f"{facts.stands} stands: tip it before {line.name}"
            return replace(told, word="TIP", sentence=sentence, next="tip it")
        return replace(told, sentence=f"{amount}: the mix's vessel on {scale.name}", next="wait")
    if pan.stayed_on and pan.loaded:
        return replace(
            told, word="DO", sentence="what is on the pan is accepted", next="lift it off"
        )
    other = next((n for n, p in sight.pans.items() if n != scale.name and p.loaded), None)
    if other is not None and pan.empty and not line.standing:
        return replace(
            told, sentence=f"{amount}: on {scale.name}, not on {other}", next="change scale"
        )
    if pan.loaded and not pan.empty:
        return replace(told, word="WAIT", sentence=amount, next="wait until it settles")
    if (stands := _just_accepted(facts, line)) is not None:
        sentence = f"{stands} stands in {_its_vessel(facts.open_batch().lines[stands])}"
        step = f"tip it and show its vessel empty, or go on with {amount}"
        return replace(told, word="TIP", sentence=sentence, next=step)
    return _vessel_to_fill(facts, line, choice, told, amount)


def _vessel_to_fill(facts: Facts, line: Line, choice: Choice, told: Guide, amount: str) -> Guide:
    """Which vessel is set down for an amount."""
    scale = choice.scale
    sentence = f"{amount}: set {line.used or 'an empty vessel'} down on {scale.name}"
    if (portion := facts.station.portions.get(line.used or "")) is not None:
        sentence += f"; it {says(facts, line, portion)}"
        return replace(told, sentence=sentence, next="its weighing goes on where it was")
    if waiting := waiting_for(facts.station, facts.open_batch(), line.name):
        bags = "a bag is" if len(waiting) == 1 else f"{len(waiting)} bags are"
        sentence += f"; {bags} weighed ahead"
        return replace(told, sentence=sentence, next="choose a bag, or set an empty vessel down")
    if choice.limits.aim_moved:
        sentence += f" (aim moved from {shown(choice.limits.target, scale.division_g)} g)"
    return replace(told, sentence=sentence, next="it is tared by itself; then pour")


def _just_accepted(facts: Facts, line: Line) -> str | None:
    """A line that a rule limits, or that the batch must have, and that still stands: forgotten, it
    would be missing, or go in twice."""
    batch = facts.open_batch()
    for other in batch.lines.values() if not batch.opened.ahead else ():
        if (
            other.standing
            and other.name != line.name
            and (batch.limited(other.name) or batch.must_have(other.name))
        ):
            return other.name
    return None


def _pour(batch: Batch, line: Line, limits: Limits, pan: Pan, told: Guide, net: Decimal) -> Guide:
    d = pan.scale.division_g
    advice = pan.advice
    flows = advice is not None and advice.flow_g_s > d
    aside = line.tare is not None and not line.tare.onto
    if pan.falling and not flows and aside and net < limits.accept_lower:
        return replace(told, word="WAIT", sentence=f"{line.name}: lifted", next="wait")
    if pan.settled is not None and net > limits.accept_upper:
        over = shown(Fraction(net) - Fraction(limits.aim), d)
        return replace(
            told, word="TAKE OUT", sentence=f"{line.name}: {over} g too much", next="take it out"
        )
    if pan.settled is not None and limits.accepts(net):
        if line.tare is not None and line.tare.onto:
            step = "the key accepts"
        elif key_first(batch, line) and not pan.keyed:
            step = "press the key, then lift it off"
        else:
            step = "lift it off: that accepts"
        return replace(told, word="IN BAND", sentence=f"{line.name} {shown(net, d)} g", next=step)
    if advice is not None and advice.flow_g_s > 0:
        told = replace(told, final_g=max(tidy(advice.final_g), net))
    if net >= limits.aim and _less_than_held(pan):
        return _taking_out(line, limits, told, net, d)
    if net >= limits.aim or (advice is not None and advice.word == "stop"):
        return replace(
            told, word="STOP", sentence=f"{line.name}: stop pouring", next="let it settle"
        )
    left = shown(Fraction(limits.aim) - Fraction(net), d)
    sentence = f"{line.name}: {left} g to go"
    if advice is not None and advice.word == "slower":
        return replace(told, word="SLOWER", sentence=sentence, next="pour slower")
    step = "pour"
    if advice is not None and line.tare is not None and net - line.actual_g <= pan.scale.near_g:
        step = f"pour, at most {_flow(limits, pan)} g a second"
    return replace(told, word="POUR", sentence=sentence, next=step)


def _less_than_held(pan: Pan) -> bool:
    """Whether something is taken out: it moves, and is less than what last settled."""
    if pan.settled is not None or pan.held is None or pan.gross_g is None:
        return False
    return pan.held.gross_g - pan.gross_g > pan.scale.near_g


def _taking_out(line: Line, limits: Limits, told: Guide, net: Decimal, d: Decimal) -> Guide:
    if net <= limits.accept_upper:
        return replace(told, word="WAIT", sentence=f"{line.name}: that may do", next="wait")
    over = f"{shown(Fraction(net) - Fraction(limits.aim), d)} g too much"
    return replace(
        told, word="TAKE OUT", sentence=f"{line.name}: {over}", next="more, then let it settle"
    )


def _flow(limits: Limits, pan: Pan) -> str:
    """The flow that the band bears, so that STOP alone still ends in it; two digits, or a pinch."""
    band = float(limits.accept_upper - limits.accept_lower)
    flow = bearable_flow_g_s(band, float(pan.scale.division_g), pan.window_s, pan.period_s)
    if flow < 1:
        return f"{max(flow, 0.1):.1f}"
    return str(int(float(f"{flow:.2g}")))
