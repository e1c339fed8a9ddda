"""From what the pans show to what is to be decided about it: the commands that no hand gives.

Level-triggered: asked again after every reading, it names the same thing until a decision has
changed the state, so nothing is lost when a decision fails.
"""

from station.batch.plan import limits_on, mix_g, onto
from station.batch.progress import current
from station.batch.state import Batch, Line, Station
from station.pan.view import Pan
from station.weighing import commands as do
from station.weighing import meat, mix
from station.weighing.additions import turn
from station.weighing.blocked import bench_choice, line_troubles
from station.weighing.commands import Command, Pans
from station.weighing.lateness import lag_seen
from station.weighing.vessels import EmptyVessel, SeenTipped, identify


def notice(station: Station, pans: Pans) -> Command | None:
    """The next thing the pans show that wants a decision, or None."""
    if (seen := _on_any_bench(station, pans)) is not None:
        return seen
    batch = station.open
    if batch is None:
        return None
    for line in batch.lines.values():
        if line.voiding is not None and mix.voidable(line, pans):
            return do.SeeVoidable(line.name)
        if line.tare is not None and line.voiding is not None:
            there = pans.get(line.tare.scale)
            if there is not None and there.lift is not None and not line.tare.onto:
                return do.SeeLift(line.name, there.scale.name)
        if line.tare is not None and line.voiding is None:
            weighing = _weighing(station, batch, line, pans)
            if weighing is not None:
                return weighing
    return _load(station, batch, pans)


def _on_any_bench(station: Station, pans: Pans) -> Command | None:
    """What the pans show whatever batch is at the bench."""
    for name, pan in pans.items():
        if whose := mix.undershot_in(station, pan):
            return do.SeeUndershot(name, whose[0], last=len(whose) == 1)
    if (tub := meat.seen_tub(station, pans)) is not None:
        return tub
    return next((do.SeeLag(name) for name, pan in pans.items() if lag_seen(station, pan)), None)


def _weighing(station: Station, batch: Batch, line: Line, pans: Pans) -> Command | None:
    """The lift or the overpour of the weighing under way."""
    assert line.tare is not None
    pan = pans.get(line.tare.scale)
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
    if pan.settled is None or not pan.loaded or line_troubles(station, batch, line, pans):
        return None
    net = pan.settled.gross_g - line.tare.tare_g + line.actual_g
    over = net > limits_on(batch, line.name, pan.scale, 1).accept_upper
    if over and (line.over_g is None or net > line.over_g + pan.scale.near_g):
        return do.SeeOver(line.name, net)
    return None


def _load(station: Station, batch: Batch, pans: Pans) -> Command | None:
    """A load without a tare: the vessel of the line whose turn it is, or a tipped one."""
    if current(batch) in batch.meats:
        return None
    weighing = {line.tare.scale for line in batch.lines.values() if line.tare}
    line = turn(batch)
    choice = bench_choice(station, line.name, pans) if line else None
    for name, pan in pans.items():
        if name in weighing or pan.settled is None or not pan.loaded or pan.troubles:
            continue
        if line is not None and choice is not None and choice.scale.name == name:
            if _takes_tare(station, batch, line, pan, pans):
                return do.SeeLoad(name, pan.settled)
        elif isinstance(identify(station, pan.scale, pan.settled.gross_g, None), SeenTipped):
            return do.SeeLoad(name, pan.settled)
    return None


def _takes_tare(station: Station, batch: Batch, line: Line, pan: Pan, pans: Pans) -> bool:
    assert pan.settled is not None
    if line_troubles(station, batch, line, pans):
        return False
    if onto(station, line.name):  # what stands could be tipped in and be counted as this line
        stands = any(other.standing for other in batch.lines.values())
        return not stands and pan.settled.gross_g >= mix_g(batch) / 2
    if pan.stayed_on:  # accepted by a key and not lifted since: it is no empty vessel
        return False
    seen = identify(station, pan.scale, pan.settled.gross_g, line.name)
    if isinstance(seen, EmptyVessel) and pan.tipped_line is not None:
        tipped = batch.lines.get(pan.tipped_line)  # None: it is another batch's
        return tipped is not None and not (tipped.addition.alone or line.addition.alone)
    return isinstance(seen, (EmptyVessel, SeenTipped))
