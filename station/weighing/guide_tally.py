"""What the bench hand is told while pieces or packs are counted."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from station.batch.drying import Dried, dried
from station.batch.state import Batch
from station.batch.tally import Tally, bounds, net_of
from station.pan.view import Pan
from station.units import plain, shown
from station.weighing.blocked import no_scale
from station.weighing.sight import Sight
from station.weighing.words import Guide, Word, blocked


def tally(sight: Sight, batch: Batch, counted: Tally) -> Guide:
    """What to do on the scale of the count."""
    begun = counted.begun
    target = begun.nominal_g if begun.what == "packs" else None
    target = batch.formula.piece_g if begun.what == "pieces" and not begun.odd else target
    low, high = bounds(batch.formula, counted) or (None, None)
    told = Guide(
        sight.facts.phase,
        "SET DOWN",
        _so_far(batch, counted),
        _next(batch, counted),
        counted.name,
        begun.what,
        scale=counted.scale,
        division_g=begun.division_g,
    )
    if counted.links is None and target is not None:
        told = replace(told, target_g=Fraction(target), lower_g=low, upper_g=high)
    pan = sight.pans.get(counted.scale)
    if pan is None or pan.troubles:
        return blocked(told, pan.troubles if pan else (no_scale(counted.scale),))
    if pan.loaded or pan.settled is None:
        return _loaded(told, counted, pan)
    if counted.missed is not None:
        sentence, step = f"not counted: {counted.missed}", "set it down again, or go on without it"
        return replace(told, word="PUT BACK", sentence=sentence, next=step)
    if counted.again is not None:
        return replace(told, sentence=f"{counted.numbered(counted.again)} again")
    if stray := sight.facts.strays:
        weight = shown(stray[0].each_g, begun.division_g)
        worst = counted.numbered(stray[0].number)
        sentence = f"{worst} weighed {weight} g: open it again; {told.sentence}"
        return replace(told, sentence=sentence)
    return told


def _loaded(told: Guide, counted: Tally, pan: Pan) -> Guide:
    """Something is on the pan."""
    what = counted.numbered(counted.next_number)
    if counted.links:
        what = f"a string of {counted.links} {counted.name}"
    if pan.settled is None:
        return replace(told, word="WAIT", sentence=what, next="let it come to rest")
    net = net_of(counted, pan.settled.gross_g)
    word, step = _judged(told, net)
    sentence = f"{what}: {shown(net, counted.begun.division_g)} g"
    return replace(told, word=word, net_g=net, sentence=sentence, next=step)


def _judged(told: Guide, net: Decimal) -> tuple[Word, str]:
    """The word for a weight, and what to do."""
    if told.lower_g is not None and net < told.lower_g:
        return "POUR", "put more in; taking it off counts it as it is"
    if told.upper_g is not None and net > told.upper_g:
        return "TAKE OUT", "take some out; taking it off counts it as it is"
    return "IN BAND", "taking it off counts it"


def _next(batch: Batch, counted: Tally) -> str:
    again = dried(batch, counted)
    if again is not None and again.whole:
        return "all of them are weighed: end"
    return "set one down; end when that is all"


def _so_far(batch: Batch, counted: Tally) -> str:
    if (weighed_again := dried(batch, counted)) is not None:
        return _lost(batch, weighed_again)
    if counted.mean_g is None:
        return f"{counted.called}: none yet"
    division = counted.begun.division_g
    mean = shown(counted.mean_g, division)
    told = f"{counted.count} {counted.called}, {mean} g each on average"
    lacks = Fraction(counted.begun.nominal_g or 0) - counted.mean_g
    if lacks > 0:
        told += f", {shown(lacks, division)} g too little"
    return told


def _lost(batch: Batch, weighed: Dried) -> str:
    """Of pieces that have hung: how many were weighed, and what all of them lost."""
    green, now = weighed.green, weighed.now
    told = f"{now.count} of {green.count} {green.name}, {shown(now.net_g, now.begun.division_g)} g"
    if weighed.loss is None:
        return told
    if weighed.loss < 0:
        return f"{told}: more than when they were counted; are they the same?"
    planned = batch.formula.loss
    of = f", {plain(planned * 100)} % is planned" if planned else ""
    return f"{told}: {plain(round(weighed.loss * 100, 1))} % is lost{of}"
