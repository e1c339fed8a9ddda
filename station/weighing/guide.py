"""What the bench hand is told now: one word, one sentence, the next step, and the figures."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from station.batch.line import Line, MeatLine
from station.batch.progress import Phase, stands_before
from station.batch.state import Batch
from station.formula.model import Step
from station.metrology.band import Limits
from station.metrology.fitness import Choice
from station.metrology.scale import Scale
from station.pan.pour import bearable_flow_g_s
from station.pan.view import Pan, Trouble
from station.units import shown, tidy
from station.weighing.acceptance import key_first
from station.weighing.commands import Offer
from station.weighing.facts import Facts
from station.weighing.offers import Ask, asked, offered, vessels
from station.weighing.sight import Look, Sight
from station.weighing.vessels import StillStanding, identify

Word = Literal[
    "READY",  # no batch is at the bench
    "SET DOWN",  # a vessel is wanted
    "POUR",
    "SLOWER",
    "STOP",
    "TAKE OUT",
    "IN BAND",  # lift it off; a cure: the key, then lift
    "PUT BACK",  # lifted with too much or too little in it
    "TIP",  # accepted, and standing
    "ANSWER",  # a question
    "DO",  # a step of the process, or the end
    "WAIT",  # the station is busy: hands off
    "BLOCKED",
    "ON HOLD",
]
"""What the hands do now."""


@dataclass(frozen=True, slots=True)
class Guide:
    """All that a screen needs. Masses in grams; `final_g` is where a pour would end if it were
    stopped now; `troubles` are all reasons, the first is shown; `asks` is a question to be answered
    now, `offers` all that can be done."""

    phase: Phase | None
    word: Word
    sentence: str
    next: str
    line: str | None = None
    role: str | None = None
    scale: str | None = None
    net_g: Decimal | None = None
    target_g: Fraction | None = None
    lower_g: Fraction | None = None
    upper_g: Fraction | None = None
    limits: Limits | None = None
    division_g: Decimal | None = None
    final_g: Decimal | None = None
    troubles: tuple[Trouble, ...] = ()
    asks: Ask | None = None
    offers: tuple[Offer, ...] = ()

    @property
    def alarm(self) -> bool:
        """Whether the screen turns inverse and calls: something is wrong."""
        return self.word in ("PUT BACK", "BLOCKED", "ON HOLD") or bool(self.troubles)


def guide(sight: Sight, ledger: Trouble | None = None, people: Sequence[str] = ()) -> Guide:
    """What to show the hand; `ledger` is the trouble with writing and comes before all others."""
    told = _guide(sight)
    ask = told.asks
    if ledger is not None:
        told, ask = _blocked(told, (ledger, *told.troubles)), None
    elif told.word == "BLOCKED" and ask is None:
        ask = asked(sight, told.line, told.troubles)
    if ask is not None:
        told = replace(told, word="ANSWER")
    return replace(told, asks=ask, offers=tuple(offered(sight, told.line, ask, people)))


def _guide(sight: Sight) -> Guide:
    station, pans, facts = sight.station, sight.pans, sight.facts
    batch = station.batch
    if batch is None:
        unwell = [pan.troubles[0].sentence for pan in pans.values() if pan.troubles]
        sentence = "; ".join(["no batch is at the bench", *unwell])
        step = 'station open FORMULA --meat "12 kg" --who NAME'
        if station.parked:
            step = f"take-up {', '.join(station.parked)}, or open another"
        return Guide(None, "READY", sentence, step)
    if batch.end is not None:
        return Guide("done", "READY", f"batch {batch.id} is {batch.end}", "open the next one")
    name = facts.current
    if name in batch.meats:
        return _meat(sight, batch, batch.meats[name])
    if batch.hold and name is None:
        reason = batch.hold[0]
        stands = [line.name for line in batch.lines.values() if line.standing]
        if stands:
            sentence = f"{reason}; standing: {', '.join(stands)}"
            return Guide("on hold", "ON HOLD", sentence, "tip or void what stands")
        step = "more meat, or abandon after review"
        if doubted := next((ln.name for ln in batch.lines.values() if ln.in_doubt), None):
            step = f'station void "{doubted}" WHY --second NAME, or weigh its jar'
        return Guide("on hold", "ON HOLD", reason, step)
    if facts.phase == "additions" and facts.unopened:
        wanted = facts.unopened[0]
        sentence = f"{wanted}: open its lot, with the strength on the bag"
        step = f'station lot open "{wanted}" LOT --contains "AGENT=SHARE"'
        return Guide("additions", "DO", sentence, step, wanted, _role(batch, wanted))
    if name is None:
        return _last(batch)
    if name not in batch.lines:
        return _step(batch, name)
    return _addition(sight, batch, batch.lines[name])


def _role(batch: Batch, name: str) -> str:
    return batch.lines[name].addition.role


def _blocked(told: Guide, troubles: Sequence[Trouble]) -> Guide:
    first = troubles[0]
    return replace(
        told, word="BLOCKED", sentence=first.sentence, next=first.next, troubles=tuple(troubles)
    )


def _last(batch: Batch) -> Guide:
    standing = [line.name for line in batch.lines.values() if line.standing]
    if standing:
        return Guide("additions", "TIP", f"standing: {', '.join(standing)}", "tip into the mix")
    return Guide("additions", "DO", "all is in the mix", "close")


def _step(batch: Batch, name: str) -> Guide:
    item = batch.step(name)
    if (stands := stands_before(batch, name)) is not None:
        sentence = f"{stands} stands: tip it before {name}"
        return Guide("additions", "TIP", sentence, "tip it", name, "step")
    if isinstance(item, Step):
        bounds = ", ".join(part for part in (item.time, item.temperature) if part)
        return Guide(
            "additions", "DO", f"{name}: {bounds or 'do it'}", "step ends it", name, "step"
        )
    assert item is not None  # an addition counted in pieces
    pieces = batch.count(name)
    text = f"{name}: {shown(pieces, Decimal('0.01'))} sachets"
    return Guide("additions", "DO", text, "step ends it", name, item.role)


def _meat(sight: Sight, batch: Batch, meat: MeatLine) -> Guide:
    station, plan = sight.station, sight.facts.meat_plan(meat.name)
    told = Guide(
        sight.facts.phase, "WAIT", f"{meat.name}: no scale", "check station.toml", meat.name, "meat"
    )
    if plan is None:
        return told
    scale = plan.scale
    told = replace(
        told,
        scale=scale.name,
        target_g=plan.target,
        lower_g=plan.lower,
        upper_g=plan.upper,
        division_g=scale.division_g,
    )
    pan = sight.pans.get(scale.name)
    if pan is None or pan.troubles:
        return _blocked(told, pan.troubles if pan else (_no_scale(scale.name),))
    target = f"{meat.name} {shown(plan.target, scale.division_g)} g"
    tub = station.vessels.get(meat.tub or "")
    if tub is None:
        tubs = sight.facts.free_like(scale)[::-1]  # the heaviest first
        sentence = f"{target}: which tub?"
        step = "use TUB" if tubs else f"record one: station vessel NAME {scale.name}"
        ask = Ask(sentence, vessels(tubs)) if tubs else None
        return replace(told, word="SET DOWN", sentence=sentence, next=step, asks=ask)
    target += f" in {tub.name}"  # always: a wrong tub is a wrong meat block
    if pan.gross_g is None or pan.gross_g < tub.empty_g - pan.scale.near_g:
        return replace(
            told,
            word="SET DOWN",
            net_g=meat.net_g,
            sentence=f"{target}: set {tub.name} down on {scale.name}",
            next="end if that is all",
        )
    counted = batch.counted.get(tub.name)
    new = pan.gross_g - (tub.empty_g if counted is None else counted)
    net = meat.net_g + new
    told = replace(told, net_g=net)
    if abs(new) <= pan.scale.near_g and counted is None:
        sentence = f"{target}: {tub.name} is empty"
        return replace(told, word="POUR", sentence=sentence, next="put the meat in")
    if abs(new) <= pan.scale.near_g:
        sentence = f"{target}: this load is counted"
        return replace(told, word="DO", sentence=sentence, next="next load, or end")
    if pan.settled is None:
        return replace(told, sentence=target, next="wait until it settles")
    if counted is not None and not pan.stayed_on:
        return replace(
            told,
            word="BLOCKED",
            net_g=None,
            sentence=f"was {tub.name} emptied since it was counted?",
            next="show it empty, or use another tub",
        )
    word: Word = "POUR" if net < plan.lower else "TAKE OUT" if net > plan.upper else "IN BAND"
    return replace(told, word=word, sentence=target, next="accept takes the load")


def _no_scale(name: str) -> Trouble:
    return Trouble("link", f"{name} is not in station.toml", "put it back")


def _addition(sight: Sight, batch: Batch, line: Line) -> Guide:
    look = sight.look(line)
    told = Guide(sight.facts.phase, "WAIT", line.name, "", line.name, line.addition.role)
    if look.choice is None:
        return _blocked(told, look.troubles)
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
        return _blocked(told, look.troubles)
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
    sentence = f"{amount}: set {line.used or 'an empty vessel'} down on {scale.name}"
    if choice.limits.aim_moved:
        sentence += f" (aim moved from {shown(choice.limits.target, scale.division_g)} g)"
    return replace(told, sentence=sentence, next="wait until it settles")


def _just_accepted(facts: Facts, line: Line) -> str | None:
    """A line that a rule limits, or that the batch must have, and that still stands: forgotten, it
    would be missing, or go in twice."""
    batch = facts.open_batch()
    for other in batch.lines.values():
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
