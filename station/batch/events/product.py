"""What became of the mix: samples tasted, pieces and packs weighed one after another."""

from decimal import Decimal
from typing import Literal

from station.batch.events.base import Event
from station.formula.model import Amount


class SampleTaken(Event, tag="sample-taken", frozen=True):
    """A sample of the mix left the batch to be cooked and tasted, and a part of everything with it.
    `scale` None: the weight was read and typed. `advice`: what was said of cooking it."""

    net_g: Decimal
    scale: str | None
    division_g: Decimal
    raw: str
    advice: str
    who: str
    vessel: str | None = None


class Tasted(Event, tag="tasted", frozen=True):
    """After tasting, more of a line is wished: `wished` of the meat in all. `amount` is what the
    line is weighed to for it, `was_g` what of it was in the mix."""

    line: str
    wished: Decimal
    amount: Amount
    was_g: Decimal
    who: str


class TastingEnded(Event, tag="tasting-ended", frozen=True):
    """It tastes as it should, or as was wished."""

    who: str


class CasingTaken(Event, tag="casing-taken", frozen=True):
    """Casing of a lot was taken to be filled; `length_m` None where nobody measured it."""

    casing: str
    lot: str | None
    length_m: Decimal | None
    who: str


class LeftoverKept(Event, tag="leftover-kept", frozen=True):
    """What is left of the mix was weighed and put away, as a `lot` of its own."""

    lot: str
    net_g: Decimal
    gross_g: Decimal
    tare_g: Decimal
    scale: str
    division_g: Decimal
    raw: str
    who: str
    vessel: str | None = None


class WaterChanged(Event, tag="water-changed", frozen=True):
    """The water of what soaks was changed once more."""

    step: str
    who: str


Counted = Literal["pieces", "packs", "dried"]


class TallyBegun(Event, tag="tally-begun", frozen=True):
    """Pieces or packs are weighed on `scale` from now on, each in packaging of `tare_g`, and
    counted under `tally`. Of packs: what is stated on them, what one may lack by which law (None
    where none was read), the share of them that may lack more, where and until when they are kept
    (YYYY-MM-DD). `dried`: the pieces `of` that name, which have hung since, are weighed again.
    `odd`: what is left over when the pieces are filled, of whatever weight."""

    tally: str
    what: Counted
    scale: str
    division_g: Decimal
    who: str
    tare_g: Decimal = Decimal(0)
    vessel: str | None = None
    nominal_g: Decimal | None = None
    lacks_g: Decimal | None = None
    few: Decimal | None = None
    source: str | None = None
    store: str | None = None
    use_by: str | None = None
    of: str | None = None
    odd: bool = False


class ItemWeighed(Event, tag="item-weighed", frozen=True):
    """One piece, string or pack was taken off the pan: `links` pieces in it. `number` counts from
    1; one that is there already was weighed again, and this takes its place."""

    tally: str
    number: int
    net_g: Decimal
    gross_g: Decimal
    raw: str
    links: int
    who: str


class ItemMissed(Event, tag="item-missed", frozen=True):
    """Something was taken off the pan and not counted: its weight was not sure."""

    tally: str
    gross_g: Decimal
    why: str


class LinksTold(Event, tag="links-told", frozen=True):
    """What is weighed next is a string of so many links."""

    tally: str
    links: int
    who: str


class ItemAgain(Event, tag="item-again", frozen=True):
    """What is weighed next is that number once more."""

    tally: str
    number: int
    who: str


class ItemStruck(Event, tag="item-struck", frozen=True):
    """A number counts no more."""

    tally: str
    number: int
    reason: str
    who: str


class TallyEnded(Event, tag="tally-ended", frozen=True):
    tally: str
    who: str
