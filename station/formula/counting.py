"""What counts as meat and as salt, by label.toml: fat over a limit does not, all sodium does."""

from collections import Counter
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction

import msgspec

from station import units
from station.formula.model import SPECIES, Formula, all_of
from station.formula.nutrition import Energy, energy_of
from station.formula.quantities import below_one
from station.tomlfile import Table, TomlFile


class FatLimit(msgspec.Struct, frozen=True):
    """`most` of a meat may be fat and still count as meat, a fraction. It is about these species;
    without any about every other, and about mixtures of meats of several limits."""

    species: tuple[str, ...]
    most: Fraction
    source: str


class Counting(msgspec.Struct, frozen=True):
    """The limits on fat, the grams of salt that a label counts for a gram of sodium, and the energy
    in a gram of what it tells, None in a file that does not say it."""

    fat: tuple[FatLimit, ...]
    salt_per_sodium: Fraction
    salt_source: str
    energy: Energy | None = None

    def fat_limit(self, formula: Formula) -> FatLimit:
        """The limit of the formula's meats: their own if they all have the same."""
        (others,) = (limit for limit in self.fat if not limit.species)
        by_name = {name: limit for limit in self.fat for name in limit.species}
        found = [by_name.get(meat.species or "", others) for meat in formula.meats]
        return found[0] if all(limit == found[0] for limit in found) else others


def parse_counting(text: str, filename: str) -> Counting:
    """Read label.toml. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    fat = tuple(_fat_limit(table) for table in file.top.tables("meat"))
    named = Counter(name for limit in fat for name in limit.species)
    for name in sorted(name for name, times in named.items() if times > 1):
        file.top.mistake("meat", f"two [[meat]] are about {name}")
    if sum(not limit.species for limit in fat) != 1:
        file.top.mistake("meat", "expected one [[meat]] without species, for all others")
    salt = file.top.table("salt")
    per_sodium = salt.parsed("per_sodium", _factor) or Fraction(0)
    source = salt.text("source")
    salt.finish()
    energy = energy_of(file.top.table("energy")) if file.top.has("energy") else None
    file.top.finish()
    file.finish()
    return Counting(fat, per_sodium, source, energy)


def _fat_limit(table: Table) -> FatLimit:
    limit = FatLimit(
        species=all_of(table.texts("species")),
        most=Fraction(table.parsed("fat", below_one) or 0),
        source=table.text("source"),
    )
    table.known("species", limit.species, SPECIES)
    table.finish()
    return limit


def _factor(text: str) -> Fraction:
    return Fraction(units.more_than_nothing(units.number(text), text))


def meat_counted(fat: Fraction, limit: Fraction) -> Fraction:
    """How much of a meat counts as meat: fat above the limit does not.

    With F of fat and a limit L, what counts is (1 - F) / (1 - L) of it, since of what counts L may
    be fat (computed from the definition in Regulation (EU) No 1169/2011).
    """
    return Fraction(1) if fat <= limit else (1 - fat) / (1 - limit)


def meat_share(
    formula: Formula, grams: Mapping[str, Decimal | Fraction], counting: Counting
) -> Fraction | None:
    """How much of the meat counts as meat, by the grams of each line of it; None where a line lacks
    its species or its fat, or there is no meat."""
    total = _sum(Fraction(mass) for mass in grams.values())
    if total <= 0 or any(meat.fat is None or not meat.species for meat in formula.meats):
        return None
    fat = _sum(Fraction(grams[meat.name]) * Fraction(meat.fat or 0) for meat in formula.meats)
    return meat_counted(fat / total, counting.fat_limit(formula).most)


def _sum(masses: Iterable[Fraction]) -> Fraction:
    return sum(masses, Fraction(0))
