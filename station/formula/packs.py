"""Packs of a stated weight: how much less one may hold, and the three rules that a batch of them is
judged by. What is tolerated stands in packs.toml, by authority."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from station import units
from station.formula import quantities
from station.formula.limits import AUTHORITIES
from station.tomlfile import Table, TomlFile

FILE = "packs.toml"
PER_DIVISION = 6
"""A scale that checks packs has a division of at most a sixth of what a pack may lack (NIST
Handbook 133, chapter 2: 7.2 g for a pack of 113 g make 1.2 g, so 1 g will do)."""


@dataclass(frozen=True, slots=True)
class Tier:
    """Packs up to `upto_g` grams (None: all above) may lack so many grams, or where `of_weight` so
    large a share of their weight."""

    upto_g: Decimal | None
    lacks: Decimal
    of_weight: bool


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What one law tolerates: `few`, the share of all packs that may be short by more than that;
    `from_g`, the lightest pack of which it says anything."""

    source: str
    few: Decimal
    from_g: Decimal
    steps: tuple[Tier, ...]

    def of(self, nominal_g: Decimal) -> Decimal | None:
        """How much a pack of that weight may lack, grams, shares rounded up to 0.1 g; None where
        nothing is said of so light a pack."""
        if nominal_g < self.from_g:
            return None
        step = next(s for s in self.steps if s.upto_g is None or nominal_g <= s.upto_g)
        if not step.of_weight:
            return step.lacks
        return units.rounded(Fraction(nominal_g) * Fraction(step.lacks), 1, up=True)


@dataclass(frozen=True, slots=True)
class Judged:
    """Packs by the three rules; `short` lack more than is tolerated, `far_short` more than twice
    that. `misses`: each rule that is not kept, in words; `verdict` is None where no law was
    read."""

    count: int
    mean_g: Fraction
    short: int
    far_short: int
    verdict: Literal["in", "out"] | None
    misses: tuple[str, ...] = ()


def judge(
    nets_g: Sequence[Decimal], nominal_g: Decimal, lacks_g: Decimal | None, few: int
) -> Judged:
    """The packs that were weighed, at least one, net grams. `lacks_g`: what one may lack, None
    where no law was read; `few`: so many may lack more.

    The average is at least what is stated, few lack more than `lacks_g`, none more than twice that
    (SI 2006/659 = Directive 76/211/EEC).
    """
    nominal, mean = Fraction(nominal_g), sum(map(Fraction, nets_g), Fraction(0)) / len(nets_g)
    if lacks_g is None:
        return Judged(len(nets_g), mean, 0, 0, None)
    missing = [nominal_g - net for net in nets_g]
    far = sum(by > 2 * lacks_g for by in missing)
    short = sum(by > lacks_g for by in missing) - far
    return Judged(len(nets_g), mean, short, far, *_verdict(mean, nominal, short, far, few))


def _verdict(
    mean: Fraction, nominal: Fraction, short: int, far: int, few: int
) -> tuple[Literal["in", "out"], tuple[str, ...]]:
    misses = []
    if mean < nominal:
        by = units.plain(units.rounded(nominal - mean, 1, up=True))
        misses.append(f"the average lacks {by} g")
    if short > few:
        misses.append(f"{short} lack more than is tolerated, {few} may")
    if far:
        misses.append(f"{far} lack more than twice what is tolerated, none may")
    return ("out" if misses else "in"), tuple(misses)


def fit_to_check(division_g: Decimal, lacks_g: Decimal) -> bool:
    """Whether a scale is fine enough to tell a short pack."""
    return division_g * PER_DIVISION <= lacks_g


def parse_shortfalls(text: str, filename: str) -> dict[str, Shortfall]:
    """Authority -> what it tolerates. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    found: dict[str, Shortfall] = {}
    for table in file.top.tables("shortfall"):
        authorities = table.texts("authorities")
        table.known("authorities", authorities, AUTHORITIES)
        row = _shortfall(table)
        for authority in authorities:
            if authority in found:
                table.mistake("authorities", f"{authority} is there twice")
            found[authority] = row
    file.top.finish()
    file.finish()
    return found


def _shortfall(table: Table) -> Shortfall:
    if not table.flag("seen", False):
        table.mistake("seen", "only what was read judges a pack: seen = true, or leave it out")
    row = Shortfall(
        source=table.text("source"),
        few=table.parsed("few", quantities.below_one) or Decimal(0),
        from_g=table.parsed("from", quantities.positive_mass) or Decimal(1),
        steps=tuple(_step(step) for step in table.tables("steps")),
    )
    table.finish()
    if not _rises(row.steps):
        table.mistake("steps", "they rise, and the last has no upto")
    return row


def _step(table: Table) -> Tier:
    upto = table.parsed("upto", quantities.positive_mass, None)
    text = table.text("lacks")
    by_mass = units.is_mass(text)
    lacks = table.parsed("lacks", quantities.positive_mass if by_mass else quantities.share)
    table.finish()
    return Tier(upto, lacks or Decimal(1), not by_mass)


def _rises(steps: Sequence[Tier]) -> bool:
    if not steps or steps[-1].upto_g is not None:
        return False
    bounds = [step.upto_g for step in steps[:-1] if step.upto_g is not None]
    rising = all(one < two for one, two in pairwise(bounds))
    return rising and len(bounds) == len(steps) - 1
