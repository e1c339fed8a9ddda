"""Where a batch stands, as frozen values, and questions about them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.formula.limits import LimitRow, agents_of
from station.formula.model import Addition, Band, Formula, Step
from station.formula.scaling import target_of
from station.metrology.scale import Scale
from station.metrology.uncertainty import expanded


@dataclass(frozen=True, slots=True)
class Vessel:
    """A vessel on record: its empty weight, and the division it was taken with (grams)."""

    name: str
    empty_g: Decimal
    division_g: Decimal


@dataclass(frozen=True, slots=True)
class Lot:
    """An opened bag; `expires` is YYYY-MM-DD, None where nothing was said. `before`: other
    strengths that were told of it when some of it was weighed already. Any of them may be the true
    one."""

    lot: str
    contains: dict[str, Decimal]
    expires: str | None = None
    before: tuple[dict[str, Decimal], ...] = ()

    @property
    def tellings(self) -> tuple[dict[str, Decimal], ...]:
        return (self.contains, *self.before)


@dataclass(frozen=True, slots=True)
class Doubt:
    """What was voided and may be in the mix all the same, grams of the line."""

    content_g: Decimal
    division_g: Decimal
    lot: str | None


@dataclass(frozen=True, slots=True)
class Load:
    """One accepted part of a line. `net_g` None: in the mix, and nobody knows how much."""

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
    `stands_for` is the strength that its amount was worked out for.
    """

    addition: Addition
    stands_for: dict[str, Decimal] = field(default_factory=dict)
    loads: tuple[Load, ...] = ()
    tare: Tare | None = None
    lifted: ev.Lifted | None = None
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
    refused: dict[str, str] = field(default_factory=dict)  # bag past its date -> that date

    @property
    def name(self) -> str:
        return self.addition.name

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
    def tipped_g(self) -> Decimal:
        return sum((load.actual_g for load in self.loads if load.tipped), Decimal(0))

    @property
    def expanded_g(self) -> Decimal:
        """U of the sum so far, grams."""
        return expanded(self.divisions_g)

    @property
    def divisions_g(self) -> list[Decimal]:
        """A division for each net weight in the sum: every load, and every residue taken off."""
        residues = [load.division_g for load in self.loads if load.residue_g is not None]
        return [load.division_g for load in self.loads] + residues

    @property
    def standing(self) -> tuple[Load, ...]:
        return tuple(load for load in self.loads if not load.tipped)

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
    def unknown(self) -> bool:
        return any(load.net_g is None for load in self.loads)


@dataclass(frozen=True, slots=True)
class MeatLine:
    name: str
    share: Decimal
    loads: tuple[ev.MeatWeighed, ...] = ()
    tub: str | None = None
    ended: bool = False

    @property
    def net_g(self) -> Decimal:
        return sum((load.net_g for load in self.loads), Decimal(0))


@dataclass(frozen=True, slots=True)
class Batch:
    """One batch. `rows` are the most that may go in, `required` the least that must. `end` is None
    while open, then "closed" or "abandoned". `parked_at` is None at the bench; `left` is what
    stayed on the pans when it was parked, scale -> gross. `day` is that of the last event, UTC."""

    id: str
    opened: ev.BatchOpened
    opened_at: str
    rows: tuple[LimitRow, ...]
    required: tuple[LimitRow, ...]
    meats: dict[str, MeatLine]
    lines: dict[str, Line]
    order: tuple[str, ...]
    who: str
    steps_done: dict[str, str | None] = field(default_factory=dict)
    counted: dict[str, Decimal] = field(default_factory=dict)  # tub -> gross when last counted
    last_meat: ev.MeatWeighed | None = None
    tipped_on: dict[str, str] = field(default_factory=dict)  # scale -> line last seen tipped there
    hold: tuple[str, ...] = ()
    end: str | None = None
    named: tuple[str, ...] = ()
    parked_at: str | None = None
    left: dict[str, Decimal] = field(default_factory=dict)
    day: str = ""

    @property
    def formula(self) -> Formula:
        return self.opened.formula

    @property
    def meat_g(self) -> Decimal:
        """M: the meat accepted less what was taken out, grams."""
        return sum((meat.net_g for meat in self.meats.values()), Decimal(0))

    @property
    def meat_expanded_g(self) -> Decimal:
        """U of M, grams."""
        return expanded(load.division_g for meat in self.meats.values() for load in meat.loads)

    @property
    def meat_ended(self) -> bool:
        return all(meat.ended for meat in self.meats.values())

    def scale(self, name: str) -> Scale:
        """The scale of that name as it was when the batch was opened. Raises `KeyError`."""
        return {scale.name: scale for scale in self.opened.scales}[name]

    def target(self, line: str) -> Fraction:
        amount = self.lines[line].addition.amount
        return target_of(amount, self.formula, Fraction(self.meat_g))

    def band(self, line: str) -> Band:
        """The band of a line, resolved when the batch was opened."""
        return self.opened.bands[line]

    def limited(self, line: str) -> bool:
        """Whether a rule limits an agent of this line."""
        found = self.lines[line]
        told = [found.contains, *(t for lot in found.lots.values() for t in lot.tellings)]
        agents = {agent for contains in told for agent in agents_of(contains)}
        return any(agents & set(row.agents) for row in self.rows)

    def regulated(self, line: str) -> bool:
        """Whether the line has a regulated role, or contains what a rule limits."""
        return self.lines[line].addition.regulated or self.limited(line)

    def guarded(self, line: str) -> bool:
        """Salt and regulated lines, where every doubt is asked about."""
        return self.lines[line].addition.role == "salt" or self.regulated(line)

    def count(self, name: str) -> Fraction:
        """How many pieces of an addition that no scale can weigh."""
        amount = self.formula.addition(name).amount
        return target_of(amount, self.formula, Fraction(self.meat_g))

    def step(self, name: str) -> Step | Addition | None:
        """The item of that name that is ended by a key, or None."""
        for item in self.formula.sequence:
            if item.name == name and name not in self.lines:
                return item
        return None


@dataclass(frozen=True, slots=True)
class Lag:
    """How late a scale is: its averaging window in seconds, and since when that is known."""

    window_s: float
    shape: str
    at: str
    in_use: bool


@dataclass(frozen=True, slots=True)
class Station:
    """All that the ledger says now: vessels on record, how late the scales are, the batch at the
    bench, those parked. `day` is the latest day that it has seen, UTC, however a clock was set."""

    vessels: dict[str, Vessel] = field(default_factory=dict)
    batch: Batch | None = None
    batches: int = 0
    formulas: dict[tuple[str, int], Formula] = field(default_factory=dict)
    last_who: str | None = None
    parked: dict[str, Batch] = field(default_factory=dict)
    lags: dict[str, Lag] = field(default_factory=dict)
    day: str = ""

    def find(self, batch_id: str | None) -> Batch | None:
        """The batch of that id, at the bench or parked; None for any other."""
        if self.batch is not None and self.batch.id == batch_id:
            return self.batch
        return self.parked.get(batch_id or "")

    @property
    def unfinished(self) -> list[Batch]:
        """Every open batch, the one at the bench first."""
        return [*([self.open] if self.open else []), *self.parked.values()]

    @property
    def open(self) -> Batch | None:
        """The batch that is open, if one is."""
        return self.batch if self.batch and self.batch.end is None else None
