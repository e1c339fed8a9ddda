"""Samples, pieces and packs: the state after what became of the mix."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

from msgspec import structs

from station import units
from station.batch import events as ev
from station.batch.amounts import whole_g
from station.batch.effects.base import effect, with_line
from station.batch.state import Batch
from station.batch.tally import Item, Tally


def _with(batch: Batch, name: str, **changes: Any) -> Batch:
    """The batch with a tally changed."""
    return replace(batch, tallies={**batch.tallies, name: replace(batch.tallies[name], **changes)})


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
def tally_begun(batch: Batch, event: ev.TallyBegun, at: str) -> Batch:
    """One of the name that was ended goes on, on the scale and in the packaging of now."""
    known = batch.tallies.get(event.tally)
    tally = Tally(
        event.tally,
        event.what,
        event.scale,
        event.division_g,
        known.begun_at if known else at,
        event.tare_g,
        event.vessel,
        event.nominal_g,
        event.lacks_g,
        event.few,
        event.source,
        event.store,
        event.use_by,
        items=known.items if known else (),
        given=known.given if known else 0,
    )
    return replace(batch, tallies={**batch.tallies, event.tally: tally})


@effect
def item_weighed(batch: Batch, event: ev.ItemWeighed, at: str) -> Batch:
    tally = batch.tallies[event.tally]
    item = Item(event.number, event.net_g, event.links, event.who, at)
    others = (one for one in tally.items if one.number != event.number)
    items = tuple(sorted((*others, item), key=lambda one: one.number))
    given = max(tally.given, event.number)
    return _with(batch, event.tally, items=items, given=given, links=None, again=None, missed=None)


@effect
def item_missed(batch: Batch, event: ev.ItemMissed, at: str) -> Batch:
    return _with(batch, event.tally, missed=event.why)


@effect
def links_told(batch: Batch, event: ev.LinksTold, at: str) -> Batch:
    return _with(batch, event.tally, links=event.links)


@effect
def item_again(batch: Batch, event: ev.ItemAgain, at: str) -> Batch:
    return _with(batch, event.tally, again=event.number)


@effect
def item_struck(batch: Batch, event: ev.ItemStruck, at: str) -> Batch:
    items = tuple(one for one in batch.tallies[event.tally].items if one.number != event.number)
    return _with(batch, event.tally, items=items, again=None)


@effect
def tally_ended(batch: Batch, event: ev.TallyEnded, at: str) -> Batch:
    return _with(batch, event.tally, ended=True, links=None, again=None, missed=None)
