"""What the bench hand is told now: one word, one sentence, the next step, and the figures."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from station.batch.line import MeatLine
from station.batch.progress import stands_before
from station.batch.state import Batch
from station.formula.model import Step
from station.pan.view import Trouble
from station.units import shown
from station.weighing.guide_addition import addition
from station.weighing.offers import Ask, asked, offered, vessels
from station.weighing.sight import Sight
from station.weighing.tubs import other_tub, tubs_like, which_tub
from station.weighing.words import Guide, Word, blocked


def guide(sight: Sight, ledger: Trouble | None = None, people: Sequence[str] = ()) -> Guide:
    """What to show the hand; `ledger` is the trouble with writing and comes before all others."""
    told = _guide(sight)
    ask = told.asks
    if ledger is not None:
        told, ask = blocked(told, (ledger, *told.troubles)), None
    elif told.word == "BLOCKED" and ask is None:
        ask = asked(sight, told.line, told.troubles)
    if ask is not None:
        told = replace(told, word="ANSWER")
    return replace(told, asks=ask, offers=tuple(offered(sight, told.line, ask, people)))


def _guide(sight: Sight) -> Guide:
    station, pans, facts = sight.station, sight.pans, sight.facts
    batch = station.batch
    other = next((p.troubles[0] for p in pans.values() if p.another), None)
    if other is not None and station.open is None:
        return blocked(Guide(None, "READY", "", ""), (other,))
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
    return addition(sight, batch, batch.lines[name])


def _role(batch: Batch, name: str) -> str:
    return batch.lines[name].addition.role


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
        return blocked(told, pan.troubles if pan else (_no_scale(scale.name),))
    target = f"{meat.name} {shown(plan.target, scale.division_g)} g"
    tub = station.vessels.get(meat.tub or "")
    if tub is None:
        tubs = tubs_like(sight, meat) or sight.facts.free_like(scale)[::-1]  # the heaviest first
        sentence = f"{target}: which tub?"
        step = "set it down empty, or use TUB"
        if not tubs:
            step = f"record one: station vessel NAME {scale.name}"
        ask = Ask(sentence, vessels(tubs)) if tubs and pan.loaded else None
        return replace(told, word="SET DOWN", sentence=sentence, next=step, asks=ask)
    if (other := other_tub(sight, meat)) is not None:
        sentence = f"{target} in {tub.name}: this was set down as {other} empty"
        ask = Ask(sentence, tuple(which_tub(other, tub.name)), f"set {tub.name} down instead")
        return replace(told, word="BLOCKED", sentence=sentence, next="say which it is", asks=ask)
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
