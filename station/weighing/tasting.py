"""A sample of the mix: it leaves with a part of everything, and what is wished after tasting is
weighed like any line. Nothing comes out of a mix again."""

from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.amounts import whole_g
from station.batch.line import Line
from station.batch.state import Batch
from station.batch.tally import least_load_g
from station.formula.model import Amount
from station.metrology.band import tolerance
from station.units import plain, rounded, shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.facts import Facts
from station.weighing.sight import Sight

MOST_OF_THE_MIX = Fraction(1, 4)
"""A sample of more is asked about: what is tasted is some patties, not a batch (the house's)."""
CORRECTED = ("salt", "seasoning", "sweetener")
"""Roles of lines that are corrected on taste."""


@decides
def sample(sight: Sight, command: do.TakeSample) -> Decision:
    """A sample leaves with a part of everything, once all is in and nothing is filled."""
    batch = sight.facts.open_batch()
    _must_be_mixed(sight.facts)
    if command.scale is not None and command.net_g is None:
        taken = _weighed(sight, batch, command, command.scale)
    elif command.net_g is not None and command.scale is None:
        taken = ev.SampleTaken(command.net_g, None, Decimal(0), "", command.advice, batch.who)
    else:
        raise Refusal("bad-params", "a sample is weighed, or its weight typed", "say one of both")
    left = whole_g(batch) * Fraction(batch.kept)
    if not 0 < taken.net_g <= left * MOST_OF_THE_MIX:
        what = f"{plain(taken.net_g)} g of {plain(round(left, 1))} g in the mix is no sample"
        raise Refusal("no-sample", what, "up to a quarter of the mix")
    return Decision((taken,), answer=f"{plain(taken.net_g)} g: {command.advice}")


def _must_be_mixed(facts: Facts) -> None:
    """Raise unless all is in the mix, and nothing of it filled."""
    if (refusal := facts.why_not_mixed) is not None:
        raise refusal
    if (apart := facts.open_batch().apart) is not None:
        raise Refusal("filled", apart, "taste one of the pieces")


def _weighed(sight: Sight, batch: Batch, command: do.TakeSample, scale: str) -> ev.SampleTaken:
    pan, tare_g = sight.well(scale), Decimal(0)
    if command.vessel is not None:
        tare_g = sight.facts.vessel(command.vessel, "weigh it on paper").empty_g
    if pan.settled is None or pan.settled.gross_g - tare_g < least_load_g(pan.scale):
        step = f"at least {plain(least_load_g(pan.scale))} g, and wait"
        raise Refusal("not-settled", f"no sample has settled on {scale}", step)
    net_g, raw = pan.settled.gross_g - tare_g, pan.settled.raw
    division = pan.scale.division_g
    return ev.SampleTaken(net_g, scale, division, raw, command.advice, batch.who, command.vessel)


@decides
def wish(sight: Sight, command: do.Wish) -> Decision:
    """More of a line: worked out to what is left of the mix, then weighed like any line."""
    batch, line = sight.facts.open_batch(), sight.facts.addition(command.line)
    if not batch.sampled_g:
        raise Refusal("no-sample", "no sample was taken", "take one first, and taste it", line.name)
    _must_be_mixed(sight.facts)
    if line.addition.role not in CORRECTED or batch.regulated(line.name):
        what = f"{line.name} is not corrected on taste"
        raise Refusal("not-on-taste", what, "only salt, seasonings and sweeteners are", line.name)
    if not line.loads or line.unknown:
        what = f"nobody knows how much {line.name} is in the mix"
        raise Refusal("unknown-amount", what, "it cannot be corrected", line.name)
    brought = batch.brought_g(line.name)
    there = line.counts_g + brought
    more = Fraction(command.share) * Fraction(batch.meat_g) - there
    if more <= 0:
        has = plain(rounded(there * 100 / Fraction(batch.meat_g), 2, up=False))
        what = f"{has} % of {line.name} is in the mix: nothing comes out again"
        raise Refusal("less", what, "write less into the formula for the next batch", line.name)
    target = Fraction(line.actual_g) + more / Fraction(batch.worth)
    _must_be_more(batch, line, target)
    percent = f"{plain(command.share * 100)} %"
    grams = rounded(target + brought, 6, up=False)  # the line's target is less what was brought
    amount = Amount(f"{percent} after tasting", "meat", grams, batch.meat_g)
    event = ev.Tasted(line.name, command.share, amount, line.actual_g, batch.who)
    short = shown(target - Fraction(line.actual_g), line.grid_g)
    return Decision((event,), answer=f"{short} g more {line.name} make {percent} of the meat")


def _must_be_more(batch: Batch, line: Line, target: Fraction) -> None:
    """Raise where what is wished is in the mix already, as far as a weighing can tell."""
    if Fraction(line.actual_g) >= tolerance(target, batch.band(line.name))[0]:
        what = f"{line.name} is inside its band for that already"
        raise Refusal("in-band", what, "wish more, or leave it", line.name)


@decides
def tasted(sight: Sight, command: do.EndTasting) -> Decision:
    """Tasting is over."""
    batch = sight.facts.open_batch()
    if batch.tasting is None:
        raise Refusal("not-tasting", "nothing is tasted now", "take a sample first")
    return Decision((ev.TastingEnded(batch.who),), answer="it is as it should be")
