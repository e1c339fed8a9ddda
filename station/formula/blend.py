"""Meats of different fat to one fat: how much of each. Exact, in `Fraction`.

Two meats of fat a < b give t with (b - t) / (b - a) of the first: the balance of fat, which the
trade draws as a square (common practice).
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import product
from typing import NamedTuple


class Stock(NamedTuple):
    """A meat at hand: its share of the formula's meat and its fat, as fractions; a kg's price."""

    name: str
    share: Fraction
    fat: Fraction
    price: Fraction | None = None


class OutOfReachError(ValueError):
    """No blend has that fat; `low` and `high` are the least and the most that there can be."""

    def __init__(self, low: Fraction, high: Fraction) -> None:
        super().__init__("no blend of these meats has that fat")
        self.low, self.high = low, high


Shares = Mapping[str, Fraction]


def as_the_formula(meats: Sequence[Stock], fat: Fraction) -> Shares:
    """Shares of all meats that have `fat` together: the leaner ones keep their proportions among
    each other, the fatter ones theirs, and one of just that fat its share.

    Raises `OutOfReachError`.
    """
    _reach(meats, fat)
    lean = [meat for meat in meats if meat.fat < fat]
    rich = [meat for meat in meats if meat.fat > fat]
    even = [meat for meat in meats if meat.fat == fat]
    if not lean or not rich:
        return _proportional(even, meats, Fraction(1))
    left = 1 - _total(even)
    low, high = _mean_fat(lean), _mean_fat(rich)
    leaner = left * (high - fat) / (high - low)
    found = {**_proportional(lean, meats, leaner), **{m.name: m.share for m in even}}
    fatter = _proportional(rich, meats, left - leaner)
    return {m.name: fatter[m.name] if m in rich else found[m.name] for m in meats}


def cheapest(meats: Sequence[Stock], fat: Fraction) -> Shares:
    """The shares that cost least and have `fat`; of as cheap ones those of the meats named first.

    The cheapest of a linear problem with two equations (all of it, its fat) needs two meats at
    most, so each pair is tried. Raises `OutOfReachError`, or `ValueError` for a meat without a
    price.
    """
    _reach(meats, fat)
    if unpriced := [meat.name for meat in meats if meat.price is None]:
        raise ValueError(f"no price of {', '.join(unpriced)}")
    lean = [meat for meat in meats if meat.fat <= fat]
    rich = [meat for meat in meats if meat.fat >= fat]
    tried = [_pair(one, other, fat) for one, other in product(lean, rich)]
    best = min(tried, key=lambda shares: price_of(meats, shares))
    return {meat.name: best.get(meat.name, Fraction(0)) for meat in meats}


def price_of(meats: Sequence[Stock], shares: Shares) -> Fraction:
    """What a kg of the blend costs. A meat without a price counts as none: ask for all first."""
    return sum((shares.get(m.name, Fraction(0)) * (m.price or 0) for m in meats), Fraction(0))


def fat_of(meats: Sequence[Stock], shares: Shares) -> Fraction:
    """The fat of a blend, as a fraction of it."""
    return sum((shares.get(meat.name, Fraction(0)) * meat.fat for meat in meats), Fraction(0))


def in_percent(shares: Shares) -> dict[str, Fraction]:
    """Shares in percent to two decimals that add up to 100 again: the rest goes to those that
    rounding down took most from, the first of as many."""
    cents = {name: share * 10_000 for name, share in shares.items()}
    whole = {name: int(cent) for name, cent in cents.items()}
    missing = 10_000 - sum(whole.values())
    for name in sorted(cents, key=lambda name: whole[name] - cents[name])[:missing]:
        whole[name] += 1
    return {name: Fraction(cent, 100) for name, cent in whole.items()}


def _pair(lean: Stock, rich: Stock, fat: Fraction) -> dict[str, Fraction]:
    if lean.fat == rich.fat:
        return {lean.name: Fraction(1)}
    leaner = (rich.fat - fat) / (rich.fat - lean.fat)
    return {lean.name: leaner, rich.name: 1 - leaner}


def _reach(meats: Sequence[Stock], fat: Fraction) -> None:
    low, high = min(meat.fat for meat in meats), max(meat.fat for meat in meats)
    if not low <= fat <= high:
        raise OutOfReachError(low, high)


def _total(meats: Sequence[Stock]) -> Fraction:
    return sum((meat.share for meat in meats), Fraction(0))


def _mean_fat(meats: Sequence[Stock]) -> Fraction:
    return sum((meat.share * meat.fat for meat in meats), Fraction(0)) / _total(meats)


def _proportional(
    some: Sequence[Stock], meats: Sequence[Stock], much: Fraction
) -> dict[str, Fraction]:
    """`much` parted among some of the meats as the formula does; none of the others."""
    total = _total(some)
    return {m.name: m.share * much / total if m in some else Fraction(0) for m in meats}
