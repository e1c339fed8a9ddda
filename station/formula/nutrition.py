"""What is in 100 g of a product, by what is in 100 g of each thing that went in."""

import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

import msgspec

from station import units
from station.formula.model import Addition, Meat, Nutrition
from station.tomlfile import Table

NUTRIENTS = ("fat", "saturates", "carbohydrate", "sugars", "protein", "fibre")
_ASKED = ("fat", "saturates", "protein")
"""What has no default: a raw meat has no carbohydrate, and little has fibre."""
_IN_ITSELF = frozenset({"salt", "cure", "accelerator", "preservative", "phosphate"})
"""Roles whose lines are what they contain, and bring no fat and no protein."""
_SUGARS = ("sugar", "dextrose")
_WATER = re.compile(r"\b(?:water|ice)\b")


class Energy(msgspec.Struct, frozen=True):
    """kJ and kcal in a gram of each nutrient, and who says so."""

    kj: dict[str, Fraction]
    kcal: dict[str, Fraction]
    source: str


class Table100(msgspec.Struct, frozen=True):
    """Grams of each nutrient and of sodium in 100 g, and the energy."""

    grams: dict[str, Fraction]
    sodium: Fraction
    kj: Fraction
    kcal: Fraction


def nutrition_of(table: Table, fat: Decimal | None = None) -> Nutrition | None:
    """`nutrition` of a meat or an addition, or None where it has none. `fat`: its share of fat,
    where the line says that, too."""
    if not table.has("nutrition"):
        return None
    inner = table.table("nutrition")
    grams: dict[str, Decimal] = {}
    for name in NUTRIENTS:
        found = inner.parsed(name, _grams) if name in _ASKED else inner.parsed(name, _grams, None)
        grams[name] = found or Decimal(0)
    for part, whole in (("saturates", "fat"), ("sugars", "carbohydrate")):
        if grams[part] > grams[whole]:
            inner.mistake(part, f"more than there is {whole}")
    if sum(grams[name] for name in ("fat", "carbohydrate", "protein", "fibre")) > 100:
        inner.mistake("fat", "with the others more than 100 g in 100 g")
    if fat is not None and grams["fat"] != fat * 100:
        inner.mistake("fat", f"the line says {units.plain(fat * 100)} % of fat")
    nutrition = Nutrition(grams, inner.parsed("sodium", _grams, None))
    inner.finish()
    return nutrition


def _grams(text: str) -> Decimal:
    """Grams in 100 g, from text such as "21.2 g" or "56 mg"."""
    grams = units.mass(text)
    if not 0 <= grams <= 100:
        raise ValueError(f"found {text!r}, expected 0 g to 100 g")
    return grams


def energy_of(table: Table) -> Energy:
    """`[energy]` of label.toml."""
    kj, kcal = table.table("kj"), table.table("kcal")
    counted = [name for name in NUTRIENTS if name not in ("saturates", "sugars")]
    found = Energy(
        {name: kj.parsed(name, _factor) or Fraction(0) for name in counted},
        {name: kcal.parsed(name, _factor) or Fraction(0) for name in counted},
        table.text("source"),
    )
    for inner in (kj, kcal, table):
        inner.finish()
    return found


def _factor(text: str) -> Fraction:
    return Fraction(units.more_than_nothing(units.number(text), text))


def brings(line: Meat | Addition, contains: Mapping[str, Fraction]) -> Nutrition | None:
    """What 100 g of a line bring: as it says itself; what is in its bag where that is all it is;
    nothing where it is water. None where nobody said it."""
    if line.nutrition is not None:
        return line.nutrition
    if isinstance(line, Meat):
        return None
    if line.role == "water" and _WATER.search(line.name.casefold()):
        return Nutrition(dict.fromkeys(NUTRIENTS, Decimal(0)), Decimal(0))
    if line.role not in _IN_ITSELF:
        return None
    sugars = sum((Fraction(contains.get(name, 0)) for name in _SUGARS), Fraction(0)) * 100
    told = Decimal(sugars.numerator) / Decimal(sugars.denominator)
    return Nutrition(dict.fromkeys(NUTRIENTS, Decimal(0)) | {"carbohydrate": told, "sugars": told})


def in_100g(
    parts: list[tuple[Fraction, Nutrition, Fraction]], product_g: Fraction, energy: Energy
) -> Table100:
    """The table of `product_g` grams that were made of `parts`: grams of each, what 100 g of it
    bring, and the grams of sodium in it by its bag where it does not say its sodium itself."""
    grams = {
        name: sum((mass * Fraction(one.grams[name]) for mass, one, _ in parts), Fraction(0))
        / product_g
        for name in NUTRIENTS
    }
    sodium = sum(
        (
            by_bag * 100 if one.sodium is None else mass * Fraction(one.sodium)
            for mass, one, by_bag in parts
        ),
        Fraction(0),
    )
    kj, kcal = (
        sum((grams[name] * factor for name, factor in factors.items()), Fraction(0))
        for factors in (energy.kj, energy.kcal)
    )
    return Table100(grams, sodium / product_g, kj, kcal)
