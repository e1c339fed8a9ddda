"""What is left of a mix: what a gram of it is made of, so that it can go into another batch."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

import msgspec

from station import units
from station.formula.limits import agents_of
from station.formula.model import Rework
from station.formula.quantities import below_one
from station.tomlfile import Table

MEAT = "meat"
"""The role of a part that is meat."""

MOST = Decimal("0.5")
"""More of a mix than half is no rework of it, but another batch (the house's)."""


class Part(msgspec.Struct, frozen=True):
    """A line of the mix that it is left of: `share` of its weight; `contains` by the bags."""

    name: str
    role: str
    share: Decimal
    contains: dict[str, Decimal] = {}
    allergens: tuple[str, ...] = ()
    species: str | None = None


class Leftover(msgspec.Struct, frozen=True):
    """A gram of it. `most` and `least`: grams of each agent that may be in it, and surely are;
    `meat_least`: the meat that surely is; `besides`: the allergens of what nobody weighed; `since`:
    when the oldest of it was kept, RFC 3339."""

    batch: str
    formula: str
    revision: int
    parts: tuple[Part, ...]
    most: dict[str, Decimal]
    least: dict[str, Decimal]
    meat_least: Decimal
    besides: tuple[str, ...] = ()
    since: str = ""

    @property
    def meat(self) -> Decimal:
        """The share of meat."""
        return sum((part.share for part in self.parts if part.role == MEAT), Decimal(0))

    @property
    def contains(self) -> dict[str, Decimal]:
        """What it contains of what its lines say that they do: agents, salt."""
        found: dict[str, Decimal] = {}
        for part in self.parts:
            for name, share in part.contains.items():
                found[name] = found.get(name, Decimal(0)) + part.share * share
        return found

    @property
    def by_name(self) -> dict[str, Decimal]:
        """The share of each line by its name, of several revisions together; meat is none."""
        found: dict[str, Decimal] = {}
        for part in self.parts:
            if part.role != MEAT:
                found[part.name] = found.get(part.name, Decimal(0)) + part.share
        return found

    @property
    def allergens(self) -> tuple[str, ...]:
        found = [name for part in self.parts for name in part.allergens]
        return tuple(dict.fromkeys([*found, *self.besides]))

    @property
    def species(self) -> tuple[str | None, ...]:
        """Of its meat; None among them where a line did not say."""
        return tuple(dict.fromkeys(p.species for p in self.parts if p.role == MEAT))


class Wanted(msgspec.Struct, frozen=True):
    """A line of the batch that it goes into, and what that is worked out to contain."""

    name: str
    role: str
    contains: dict[str, Decimal]


def brings(leftover: Leftover, lines: tuple[Wanted, ...]) -> dict[str, Fraction]:
    """Line -> grams of it that a gram of the leftover stands for; lines of which it has nothing are
    left out.

    A line with an agent is brought by how much of its agents there is, any other by its name; the
    salt by what the salt of those leaves over. What is in it and in no line is brought besides.
    """
    there = {name: Fraction(share) for name, share in leftover.contains.items()}
    found = dict(_by_agent(there, lines))
    own = leftover.by_name
    for line in lines:
        if line.name in own and line.role != "salt" and not agents_of(line.contains):
            found[line.name] = Fraction(own[line.name])
    salt = there.get("salt", Fraction(0)) - sum(
        found.get(line.name, Fraction(0)) * Fraction(line.contains.get("salt", 0)) for line in lines
    )
    for line in lines:
        if line.role == "salt" and not agents_of(line.contains) and salt > 0:
            found[line.name] = salt / Fraction(line.contains["salt"])
            break
    return found


def _by_agent(
    there: dict[str, Fraction], lines: tuple[Wanted, ...]
) -> Iterator[tuple[str, Fraction]]:
    """Each agent goes to the first line that has it."""
    left = dict(there)
    for line in lines:
        agents = agents_of(line.contains)
        grams = min(
            (left.get(name, Fraction(0)) / Fraction(line.contains[name]) for name in agents),
            default=Fraction(0),
        )
        if grams > 0:
            for name in agents:
                left[name] -= grams * Fraction(line.contains[name])
            yield line.name, grams


def rework_of(top: Table) -> Rework | None:
    """The [rework] table of a formula: how much of the meat may be left over from other batches,
    and how old that may be. None where there is no such table: then none goes in."""
    if not top.has("rework"):
        return None
    table = top.table("rework")
    most = table.parsed("most", _most)
    within_s = table.parsed("within", units.seconds)
    table.finish()
    return None if most is None or within_s is None else Rework(most, within_s)


def _most(text: str) -> Decimal:
    most = units.more_than_nothing(below_one(text), text)
    if most > MOST:
        raise ValueError(f"found {text!r}, expected at most {units.plain(MOST * 100)} %")
    return most
