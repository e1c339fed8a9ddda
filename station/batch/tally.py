"""Pieces or packs of a batch, weighed one after another, and what they come to. Masses in grams."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from statistics import stdev
from typing import Literal

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
    """`links` and `again` are what was told of the item that is weighed next; `missed` is why the
    last one was not counted."""

    name: str
    what: Literal["pieces", "packs"]
    scale: str
    division_g: Decimal
    begun_at: str
    tare_g: Decimal
    vessel: str | None
    nominal_g: Decimal | None
    lacks_g: Decimal | None
    few: Decimal | None
    source: str | None
    store: str | None
    use_by: str | None
    items: tuple[Item, ...]
    given: int  # the highest number given so far
    links: int | None = None
    again: int | None = None
    missed: str | None = None
    ended: bool = False

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
        if self.nominal_g is None or not self.items:
            return None
        few = int(len(self.items) * (self.few or 0))
        return judge([item.net_g for item in self.items], self.nominal_g, self.lacks_g, few)

    @property
    def called(self) -> str:
        """What they are called on the screen."""
        if self.nominal_g is None:
            return self.name
        return f"pack{'' if self.count == 1 else 's'} of {plain(self.nominal_g)} g"

    def numbered(self, number: int) -> str:
        """One of them, for people."""
        return f"number {number} of {self.name}" if self.nominal_g is None else f"pack {number}"

    def item(self, number: int) -> Item | None:
        return next((item for item in self.items if item.number == number), None)


def spread_g(items: tuple[Item, ...]) -> float | None:
    """Sample standard deviation of the pieces weighed one by one: of a string only the mean is
    known. None for fewer than two."""
    single = [float(item.net_g) for item in items if item.links == 1]
    return stdev(single) if len(single) > 1 else None


def net_of(tally: Tally, gross_g: Decimal) -> Decimal:
    """What is on the pan less its packaging."""
    return gross_g - tally.tare_g


def least_load_g(scale: Scale) -> Decimal:
    """A lighter load is no item: the scale's Min, and never what may be its zero."""
    return max(scale.min_g, scale.near_g)


Bounds = tuple[Fraction, Fraction | None]
"""The least, and the most where there is one, grams."""


def bounds(formula: Formula, tally: Tally) -> Bounds | None:
    """What one of them may weigh: packs by what may lack, pieces by the formula's band; None where
    nothing is said."""
    if tally.nominal_g is not None:
        return Fraction(tally.nominal_g) - Fraction(tally.lacks_g or 0), None
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
