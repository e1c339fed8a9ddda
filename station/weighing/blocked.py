"""Why nothing can be accepted for a line now, in the order in which it is shown."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from station.batch.lawful import doubt_of, least_g
from station.batch.line import Line
from station.batch.state import Batch
from station.metrology.fitness import Choice
from station.metrology.scale import Scale
from station.pan.view import REASONS, Pan, Trouble
from station.units import shown
from station.weighing.facts import Facts
from station.weighing.vessels import UNLIKE_G, Question, identify, like_record


def no_scale(name: str) -> Trouble:
    """What is said of a scale that is on record and not on the bench."""
    return Trouble("link", f"{name} is not in station.toml", "put it back")


def line_troubles(
    facts: Facts, batch: Batch, line: Line, choice: Choice | None, pan: Pan | None
) -> list[Trouble]:
    """Every reason why this line cannot be accepted now, the first to be shown first."""
    if choice is None:
        return [Trouble("unfit", f"no scale has room for {line.name}", "take a smaller vessel")]
    if pan is None:
        return [no_scale(choice.scale.name)]
    found = list(pan.troubles)
    found += vessel_troubles(facts, batch, line, pan)
    stuck = bool(line.gone) and _no_way_down(line, choice, pan)
    if line.doubts or stuck:
        step = "weigh its jar, or accept with a second person who saw where it went"
        found.append(Trouble("vessel", doubt_of(line), step, "doubt"))
    if choice.unfit and batch.guarded(line.name) and not stuck:
        found.append(_unfit(batch, line, choice))
    if pan.jump is not None and pan.gross_g is not None and pan.gross_g > pan.jump.before_g:
        size = shown(pan.gross_g - pan.jump.before_g, pan.scale.division_g)
        step = "take it off, or accept if it belongs in"
        if batch.limited(line.name):  # it may be a scoop of the cure, and be put into the mix
            step = "accept if it belongs in; taken off, somebody must say where it went"
        found.append(Trouble("jump", f"something was set down: +{size} g", step, "jump"))
    return sorted(found, key=lambda trouble: REASONS.index(trouble.reason))


def _unfit(batch: Batch, line: Line, choice: Choice) -> Trouble:
    """Why no weight can be accepted: where the law leaves none of the band, no scale mends it."""
    limits, d = choice.limits, choice.scale.division_g
    least = least_g(batch, line.name, [*line.divisions_g, *[d] * choice.loads])
    what = None
    if limits.hard is not None and limits.hard < limits.lower:
        most = max(limits.hard, Fraction(0))
        what = f"is more than the {shown(most, d)} g that the meat weighed allows"
    elif least is not None and least > limits.upper:
        what = f"is less than the {shown(least, d)} g that the meat weighed must have"
    if what is None:
        unfit = f"{choice.scale.name} is not fit: {choice.unfit}"
        return Trouble("unfit", unfit, _fit_help(batch))
    sentence = f"{shown(limits.target, d)} g of {line.name} {what}"
    return Trouble("unfit", sentence, "abandon it, and open a formula that fits this meat")


def _no_way_down(line: Line, choice: Choice, pan: Pan) -> bool:
    """Whether taking out cannot mend it: what is taken out lowers the hard limit by as much, for
    nobody saw where it goes."""
    if choice.unfit:
        return True
    if line.tare is None or pan.settled is None or choice.limits.hard is None:
        return False
    net = pan.settled.gross_g - line.tare.tare_g + line.actual_g
    return net > choice.limits.hard


def vessel_troubles(facts: Facts, batch: Batch, line: Line, pan: Pan) -> list[Trouble]:
    """Why the vessel on the pan is not that of the weighing, or nobody can say."""
    if line.tare is not None and pan.settled is None:
        pan = replace(pan, settled=pan.held)  # it moves: what was asked is still to be answered
    if not pan.loaded or pan.settled is None or pan.troubles:
        return []
    gross, near = pan.settled.gross_g, pan.scale.near_g
    if line.tare is None:
        return _untared_troubles(facts, line, pan, gross)
    if line.tare.onto:
        return []
    for cup in facts.cups:
        other_line = cup.parked is not None or cup.line.name != line.name
        if other_line and abs(gross - cup.gross_g) <= near:
            what = f"this weighs like the {cup.content} that stands"
            return [Trouble("vessel", what, f"put the vessel of {line.name} back instead")]
    first = gross
    if pan.placed_g is not None and pan.placed_g > UNLIKE_G:  # less was spilt, and no vessel
        first = min(gross, pan.placed_g)
    if line.empty_g is not None and first < line.empty_g - near:  # however much went in since
        what = "lighter than its tare: another vessel?"
        return [Trouble("vessel", what, f"put the vessel of {line.name} back, or void")]
    if (other := swapped(facts, batch, line, pan)) is not None:
        what = f"this weighs like {other} empty"
        step = "put its own vessel back, accept if this is it, or void"
        return [Trouble("vessel", what, step, "swapped")]
    if (missing := missing_g(batch, line, pan)) is not None:
        what = f"{shown(missing, pan.scale.division_g)} g less than when lifted"
        what += f": {line.name.upper()} in the mix?"
        if gross < line.tare.tare_g - near:  # of an earlier bag too
            return [Trouble("vessel", what, "say that it is, or void", "gone")]
        step = "say that it is, or that it went back"
        return [Trouble("vessel", what, step, "missing")]
    return []


def _untared_troubles(facts: Facts, line: Line, pan: Pan, gross_g: Decimal) -> list[Trouble]:
    """What keeps a vessel that has just settled from being tared."""
    if facts.onto(line.name) or _just_emptied(facts, line, pan):
        return []
    if pan.placed_g is not None and gross_g - pan.placed_g > pan.scale.near_g:
        what = f"something went in before {line.name} was tared"
        return [Trouble("vessel", what, "lift it off, begin with an empty vessel")]
    seen = identify(facts, pan.scale, gross_g, line.name)
    if not isinstance(seen, Question):
        return []
    if seen.tips:
        return [Trouble("vessel", seen.sentence, seen.next, "tipped", (seen.tips,))]
    asks: Literal["which"] | None = "which" if seen.vessels else None
    return [Trouble("vessel", seen.sentence, seen.next, asks, seen.vessels)]


def _just_emptied(facts: Facts, line: Line, pan: Pan) -> bool:
    """Whether the vessel of another line stands there, seen to be tipped, and never becomes this
    one's: nothing is wrong, it only has to go."""
    tipped = facts.batch.lines.get(pan.tipped_line or "") if facts.batch else None
    return tipped is not None and (tipped.addition.alone or line.addition.alone)


def swapped(facts: Facts, batch: Batch, line: Line, pan: Pan) -> str | None:
    """The vessel that was put back instead of the one of the weighing, by its empty weight."""
    if line.tare is None or pan.placed_g is None:
        return None
    left_with = line.lifted.gross_g if line.lifted else line.tare.tare_g
    if abs(pan.placed_g - left_with) <= pan.scale.near_g:
        return None
    target = batch.target(line.name)
    for vessel in facts.free:
        if like_record(vessel, pan.placed_g, pan.scale, target):
            return vessel.name
    return None


def came_back_whole(batch: Batch, line: Line, placed_g: Decimal | None, scale: Scale) -> bool:
    """Whether the vessel was set down again as heavy as it was lifted: what is less in it since
    left it on the pan. Never so for what a rule limits: somebody must say where that went."""
    if line.lifted is None or placed_g is None or batch.limited(line.name):
        return False
    return line.lifted.gross_g - placed_g <= scale.near_g


def missing_g(batch: Batch, line: Line, pan: Pan) -> Fraction | None:
    """What the vessel came back lighter by than it was lifted with, beyond 3 d; else None."""
    if line.tare is None or line.empty_g is None or pan.settled is None or not pan.loaded:
        return None
    if pan.settled.gross_g < line.empty_g - pan.scale.near_g:
        return None  # another vessel
    if came_back_whole(batch, line, pan.placed_g, pan.scale):
        return None
    held = max(line.lifted.gross_g if line.lifted else Decimal(0), line.tare.tare_g)
    short = held - pan.settled.gross_g
    return Fraction(short) if short > pan.scale.near_g else None


def _fit_help(batch: Batch) -> str:
    finest = min(batch.scales, key=lambda scale: scale.division_g)
    return f"a finer scale than {finest.name}, or a bigger batch"
