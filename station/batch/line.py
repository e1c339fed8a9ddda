"""One line of a batch: its bags, loads and vessel, and questions about them. Masses in grams."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from station import units
from station.batch import events as ev
from station.formula.leftover import Leftover
from station.formula.limits import agents_of
from station.formula.model import Addition
from station.metrology.uncertainty import expanded


@dataclass(frozen=True, slots=True)
class Lot:
    """An opened bag; `expires` is YYYY-MM-DD, `size_g` what was in it and `price` what a kilogram
    of it cost, None where nothing was said. `before`: other strengths that were told of it when
    some of it was weighed already. Any of them may be the true one."""

    lot: str
    contains: dict[str, Decimal]
    expires: str | None = None
    before: tuple[dict[str, Decimal], ...] = ()
    size_g: Decimal | None = None
    price: Decimal | None = None

    @property
    def tellings(self) -> tuple[dict[str, Decimal], ...]:
        return (self.contains, *self.before)


@dataclass(frozen=True, slots=True)
class Doubt:
    """What left a vessel and may be in the mix all the same, grams of the line."""

    content_g: Decimal
    division_g: Decimal
    lot: str | None
    worth: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True)
class Load:
    """One accepted part of a line. `net_g` None: in the mix, and nobody knows how much. `seen_in`:
    that it is in the mix is more than one person's word. `worth`: so many grams of the whole batch
    is a gram of it, more than one where a sample had left before it was weighed."""

    net_g: Decimal | None
    gross_g: Decimal
    tare_g: Decimal
    tare_raw: str
    scale: str | None
    division_g: Decimal
    vessel: str | None
    lot: str | None
    who: str
    at: str
    tipped: bool = False
    tipped_at: str | None = None
    residue_g: Decimal | None = None
    by_hand: ev.ByHand | None = None
    seen_in: bool = False
    worth: Decimal = Decimal(1)

    @property
    def was_accepted(self) -> bool:
        """Whether a weighing accepted it, or a typed figure did; not a word that it went in."""
        return self.gross_g > 0 or self.by_hand is not None

    @property
    def actual_g(self) -> Decimal:
        """Net less what clings to the vessel; nothing where the amount is unknown."""
        return (self.net_g or Decimal(0)) - (self.residue_g or Decimal(0))


@dataclass(frozen=True, slots=True)
class Tare:
    """The vessel of the weighing under way and its one tare."""

    scale: str
    division_g: Decimal
    vessel: str | None
    tare_g: Decimal
    raw: str
    onto: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One addition under way. `accepted` is the event that accepted the sum, while it holds;
    `judged` says that the line was once accepted or tipped, so that what is in the mix counts;
    `seen_g` is the gross last recorded of the vessel under way, where it is more than its tare;
    `gone` is what left that vessel since, `doubts` what a person gave another place than the mix:
    both may be in the mix;
    `stands_for` is the strength that its amount was worked out for.
    """

    addition: Addition
    stands_for: dict[str, Decimal] = field(default_factory=dict)
    loads: tuple[Load, ...] = ()
    tare: Tare | None = None
    lifted: ev.Lifted | None = None
    seen_g: Decimal | None = None
    accepted: ev.Accepted | None = None
    unaccepted: bool = False
    judged: bool = False
    used: str | None = None
    lot: Lot | None = None
    lots: dict[str, Lot] = field(default_factory=dict)
    over_g: Decimal | None = None
    voiding: ev.VoidAsked | None = None
    skipped: bool = False
    missing: bool = False
    jars: tuple[ev.JarWeighed, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    gone: tuple[Doubt, ...] = ()
    refused: dict[str, str] = field(default_factory=dict)  # bag past its date -> that date
    on: str | None = None  # the scale that a person chose
    wished: Decimal | None = None  # of the meat, after tasting

    @property
    def name(self) -> str:
        return self.addition.name

    @property
    def in_doubt(self) -> tuple[Doubt, ...]:
        return (*self.doubts, *self.gone)

    @property
    def worths(self) -> list[Decimal]:
        """What a gram is worth of each part that was weighed or may be in the mix."""
        return [load.worth for load in self.loads] + [part.worth for part in self.in_doubt]

    @property
    def in_doubt_g(self) -> Decimal:
        return sum((part.content_g for part in self.in_doubt), Decimal(0))

    @property
    def known_gross_g(self) -> Decimal | None:
        """Gross last known of the vessel under way, grams: None without a vessel."""
        if self.tare is None or self.seen_g is not None:
            return self.seen_g
        return self.tare.tare_g

    @property
    def short_g(self) -> Decimal:
        """How much less is in the vessel now than when it was lifted, grams; part of `gone`."""
        if self.lifted is None or self.seen_g is None:
            return Decimal(0)
        return max(self.lifted.gross_g - self.seen_g, Decimal(0))

    @property
    def contains(self) -> dict[str, Decimal]:
        """What the line contains: the opened lot's strength, else the formula's."""
        return self.lot.contains if self.lot else self.addition.contains

    def tellings(self, lot: str | None) -> tuple[dict[str, Decimal], ...]:
        """All that was ever told of what a bag contains; the line's own where nobody named it."""
        known = self.lots.get(lot or "")
        return known.tellings if known else (self.contains,)

    def contents(self, load: Load) -> dict[str, Decimal]:
        """What a load contains: what its own bag says, else what the line does."""
        lot = self.lots.get(load.lot or "")
        return lot.contains if lot else self.contains

    @property
    def blend(self) -> dict[str, Fraction]:
        """What the line contains as it was weighed: its loads, each by its own bag."""
        total = sum((Fraction(load.actual_g) for load in self.loads), Fraction(0))
        if total <= 0:
            return {agent: Fraction(share) for agent, share in self.contains.items()}
        found: dict[str, Fraction] = {}
        for load in self.loads:
            for agent, share in self.contents(load).items():
                part = Fraction(share) * Fraction(load.actual_g) / total
                found[agent] = found.get(agent, Fraction(0)) + part
        return found

    @property
    def nameless(self) -> bool:
        """Whether some of it came from a bag whose strength nobody told."""
        return any(load.lot not in self.lots for load in self.loads)

    def meant_g(self, tipped_only: bool = False) -> Fraction:
        """Grams of the loads in the strength the line is worked out for: what came from a bag of
        twice the strength counts twice."""
        loads = [load for load in self.loads if load.tipped or not tipped_only]
        return sum(
            (Fraction(load.actual_g) * self._worth(self.contents(load))[0] for load in loads),
            Fraction(0),
        )

    @property
    def strange(self) -> bool:
        """Whether a bag held other agents than the line is worked out for, or another mixture."""
        return any(
            len(set(self._worth(found))) > 1
            for load in self.loads
            for found in self.tellings(load.lot)
        )

    def _worth(self, found: Mapping[str, Decimal]) -> list[Fraction]:
        """How many grams of the line one gram of what contains that stands for, by each agent of
        either."""
        agents = sorted({*agents_of(self.stands_for), *agents_of(found)})
        return [
            Fraction(found.get(agent, 0)) / Fraction(self.stands_for[agent])
            if self.stands_for.get(agent)
            else Fraction(-1)  # there, and not meant to be
            for agent in sorted(agents, key=lambda agent: agent not in self.stands_for)
        ] or [Fraction(1)]

    @property
    def actual_g(self) -> Decimal:
        """The sum so far: every load less what clung to its vessel."""
        return sum((load.actual_g for load in self.loads), Decimal(0))

    @property
    def counts_g(self) -> Fraction:
        """The sum as if no sample had left: what percentages are worked out from."""
        return sum(
            (Fraction(load.actual_g) * Fraction(load.worth) for load in self.loads), Fraction(0)
        )

    @property
    def tipped_g(self) -> Decimal:
        return sum((load.actual_g for load in self.loads if load.tipped), Decimal(0))

    @property
    def expanded_g(self) -> Decimal:
        """U of the sum so far, grams."""
        return expanded(self.divisions_g)

    @property
    def grid_g(self) -> Decimal:
        """The coarsest division that the line was weighed with; a hundredth of a gram where it was
        only said to be in the mix."""
        return max(self.divisions_g, default=Decimal(0)) or Decimal("0.01")

    @property
    def divisions_g(self) -> list[Decimal]:
        """A division for each net weight in the sum: every load, and every residue taken off."""
        residues = [load.division_g for load in self.loads if load.residue_g is not None]
        return [load.division_g for load in self.loads] + residues

    @property
    def standing(self) -> tuple[Load, ...]:
        return tuple(load for load in self.loads if not load.tipped)

    @property
    def last_said_tipped(self) -> tuple[Load, ...]:
        """What was last called tipped, all of it at once, where that is one person's word."""
        last = self.loads[-1] if self.loads else None
        if last is None or not last.tipped:
            return ()
        found = [load for load in self.loads if load.tipped_at == last.tipped_at]
        return () if any(load.seen_in for load in found) else tuple(found)

    @property
    def put_off(self) -> bool:
        """Whether it was skipped and is not begun: closing may name it, or its vessel be named."""
        return self.skipped and self.tare is None and self.used is None

    @property
    def empty_g(self) -> Decimal | None:
        """Gross of the empty vessel of the weighing under way: its first tare, before any bag."""
        if self.tare is None:
            return None
        first = [load.tare_g for load in self.standing if load.vessel == self.tare.vessel]
        return first[0] if first else self.tare.tare_g

    @property
    def by_hand(self) -> bool:
        """Whether a figure of the line was typed by a person."""
        return any(load.by_hand for load in self.loads)

    @property
    def weighed(self) -> tuple[Load, ...]:
        """The loads whose weight is known."""
        return tuple(load for load in self.loads if load.net_g is not None)

    @property
    def unknown(self) -> bool:
        """Whether some of it went in and nobody knows how much."""
        return any(load.net_g is None for load in self.loads)


@dataclass(frozen=True, slots=True)
class MeatLine:
    name: str
    share: Decimal
    loads: tuple[ev.MeatWeighed, ...] = ()
    tub: str | None = None
    ended: bool = False
    lots: dict[str, ev.MeatLotNamed] = field(default_factory=dict)
    lot: str | None = None
    taken_at: dict[str, str] = field(default_factory=dict)  # lot -> when last weighed

    @property
    def net_g(self) -> Decimal:
        """All that was weighed for the line, what is left of other batches with what is in it."""
        return sum((load.net_g for load in self.loads), Decimal(0))

    @property
    def reworked(self) -> tuple[tuple[ev.MeatWeighed, Leftover], ...]:
        """The loads that are left of other batches, and what those are made of."""
        if not any(lot.leftover for lot in self.lots.values()):
            return ()
        found = ((load, self.lots.get(load.lot or "")) for load in self.loads if load.net_g > 0)
        return tuple((load, lot.leftover) for load, lot in found if lot and lot.leftover)

    @property
    def fresh_g(self) -> Decimal:
        """What was weighed of it that is left of no other batch."""
        return self.net_g - sum((load.net_g for load, _ in self.reworked), Decimal(0))

    @property
    def meat_g(self) -> Decimal:
        """The meat of the line: of what is left of another batch as much as is meat, rounded down
        to a hundredth of a gram, which is stricter for every most."""
        others = sum((_other_g(load.net_g, lot) for load, lot in self.reworked), Decimal(0))
        return self.net_g - others


def _other_g(grams: Decimal, lot: Leftover) -> Decimal:
    """What is no meat in so much of a leftover."""
    return grams - units.rounded(grams * lot.meat, 2, up=False)
