"""The formula as values: frozen, storable, with every amount exact."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Literal

import msgspec

PRODUCT_WORDS = (
    "cooked",
    "raw",
    "cured",
    "fresh",
    "fermented",
    "dried",
    "comminuted",
    "whole",
    "bacon",
    "sterilised",
    "sausage",
    "burger",
    "ground",
    "italian",
    "frankfurter",
    "genoa",
    "breakfast",
    "traditional",
    "economy",
)
CONTRADICTING = (
    ("cooked", "raw"),
    ("cooked", "fresh"),
    ("cured", "fresh"),
    ("comminuted", "whole"),
    ("comminuted", "bacon"),
    ("ground", "sausage"),
    ("ground", "whole"),
    ("ground", "burger"),
)
"""Words that no product can both be: every word more could open a row of the law."""

METHODS = ("comminuted", "pumped", "immersion", "dry")

MAMMALS = ("pork", "beef", "veal", "lamb", "mutton", "goat", "horse", "venison", "wild boar")
BIRDS = ("poultry", "chicken", "turkey", "duck", "goose", "game birds")
SPECIES = (*MAMMALS, *BIRDS, "rabbit")


def all_of(names: Iterable[str]) -> tuple[str, ...]:
    """Species by name, "birds" and "mammals" taken apart."""
    groups = {"birds": BIRDS, "mammals": MAMMALS}
    return tuple(species for name in names for species in groups.get(name, (name,)))


Role = Literal[
    "salt",
    "cure",
    "accelerator",
    "preservative",
    "phosphate",
    "binder",
    "water",
    "seasoning",
    "sweetener",
    "culture",
    "other",
]
ROLES: tuple[str, ...] = Role.__args__  # type: ignore[attr-defined]

REGULATED_ROLES = frozenset({"cure", "accelerator", "preservative", "phosphate"})
"""Roles whose agents need a row of the limits file that allows them (additive law is positive)."""

ALWAYS_ASIDE = REGULATED_ROLES | {"salt"}
ALONE_ROLES = frozenset({"salt", "cure", "accelerator"})


class Amount(msgspec.Struct, frozen=True):
    """How much of a line belongs in: `number` grams (or pieces) per `per` grams of what `on` names.

    `on` is "meat" or "mix", or "pickle", the water that one is made with; "fixed" is `number` grams
    whatever the meat weighs; "count" is `number` pieces per `per` grams of meat, which no scale
    can weigh.
    """

    text: str
    on: Literal["meat", "mix", "pickle", "fixed", "count"]
    number: Decimal
    per: Decimal = Decimal(1)

    @property
    def share(self) -> Fraction:
        """The exact fraction of meat or mix."""
        return _divided(self.number, self.per)


@lru_cache(maxsize=1024)
def _divided(number: Decimal, per: Decimal) -> Fraction:
    """Kept, for it is asked of the same few figures at every decision and for every row."""
    return Fraction(number) / Fraction(per)


class Band(msgspec.Struct, frozen=True):
    """A tolerance around a target, in fractions of it and in grams; where both, the narrower holds.

    `guard` says on which side the tolerance is narrowed by the uncertainty of the weighing.
    """

    lower: Decimal | None = None
    upper: Decimal | None = None
    lower_g: Decimal | None = None
    upper_g: Decimal | None = None
    guard: Literal["none", "upper", "lower", "both"] = "none"


class Nutrition(msgspec.Struct, frozen=True):
    """Grams in 100 g: fat, saturates, carbohydrate, sugars, protein, fibre. `sodium` is None where
    nobody said it."""

    grams: dict[str, Decimal]
    sodium: Decimal | None = None


class Meat(msgspec.Struct, frozen=True):
    name: str
    share: Decimal
    species: str | None = None
    fat: Decimal | None = None
    skin: Decimal | None = None
    """Skin as a share of its weight, None where nobody said it."""
    price: Decimal | None = None
    """What a kilogram costs, in the bench's currency; None where nobody said it."""
    nutrition: Nutrition | None = None


class Addition(msgspec.Struct, frozen=True):
    """One line to weigh. A line made of parts becomes one `Addition` a part, with `part_of`."""

    name: str
    role: Role
    amount: Amount
    contains: dict[str, Decimal]
    allergens: tuple[str, ...] = ()
    band: Band | None = None
    onto: bool = False
    alone: bool = False
    required: bool = False
    part_of: str | None = None
    in_pickle: bool = False
    cereal: bool = False
    """Whether it counts as the cereal (in a burger: the vegetable, too) that a row asks for."""
    approved: str | None = None
    """By whom its nitrite from a vegetable was approved, as the maker says."""
    price: Decimal | None = None
    """What a kilogram costs, in the bench's currency; None where nobody said it."""
    nutrition: Nutrition | None = None

    @property
    def regulated(self) -> bool:
        return self.role in REGULATED_ROLES


class Pack(msgspec.Struct, frozen=True):
    """A pack of a stated weight: `keeps_days` by the maker's own shelf life, `store` where it is
    kept."""

    nominal_g: Decimal
    store: str
    keeps_days: int


class Rework(msgspec.Struct, frozen=True):
    """How much of what is weighed as meat may be left over from other batches, as a fraction, and
    for how many seconds after it was kept."""

    most: Decimal
    within_s: Decimal


class Casing(msgspec.Struct, frozen=True):
    """What the mix is filled into: `fills_g` grams go into a metre, by its label or the maker's own
    notes, None where nobody said it."""

    name: str
    fills_g: Decimal | None = None


SOAKS = " soaks"
"""What the step is called that the soaking of a casing is, behind its name."""

STANDS = " stands"
"""What the step is called that a line's `stand` is, behind the name of the line."""


FILLING = "filling"
"""The place where the mix is filled, or packed as it is: behind all that goes into it."""
FIRST_MEAT = "first meat"
"""The moment when the first meat was weighed: it has come out of the cold."""


class Step(msgspec.Struct, frozen=True):
    """A process check, shown in its place and ended by a key with an optional value. `since`: its
    time is counted from the first meat, or from the end of the step of that name, and not from when
    it has its turn."""

    name: str
    after: str | None = None
    before: str | None = None
    time: str | None = None
    temperature: str | None = None
    since: str | None = None
    changes: int = 0
    """How often its water is to be changed."""

    @property
    def bounds(self) -> str:
        """What it is held to, as text; empty where it is held to nothing."""
        time = f"{self.time} since {self.since}" if self.since else self.time
        changes = f"{self.changes} x fresh water" if self.changes else None
        return ", ".join(part for part in (time, self.temperature, changes) if part)

    @property
    def of_standing(self) -> bool:
        """Whether it is the time that a line stands: what comes after the line comes after it."""
        return self.after is not None and self.name == f"{self.after}{STANDS}"


class Formula(msgspec.Struct, frozen=True):
    name: str
    revision: int
    product: tuple[str, ...]
    method: str
    meats: tuple[Meat, ...]
    additions: tuple[Addition, ...]
    steps: tuple[Step, ...] = ()
    piece_g: Decimal | None = None
    loss: Decimal = Decimal(0)
    pump: Decimal | None = None  # share of the green weight that is pumped in, or picked up
    pickle_water: Amount | None = None
    """The water its pickle is made with: so many grams, or so much of the meat."""
    basis: Literal["meat block", "mix"] = "meat block"
    """What the rows on the mix are judged on: the stricter, unless the formula says otherwise."""
    authority: str | None = None
    """Whose law it is written for, where it says so."""
    declaration: str | None = None
    """What the maker declares of a traditional product: rows of the law hang on it."""
    piece_band: Band | None = None
    """What a piece may weigh around `piece_g`; None: pieces are counted and not judged."""
    packs: tuple[Pack, ...] = ()
    casing: Casing | None = None
    rework: Rework | None = None
    """None: nothing that is left of another batch goes in."""

    def addition(self, name: str) -> Addition:
        """The line of that name. Raises `KeyError`."""
        for addition in self.additions:
            if addition.name == name:
                return addition
        raise KeyError(name)

    def after_filling(self, step: Step) -> bool:
        """Whether the step comes once the mix is filled."""
        by_name = {one.name: one for one in self.steps}
        while step.after != FILLING:
            place = step.after or step.before
            if place not in by_name:
                return False
            step = by_name[place]
        return True

    @property
    def sequence(self) -> tuple[Addition | Step, ...]:
        """Lines and steps in the order they come on the bench, the meat apart."""
        items: list[Addition | Step] = list(self.additions)
        front = 0
        waiting = sorted(self.steps, key=lambda step: (not step.of_standing, step.after == FILLING))
        while waiting:
            step = waiting.pop(0)
            place = step.after or step.before
            if place == FILLING:
                items.append(step)
                continue
            if any(meat.name == place for meat in self.meats):
                items.insert(front, step)  # what belongs to the meat comes before the additions
                front += 1
                continue
            at = [n for n, i in enumerate(items) if place in (i.name, getattr(i, "part_of", None))]
            if not at:
                waiting.append(step)  # its place is a step that is not placed yet
            elif step.before:
                items.insert(at[0], step)
            else:
                end = at[-1] + 1
                while end < len(items) and getattr(items[end], "after", None) == place:
                    end += 1  # behind the steps already waiting there
                items.insert(end, step)
        return tuple(items)
