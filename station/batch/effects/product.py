"""Samples, pieces and packs: the state after what became of the mix."""

from fractions import Fraction
from typing import Any

from msgspec import structs

from station import units
from station.batch import events as ev
from station.batch.amounts import whole_g
from station.batch.change import replace
from station.batch.effects.base import effect, with_line
from station.batch.state import Batch
from station.batch.tally import Tally, gone_on, struck, weighed


def _with(batch: Batch, tally: Tally, **changes: Any) -> Batch:
    """The batch with a tally put in its place."""
    changed = replace(tally, **changes) if changes else tally
    return replace(batch, tallies={**batch.tallies, tally.name: changed})


@effect
def sample_taken(batch: Batch, event: ev.SampleTaken, at: str) -> Batch:
    """A part of everything leaves: the composition stays."""
    taken = Fraction(event.net_g) / whole_g(batch)
    kept = units.rounded(Fraction(batch.kept) - taken, 12, up=False)
    sampled = batch.sampled_g + event.net_g
    return replace(batch, kept=kept, sampled_g=sampled, tasting=event.advice)


@effect
def tasted(batch: Batch, event: ev.Tasted, at: str) -> Batch:
    line = batch.lines[event.line]
    addition = structs.replace(line.addition, amount=event.amount)
    return with_line(batch, event.line, addition=addition, wished=event.wished)


@effect
def tasting_ended(batch: Batch, event: ev.TastingEnded, at: str) -> Batch:
    return replace(batch, tasting=None)


@effect
def casing_taken(batch: Batch, event: ev.CasingTaken, at: str) -> Batch:
    at_of = {**batch.casings_at, event.lot: at} if event.lot else batch.casings_at
    return replace(batch, casings=(*batch.casings, event), casings_at=at_of)


@effect
def leftover_kept(batch: Batch, event: ev.LeftoverKept, at: str) -> Batch:
    return replace(batch, left_over=(*batch.left_over, event))


@effect
def water_changed(batch: Batch, event: ev.WaterChanged, at: str) -> Batch:
    count = batch.changes.get(event.step, 0) + 1
    return replace(batch, changes={**batch.changes, event.step: count})


@effect
def tally_begun(batch: Batch, event: ev.TallyBegun, at: str) -> Batch:
    return _with(batch, gone_on(batch.tallies.get(event.tally), event, at))


@effect
def item_weighed(batch: Batch, event: ev.ItemWeighed, at: str) -> Batch:
    return _with(batch, weighed(batch.tallies[event.tally], event, at))


@effect
def item_missed(batch: Batch, event: ev.ItemMissed, at: str) -> Batch:
    return _with(batch, batch.tallies[event.tally], missed=event.why)


@effect
def links_told(batch: Batch, event: ev.LinksTold, at: str) -> Batch:
    return _with(batch, batch.tallies[event.tally], links=event.links)


@effect
def item_again(batch: Batch, event: ev.ItemAgain, at: str) -> Batch:
    return _with(batch, batch.tallies[event.tally], again=event.number)


@effect
def item_struck(batch: Batch, event: ev.ItemStruck, at: str) -> Batch:
    return _with(batch, struck(batch.tallies[event.tally], event))


@effect
def tally_ended(batch: Batch, event: ev.TallyEnded, at: str) -> Batch:
    tally = batch.tallies[event.tally]
    return _with(batch, tally, ended=True, links=None, again=None, missed=None)
