"""What the bench hand is told while the meat is weighed."""

from dataclasses import replace

from station.batch.line import MeatLine
from station.batch.state import Batch, Vessel
from station.pan.view import Pan
from station.units import shown
from station.weighing.blocked import no_scale
from station.weighing.questions import Ask, vessels
from station.weighing.sight import Sight
from station.weighing.tubs import other_tub, tubs_like, which_tub
from station.weighing.words import Guide, Word, blocked


def meat(sight: Sight, batch: Batch, line: MeatLine) -> Guide:
    station, plan = sight.station, sight.facts.meat_plan(line.name)
    told = Guide(
        sight.facts.phase, "WAIT", f"{line.name}: no scale", "check station.toml", line.name, "meat"
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
        return blocked(told, pan.troubles if pan else (no_scale(scale.name),))
    target = line.name
    if plan.target is not None:
        target += f" {shown(plan.target, scale.division_g)} g"
    tub = station.vessels.get(line.tub or "")
    if tub is None:
        tubs = tubs_like(sight, line) or sight.facts.free_like(scale)[::-1]  # the heaviest first
        sentence = f"{target}: which tub?"
        step = "set it down empty, or use TUB"
        if not tubs:
            step = f"set one down empty on {scale.name}, and record it"
        ask = Ask(sentence, vessels(tubs)) if tubs and pan.loaded else None
        return replace(told, word="SET DOWN", sentence=sentence, next=step, asks=ask)
    if (other := other_tub(sight, line)) is not None:
        sentence = f"{target} in {tub.name}: this was set down as {other} empty"
        ask = Ask(sentence, tuple(which_tub(other, tub.name)), f"set {tub.name} down instead")
        return replace(told, word="BLOCKED", sentence=sentence, next="say which it is", asks=ask)
    target += f" in {tub.name}"  # always: a wrong tub is a wrong meat block
    if pan.gross_g is None or pan.gross_g < tub.empty_g - pan.scale.near_g:
        return replace(
            told,
            word="SET DOWN",
            net_g=line.net_g,
            sentence=f"{target}: set {tub.name} down on {scale.name}",
            next="end if that is all",
        )
    return _loaded(replace(told, sentence=target), batch, line, pan, tub)


def _loaded(told: Guide, batch: Batch, line: MeatLine, pan: Pan, tub: Vessel) -> Guide:
    """What to do with the tub that stands on the pan, after what is `told` of the line."""
    assert pan.gross_g is not None
    counted = batch.counted.get(tub.name)
    new = pan.gross_g - (tub.empty_g if counted is None else counted)
    net = line.net_g + new
    told = replace(told, net_g=net)
    if abs(new) <= pan.scale.near_g and counted is None:
        sentence = f"{told.sentence}: {tub.name} is empty"
        return replace(told, word="POUR", sentence=sentence, next="put the meat in")
    if abs(new) <= pan.scale.near_g:
        sentence = f"{told.sentence}: this load is counted"
        return replace(told, word="DO", sentence=sentence, next="next load, or end")
    if pan.settled is None:
        return replace(told, next="wait until it settles")
    if counted is not None and not pan.stayed_on:
        return replace(
            told,
            word="BLOCKED",
            net_g=None,
            sentence=f"was {tub.name} emptied since it was counted?",
            next="show it empty, or use another tub",
        )
    word: Word = "IN BAND"  # where nothing is planned, all is
    if told.lower_g is not None and net < told.lower_g:
        word = "POUR"
    elif told.upper_g is not None and net > told.upper_g:
        word = "TAKE OUT"
    return replace(told, word=word, next="accept takes the load")
