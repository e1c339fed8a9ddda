"""The jar weighed before and after: what it lost and what the cup gained must be the same. It tells
where they are not; it never blocks and never corrects a weight."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.line import Line
from station.metrology.scale import Scale
from station.metrology.uncertainty import expanded
from station.units import plain
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight
from station.weighing.vessels import like_record

TOLD_FROM = Decimal("0.02")
"""Share of what the cup gained that may be lost on the way unasked."""


@decides
def weigh_jar(sight: Sight, command: do.WeighJar) -> Decision:
    """Take the weight of the jar; the second one is compared with what was weighed out of it."""
    batch, line = sight.facts.open_batch(), sight.facts.addition(command.line)
    if not batch.regulated(line.name):
        what = f"{line.name} is not regulated: its jar tells nothing"
        raise Refusal("no-jar", what, "go on", line.name)
    pan = sight.well(command.scale, line.name)
    if any(other.tare and other.tare.scale == command.scale for other in batch.lines.values()):
        what = f"something is being weighed on {command.scale}"
        raise Refusal("under-way", what, "weigh the jar on another scale, or first", line.name)
    on_pan = Decimal(0)
    if (tare := line.tare) is not None:
        cup = sight.pans.get(tare.scale)
        if (
            cup is None
            or cup.settled is None
            or cup.settled.gross_g < tare.tare_g - cup.scale.near_g
        ):
            what = f"{line.name} is being weighed: what is in its cup is not seen"
            raise Refusal("under-way", what, f"put it back on {tare.scale}", line.name)
        on_pan = max(cup.settled.gross_g - tare.tare_g, on_pan)
    if pan.settled is None or not pan.loaded:
        what = f"nothing settled on {command.scale}"
        raise Refusal("not-settled", what, "set the jar down, and wait", line.name)
    _must_be_no_vessel(sight, line, pan.settled.gross_g, pan.scale)
    weighed = ev.JarWeighed(
        line.name,
        command.scale,
        pan.scale.division_g,
        pan.settled.gross_g,
        pan.settled.raw,
        batch.who,
        gained_g=_gained_g(line) + on_pan,
    )
    answer = f"the jar of {line.name} weighs {plain(pan.settled.gross_g)} g"
    doubted = line.in_doubt_g
    if doubted and line.jars and _went_back(line.jars[-1], weighed, doubted):
        settled = ev.DoubtSettled(line.name, "jar", "its content is in the jar again", batch.who)
        return Decision((weighed, settled), happened=True, answer=f"{answer}: all is back in it")
    if not line.jars or len(line.jars) % 2 == 0:
        return Decision((weighed,), answer=f"{answer}; weigh it again afterwards")
    told = difference(line, line.jars[-1], weighed)
    if told is None:
        return Decision((weighed,), answer=f"{answer}: it lost what the cup gained")
    return Decision((weighed, ev.Warned(line.name, "jar", told)), answer=f"{answer}; {told}")


def _must_be_no_vessel(sight: Sight, line: Line, gross_g: Decimal, scale: Scale) -> None:
    """Raise for what may be a vessel on record, empty or with just what is in doubt: a cup would
    prove whatever is poured into it."""
    for vessel in sight.station.vessels.values():
        for content in (Decimal(0), line.in_doubt_g):
            if like_record(vessel, gross_g - content, scale, None, True):
                step = "set the jar down, or let a second person say where it went"
                what = f"this may be {vessel.name}, and no jar"
                raise Refusal("no-jar", what, step, line.name)


def difference(line: Line, before: ev.JarWeighed, after: ev.JarWeighed) -> str | None:
    """A sentence where the jar lost more, or less, than the cups gained by more than both
    uncertainties and 2 %; None where it did not."""
    lost = before.gross_g - after.gross_g
    gained = after.gained_g - before.gained_g
    uncertain = expanded([max(before.division_g, after.division_g)])
    uncertain += expanded([load.division_g for load in line.loads])
    apart = abs(lost - gained)
    if apart <= uncertain or apart <= TOLD_FROM * gained:
        return None
    return f"the jar lost {plain(lost)} g and the cup gained {plain(gained)} g"


def jar_proves(line: Line, content_g: Decimal) -> bool:
    """Whether the last two weighings of the jar show that so much went back into it."""
    return len(line.jars) > 1 and _went_back(line.jars[-2], line.jars[-1], content_g)


def _went_back(before: ev.JarWeighed, after: ev.JarWeighed, content_g: Decimal) -> bool:
    """Whether the jar is heavier by `content_g`, grams, than it is without what the cups gained of
    it: within the uncertainty of both weighings, or 2 % (common practice) where that is more."""
    heavier = after.gross_g - before.gross_g + after.gained_g - before.gained_g
    uncertain = expanded([before.division_g, after.division_g])
    return abs(heavier - content_g) <= max(uncertain, TOLD_FROM * content_g)


def _gained_g(line: Line) -> Decimal:
    """All that the line's cups gained so far, grams, what left them again included."""
    weighed = sum((load.net_g or Decimal(0) for load in line.loads), Decimal(0))
    return weighed + line.in_doubt_g
