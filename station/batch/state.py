"""Where a batch stands, as frozen values, and questions about them."""

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from station import units
from station.batch import events as ev
from station.batch.line import Line, MeatLine
from station.batch.tally import Tally
from station.formula.leftover import Leftover, Wanted, brings
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
    steps_skipped: frozenset[str] = frozenset()
    step_since: dict[str, str] = field(default_factory=dict)  # step -> when it had its turn
    counted: dict[str, Decimal] = field(default_factory=dict)  # tub -> gross when last counted
    last_meat: ev.MeatWeighed | None = None
    tipped_on: dict[str, str] = field(default_factory=dict)  # scale -> line last seen tipped there
    hold: tuple[str, ...] = ()
    end: str | None = None
    named: tuple[str, ...] = ()
    parked_at: str | None = None
    left: dict[str, Decimal] = field(default_factory=dict)
    day: str = ""
    confirmed: dict[str, Scale] = field(default_factory=dict)  # in place of one it opened with
    tallies: dict[str, Tally] = field(default_factory=dict)
    kept: Decimal = Decimal(1)  # the share of what was mixed that no sample took
    sampled_g: Decimal = Decimal(0)
    casings: tuple[ev.CasingTaken, ...] = ()
    casings_at: dict[str, str] = field(default_factory=dict)  # lot of casing -> when it was taken
    changes: dict[str, int] = field(default_factory=dict)  # step -> how often its water was changed
    left_over: tuple[ev.LeftoverKept, ...] = ()
    tasting: str | None = None  # what is said of cooking the sample that is tasted now

    @property
    def formula(self) -> Formula:
        return self.opened.formula

    @property
    def meat_g(self) -> Decimal:
        """M: the meat accepted less what was taken out, grams; of what is left of other batches
        as much as is meat. Where bags are weighed ahead it is the meat that is planned."""
        if self.opened.ahead:
            return self.opened.plan_g
        return self.weighed_meat_g

    @property
    def weighed_meat_g(self) -> Decimal:
        """The meat that is there, grams: none where bags are weighed ahead."""
        return sum((meat.meat_g for meat in self.meats.values()), Decimal(0))

    @property
    def block_g(self) -> Decimal:
        """All that was weighed as meat, grams."""
        return sum((meat.net_g for meat in self.meats.values()), Decimal(0))

    @property
    def reworked(self) -> tuple[tuple[ev.MeatWeighed, Leftover], ...]:
        """The loads that are left of other batches, and what those are made of."""
        if self.formula.rework is None:
            return ()
        return tuple(one for meat in self.meats.values() for one in meat.reworked)

    @property
    def reworked_g(self) -> Decimal:
        """All that was weighed of what is left of other batches, grams."""
        return sum((load.net_g for load, _ in self.reworked), Decimal(0))

    def brought_g(self, line: str) -> Fraction:
        """Grams of a line that what is left of other batches has brought."""
        if not self.reworked:
            return Fraction(0)
        wanted = tuple(
            Wanted(one.name, one.addition.role, one.stands_for) for one in self.lines.values()
        )
        return sum(
            (
                Fraction(load.net_g) * brings(lot, wanted).get(line, 0)
                for load, lot in self.reworked
            ),
            Fraction(0),
        )

    @property
    def plan_g(self) -> Fraction | None:
        """The meat block that is planned, grams: as the batch was opened, else what the meat lines
        that are ended make of it by their shares; None before one is."""
        if self.opened.plan_g:
            return Fraction(self.opened.plan_g)
        ended = [meat for meat in self.meats.values() if meat.ended and meat.meat_g > 0]
        share = sum((Fraction(meat.share) for meat in ended), Fraction(0))
        return sum((Fraction(m.meat_g) for m in ended), Fraction(0)) / share if share else None

    @property
    def meat_expanded_g(self) -> Decimal:
        """U of M, grams, with what the meat of a leftover may be less than it seems."""
        doubted = sum((load.net_g * (lot.meat - lot.meat_least) for load, lot in self.reworked), 0)
        loads = (load for meat in self.meats.values() for load in meat.loads)
        return expanded(load.division_g for load in loads) + doubted

    @property
    def meat_ended(self) -> bool:
        return all(meat.ended for meat in self.meats.values())

    @property
    def scales(self) -> tuple[Scale, ...]:
        """The scales of the bench: those it opened with, or what was confirmed in their place."""
        return tuple(self.confirmed.get(scale.name, scale) for scale in self.opened.scales)

    def scale(self, name: str) -> Scale:
        """The scale of that name. Raises `KeyError`."""
        return {scale.name: scale for scale in self.scales}[name]

    def target(self, line: str) -> Fraction:
        """What is to be weighed of a line, grams: less what is left of other batches brought."""
        amount = self.lines[line].addition.amount
        target = target_of(amount, self.formula, Fraction(self.meat_g))
        return max(target - self.brought_g(line), Fraction(0))

    def band(self, line: str) -> Band:
        """The band of a line, resolved when the batch was opened."""
        return self.opened.bands[line]

    def limited(self, line: str) -> bool:
        """Whether a rule limits an agent of this line."""
        found = self.lines[line]
        told = [found.contains, *(t for lot in found.lots.values() for t in lot.tellings)]
        agents = {agent for contains in told for agent in agents_of(contains)}
        return any(agents & set(row.agents) for row in self.rows)

    def must_have(self, line: str) -> bool:
        """Whether the formula says that nothing is made without the line, or it brings what a rule
        requires."""
        found = self.lines[line]
        return found.addition.required or any(row.counted(found.contains) for row in self.required)

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

    @property
    def worth(self) -> Decimal:
        """So many grams of the whole batch is a gram that is weighed now, rounded up."""
        if self.kept == 1:
            return Decimal(1)
        return units.rounded(1 / Fraction(self.kept), 12, up=True)

    @property
    def tally(self) -> Tally | None:
        """The pieces or packs that are weighed now."""
        return next((tally for tally in self.tallies.values() if not tally.ended), None)

    def tallies_of(self, what: ev.Counted) -> list[Tally]:
        """The counts of pieces, of packs, or of pieces that have dried, that came to something."""
        return [one for one in self.tallies.values() if one.begun.what == what and one.items]

    @property
    def whole_pieces(self) -> list[Tally]:
        """The counts of pieces that came to something, without the odd end."""
        return [tally for tally in self.tallies_of("pieces") if not tally.begun.odd]

    @property
    def filled(self) -> bool:
        """Whether some of the mix is in a piece or a pack: nothing more can be mixed in."""
        return any(tally.items for tally in self.tallies.values())

    @property
    def left_over_g(self) -> Decimal:
        """What of the mix is kept for another batch, grams."""
        return sum((kept.net_g for kept in self.left_over), Decimal(0))

    @property
    def apart(self) -> str | None:
        """Why nothing more can be mixed in, as a sentence: some of the mix is apart from the rest;
        None while all of it is together."""
        if self.filled:
            return "some of the batch is filled: nothing more can be mixed in"
        if self.left_over:
            return "some of the mix is kept for another batch: nothing more can be mixed in"
        return None

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
class Portion:
    """A line that was weighed ahead, in its bag: grams, the bag's tare and its gross then; the lot
    that it is of, what that contains and until when (YYYY-MM-DD)."""

    batch: str
    formula: str
    line: str
    vessel: str
    scale: str
    division_g: Decimal
    tare_g: Decimal
    tare_raw: str
    gross_g: Decimal
    lot: str | None
    contains: dict[str, Decimal]
    allergens: tuple[str, ...]
    expires: str | None
    at: str

    @property
    def net_g(self) -> Decimal:
        return self.gross_g - self.tare_g

    @property
    def content(self) -> str:
        """What is in it, for a sentence."""
        return f"{self.line} weighed ahead in {self.batch}"


@dataclass(frozen=True, slots=True)
class Kept:
    """What is left of a batch, grams, kept `at` a time for another one, where it is the oldest that
    is in it; `leftover`: what it is made of, None until its batch is closed. `spoilt`: something
    went into the rest, or nobody knows how much of a line is in it. `vessel` and `gross_g`: as it
    was put away."""

    batch: str
    net_g: Decimal
    division_g: Decimal
    at: str
    used_g: Decimal = Decimal(0)
    leftover: Leftover | None = None
    spoilt: bool = False
    vessel: str | None = None
    gross_g: Decimal = Decimal(0)

    @property
    def left_g(self) -> Decimal:
        return self.net_g - self.used_g


@dataclass(frozen=True, slots=True)
class Station:
    """All that the ledger says now: vessels on record, the scales, how late they are, the batch at
    the bench, those parked. `day` is the latest day that it has seen, UTC, however a clock was
    set."""

    vessels: dict[str, Vessel] = field(default_factory=dict)
    batch: Batch | None = None
    batches: int = 0
    formulas: dict[tuple[str, int], Formula] = field(default_factory=dict)
    last_who: str | None = None
    parked: dict[str, Batch] = field(default_factory=dict)
    lags: dict[str, Lag] = field(default_factory=dict)
    scales: dict[str, ev.ScaleKnown] = field(default_factory=dict)
    deliveries: dict[str, ev.MeatLotNamed] = field(default_factory=dict)  # line -> the last
    soiled: dict[str, str] = field(default_factory=dict)  # allergen -> the batch that brought it
    drawn: dict[str, Decimal] = field(default_factory=dict)  # lot of known size -> in ended batches
    leftovers: dict[str, Kept] = field(default_factory=dict)  # by lot
    portions: dict[str, Portion] = field(default_factory=dict)  # by the vessel they are in
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

    def weighed_on(self, scale: str) -> Line | None:
        """The line that is being weighed on a scale, at the bench or parked; None where none is."""
        lines = (line for batch in self.unfinished for line in batch.lines.values())
        return next((ln for ln in lines if ln.tare is not None and ln.tare.scale == scale), None)

    @property
    def open(self) -> Batch | None:
        """The batch that is open, if one is."""
        return self.batch if self.batch and self.batch.end is None else None
