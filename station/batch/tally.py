"""Pieces or packs of a batch, weighed one after another, and what they come to. Masses in grams."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from statistics import stdev

from station.batch import events as ev
from station.batch.change import replace
from station.formula.model import Formula
from station.formula.packs import Judged, judge
from station.metrology.band import tolerance
from station.metrology.scale import Scale
from station.units import plain


@dataclass(frozen=True, slots=True)
class Item:
    """One piece, a string of `links` pieces, or a pack."""

    number: int
    net_g: Decimal
    links: int
    who: str
    at: str

    @property
    def each_g(self) -> Fraction:
        """What one piece of it weighs, on average."""
        return Fraction(self.net_g) / self.links


@dataclass(frozen=True, slots=True)
class Tally:
    """`begun` is how it was begun last, `begun_at` when it was begun first. `links` and `again` are
    what was told of the item that is weighed next; `missed` is why the last one was not counted."""

    begun: ev.TallyBegun
    begun_at: str
    items: tuple[Item, ...] = ()
    given: int = 0  # the highest number given so far
    links: int | None = None
    again: int | None = None
    missed: str | None = None
    ended: bool = False

    @property
    def name(self) -> str:
        return self.begun.tally

    @property
    def scale(self) -> str:
        return self.begun.scale

    @property
    def next_number(self) -> int:
        """The number of what is weighed next."""
        return self.again or self.given + 1

    @property
    def count(self) -> int:
        """Pieces or packs so far."""
        return sum(item.links for item in self.items)

    @property
    def net_g(self) -> Decimal:
        return sum((item.net_g for item in self.items), Decimal(0))

    @property
    def mean_g(self) -> Fraction | None:
        """Of one piece or pack; None before there is one."""
        return Fraction(self.net_g) / self.count if self.items else None

    @property
    def judged(self) -> Judged | None:
        """Packs by the three rules; None for pieces, and before there is one."""
        begun = self.begun
        if begun.nominal_g is None or not self.items:
            return None
        few = int(len(self.items) * (begun.few or 0))
        return judge([item.net_g for item in self.items], begun.nominal_g, begun.lacks_g, few)

    @property
    def called(self) -> str:
        """What they are called on the screen."""
        nominal_g = self.begun.nominal_g
        if nominal_g is None:
            return self.name
        return f"pack{'' if self.count == 1 else 's'} of {plain(nominal_g)} g"

    def numbered(self, number: int) -> str:
        """One of them, for people."""
        of_pieces = self.begun.nominal_g is None
        return f"number {number} of {self.name}" if of_pieces else f"pack {number}"

    def item(self, number: int) -> Item | None:
        return next((item for item in self.items if item.number == number), None)


def gone_on(tally: Tally | None, begun: ev.TallyBegun, at: str) -> Tally:
    """One of the name that was ended goes on, on the scale and in the packaging of now."""
    if tally is None:
        return Tally(begun, at)
    return replace(tally, begun=begun, ended=False)


def weighed(tally: Tally, event: ev.ItemWeighed, at: str) -> Tally:
    """One that was weighed again counts once."""
    item = Item(event.number, event.net_g, event.links, event.who, at)
    others = (one for one in tally.items if one.number != event.number)
    items = tuple(sorted((*others, item), key=lambda one: one.number))
    given = max(tally.given, event.number)
    return replace(tally, items=items, given=given, links=None, again=None, missed=None)


def struck(tally: Tally, event: ev.ItemStruck) -> Tally:
    """Without the one that does not count."""
    items = tuple(one for one in tally.items if one.number != event.number)
    return replace(tally, items=items, again=None)


def spread_g(items: tuple[Item, ...]) -> float | None:
    """Sample standard deviation of the pieces weighed one by one: of a string only the mean is
    known. None for fewer than two."""
    single = [float(item.net_g) for item in items if item.links == 1]
    return stdev(single) if len(single) > 1 else None


def net_of(tally: Tally, gross_g: Decimal) -> Decimal:
    """What is on the pan less its packaging."""
    return gross_g - tally.begun.tare_g


def least_load_g(scale: Scale) -> Decimal:
    """A lighter load is no item: the scale's Min, and never what may be its zero."""
    return max(scale.min_g, scale.near_g)


Bounds = tuple[Fraction, Fraction | None]
"""The least, and the most where there is one, grams."""


def bounds(formula: Formula, tally: Tally) -> Bounds | None:
    """What one of them may weigh: packs by what may lack, pieces by the formula's band; None where
    nothing is said, of the odd end, and of pieces that have dried."""
    nominal_g, lacks_g = tally.begun.nominal_g, tally.begun.lacks_g
    if nominal_g is not None:
        return Fraction(nominal_g) - Fraction(lacks_g or 0), None
    if tally.begun.what != "pieces" or tally.begun.odd:
        return None
    if formula.piece_g is None or formula.piece_band is None:
        return None
    return tolerance(Fraction(formula.piece_g), formula.piece_band)


def strays(formula: Formula, tally: Tally) -> list[Item]:
    """Those that weigh less or more than they may, the furthest off first: to be opened again."""
    found = bounds(formula, tally)
    if found is None:
        return []
    low, high = found

    def off(item: Item) -> Fraction:
        under = low - item.each_g
        return under if high is None else max(under, item.each_g - high)

    return sorted((item for item in tally.items if off(item) > 0), key=lambda item: -off(item))
