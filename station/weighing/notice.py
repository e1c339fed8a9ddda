"""From what the pans show to what is to be decided about it: the commands that no hand gives.

Level-triggered: asked again after every reading, it names the same thing until a decision has
changed the state, so nothing is lost when a decision fails. It looks at the pans it is given: after
a reading at that scale's alone, after a decision at all of them.
"""

from collections.abc import Collection

from station.batch.line import Line
from station.batch.plan import mix_g
from station.batch.state import Batch
from station.batch.tally import least_load_g
from station.pan.view import Pan
from station.weighing import commands as do
from station.weighing import reopening, tubs, voiding
from station.weighing.commands import Command
from station.weighing.devices import is_new
from station.weighing.lateness import lag_seen
from station.weighing.sight import Look, Sight
from station.weighing.vessels import EmptyVessel, Portioned, SeenTipped, identify, seen_in

_OF_CONTENT = ("missing", "doubt", "jump")
"""Questions about what was in a vessel, where it is certainly the one of the weighing. What came
all at once may be a spoon or a scoop of the cure: taken out again it may be in the mix."""
_UNSURE = ("gap", "zero")
"""Reasons for which it may be another vessel, or another weight: only less counts then."""
_DOUBTED = (*_UNSURE, "device", "unfit")
"""Reasons for which nothing is accepted, and what is in the vessel is followed all the same: a
device in question may be right, and what it shows more may be taken out before anybody answers."""


def notice(sight: Sight, scales: Collection[str]) -> Command | None:
    """The next thing that the pans of `scales` show and that wants a decision, or None."""
    pans = [sight.pans[name] for name in scales]
    if (seen := _of_bench(sight, pans)) is not None:
        return seen
    batch = sight.station.open
    if batch is None:
        return None
    for pan in pans:
        if seen_in(sight.facts, pan) is not None:
            return do.SeeIn(pan.scale.name)
    if (taken_off := _item(sight, batch, pans)) is not None:
        return taken_off
    for line in sight.facts.under_way:
        if (seen := _under_way(sight, line, scales)) is not None:
            return seen
    return _load(sight, batch, pans)


def _of_bench(sight: Sight, pans: Collection[Pan]) -> Command | None:
    """What wants a decision whether a batch is at the bench or not."""
    for pan in pans:
        if whose := reopening.undershot_in(sight.station, pan):
            return do.SeeUndershot(pan.scale.name, whose[0], last=len(whose) == 1)
    for pan in pans:
        if (tub := tubs.seen_tub(sight, pan)) is not None:
            return tub
    for pan in pans:
        if pan.steps and not pan.another and lag_seen(sight.station, pan):
            return do.SeeLag(pan.scale.name)
    for pan in pans:
        if is_new(sight.station, pan):
            return do.SeeScale(pan.scale.name)
    return None


def _item(sight: Sight, batch: Batch, pans: Collection[Pan]) -> Command | None:
    """A piece or pack was taken off; on hold nothing is counted."""
    if batch.hold:
        return None
    for pan in pans:
        counted = sight.facts.counted_on(pan.scale.name) is not None
        if counted and (pan.lift is not None or _passed(pan)):
            return do.SeeItem(pan.scale.name)
    return None


def _passed(pan: Pan) -> bool:
    """Whether something heavy enough to count was on the pan and gone before it settled."""
    return pan.missed_g is not None and pan.missed_g >= least_load_g(pan.scale)


def _under_way(sight: Sight, line: Line, scales: Collection[str]) -> Command | None:
    if line.voiding is not None:
        if voiding.voidable(line, sight.pans):
            return do.SeeVoidable(line.name)
        there = sight.pans.get(line.tare.scale) if line.tare and not line.tare.onto else None
        if there is None or there.scale.name not in scales:
            return None
        return do.SeeLift(line.name, there.scale.name) if there.lift else _content(sight, line)
    if line.tare is None or line.tare.scale not in scales:
        return None
    return _weighing(sight, line)


def _weighing(sight: Sight, line: Line) -> Command | None:
    """The lift of the weighing under way, what is in its vessel, the overpour."""
    assert line.tare is not None
    pan = sight.pans.get(line.tare.scale)
    if pan is None:
        return None
    if pan.lift is not None and not line.tare.onto:
        return do.SeeLift(line.name, pan.scale.name)
    lost = pan.gap_from_g
    known = line.lifted is not None and line.lifted.gross_g == lost
    if (
        lost is not None
        and pan.gap_broken
        and not known
        and lost > line.tare.tare_g + pan.scale.near_g
    ):
        return do.SeeGap(line.name, pan.scale.name)
    look = sight.look(line)
    if (other := _other_vessel(look)) is not None:
        return other
    if look.batch.limited(line.name) and look.poured_elsewhere_g > pan.scale.near_g:
        return do.SeePouredElsewhere(line.name, pan.scale.name)
    net = look.settled_g
    if net is None or not pan.loaded:
        return None
    if (content := _content(sight, line)) is not None:
        return content
    if look.troubles:
        return None
    over = net > look.limits().accept_upper
    if over and (line.over_g is None or net > line.over_g + pan.scale.near_g):
        return do.SeeOver(line.name, net)
    return None


def _content(sight: Sight, line: Line) -> Command | None:
    """Another weight in the vessel of a limited line than the one on record."""
    look = sight.look(line)
    if look.settled is None or look.pan is None or not look.pan.loaded:
        return None
    if not look.batch.limited(line.name) or line.tare is None or line.tare.onto:
        return None
    return do.SeeContent(line.name, look.settled) if _is_new(look) else None


def _other_vessel(look: Look) -> Command | None:
    """The one empty vessel on record that was set down in place of the tared one before anything
    was poured. For salt and cures a person is asked: the tared one may be full by now."""
    line, pan, batch = look.line, look.pan, look.batch
    if [trouble.reason for trouble in look.troubles] != ["vessel"] or batch.guarded(line.name):
        return None
    if line.lifted is not None or pan is None or pan.settled is None or pan.placed_g is None:
        return None
    gross = pan.settled.gross_g
    if abs(gross - pan.placed_g) > pan.scale.near_g:
        return None
    alike = [v.name for v in look.facts.free if abs(v.empty_g - gross) <= pan.scale.near_g]
    if len(alike) != 1:
        return None
    return do.SeeOtherVessel(line.name, alike[0], pan.scale.name, pan.settled)


def _is_new(look: Look) -> bool:
    """Whether another weight has settled in the vessel than the one on record."""
    line, pan = look.line, look.pan
    known = line.known_gross_g
    assert known is not None and pan is not None and pan.settled is not None
    unsure = any(trouble.reason in _UNSURE for trouble in look.troubles)
    others = [t for t in look.troubles if t.reason not in _DOUBTED]
    if any(trouble.asks not in _OF_CONTENT for trouble in others):
        return False
    more = pan.settled.gross_g - known
    return (-more if unsure else abs(more)) > pan.scale.near_g


def _load(sight: Sight, batch: Batch, pans: Collection[Pan]) -> Command | None:
    """A load without a tare: the vessel of the line whose turn it is, or a tipped one."""
    facts = sight.facts
    if facts.current in batch.meats:
        return next(filter(None, (tubs.set_down(sight, pan) for pan in pans)), None)
    weighing = {line.tare.scale for line in facts.under_way if line.tare}
    line = facts.turn
    choice = sight.choice(line.name) if line else None
    for pan in pans:
        if pan.settled is None or not pan.loaded or pan.troubles or pan.scale.name in weighing:
            continue
        if facts.counted_on(pan.scale.name) is not None:
            continue
        if line is not None and choice is not None and choice.scale.name == pan.scale.name:
            if _takes_tare(sight, batch, line, pan):
                return do.SeeLoad(pan.scale.name, pan.settled)
        elif isinstance(identify(facts, pan.scale, pan.settled.gross_g, None), SeenTipped):
            return do.SeeLoad(pan.scale.name, pan.settled)
    return None


def _takes_tare(sight: Sight, batch: Batch, line: Line, pan: Pan) -> bool:
    assert pan.settled is not None
    if sight.look(line).troubles:
        return False
    if sight.facts.onto(line.name):  # what stands could be tipped in and be counted as this line
        return sight.facts.stands is None and pan.settled.gross_g >= mix_g(batch) / 2
    if pan.stayed_on:  # accepted by a key and not lifted since: it is no empty vessel
        return False
    seen = identify(sight.facts, pan.scale, pan.settled.gross_g, line.name)
    if isinstance(seen, EmptyVessel) and pan.tipped_line is not None:
        tipped = batch.lines.get(pan.tipped_line)  # None: it is another batch's
        return tipped is not None and not (tipped.addition.alone or line.addition.alone)
    return isinstance(seen, (EmptyVessel, Portioned, SeenTipped))
