"""What the watch over a pan says at a moment, as values for a decision."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from station.metrology.scale import Device, Scale
from station.pan.lag import WeightStep
from station.pan.pour import Advice, Poured

Reason = Literal[
    "ledger",
    "link",
    "clock",
    "stale",
    "error",
    "overload",
    "underload",
    "device",
    "zeroed",
    "gap",
    "unit",
    "zero",
    "vessel",
    "unfit",
    "jump",
]
REASONS: tuple[str, ...] = Reason.__args__  # type: ignore[attr-defined]
"""Why nothing can be accepted, the first of several is shown."""


Asks = Literal["jump", "away", "swapped", "missing", "gone", "which", "tipped", "doubt", "device"]
"""What a person is asked: does it belong in, is it as it was, is it this vessel, did it go back, is
it in the mix, which vessel is it, was it tipped, where did it go, is it the scale on record."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """One reason, its sentence, and the next step. `asks`: the kind of question it is, `about`: the
    names that the question is about."""

    reason: Reason
    sentence: str
    next: str
    asks: Asks | None = None
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Settled:
    """A settled gross in grams; of the first reading that was settled at it, the bytes of its frame
    in hex and when it was read, seconds."""

    gross_g: Decimal
    raw: str
    time_s: float = field(compare=False)  # read again, the same weight is no other one


@dataclass(frozen=True, slots=True)
class Jump:
    """Something was set down: the gross before it, grams."""

    before_g: Decimal


@dataclass(frozen=True, slots=True)
class Lift:
    """The pan has emptied: what was last settled on it, whether the fall came at once (so that the
    weight is the lifted one's), what stayed on the pan, whether a key or a jump was pending.
    `last_g`: what was on it just before, unsettled, where that was clearly more. `placed_g`: the
    gross at which it had first settled, None once a person named it; `recorded_g`: up to which what
    was poured into it since is on record.
    """

    held: Settled
    at_once: bool
    stayed_g: Decimal
    keyed: bool
    jumped: bool
    last_g: Decimal | None = None
    placed_g: Decimal | None = None
    recorded_g: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Task:
    """What the batch expects on this pan: grams, None where not known yet.

    `jump_g` is the rise within 0.6 s that no pour makes, None where jumps are not watched;
    `empty_below_g` is less than any vessel weighs.
    """

    line: str
    tare_g: Decimal | None
    base_g: Decimal = Decimal(0)
    accept: tuple[Decimal, Decimal] | None = None
    aim_g: Decimal | None = None
    jump_g: Decimal | None = None
    empty_below_g: Decimal | None = None
    guarded: bool = False

    @property
    def pour(self) -> tuple[str, Decimal | None, Decimal]:
        """What makes it the same pour: line, vessel, and what was accepted of the line before."""
        return self.line, self.tare_g, self.base_g


@dataclass(frozen=True, slots=True)
class Pan:
    """What the watch says now, as a value for a decision.

    `held`: what is on it as it last settled, however it moves now. `placed_g`: the gross at which
    what is on it first settled, None once a person named it; `recorded_g`: up to which gross what
    was poured into it since is on record, though it is not the vessel of the weighing.
    `missed_g`: the most of what was on it and gone before it ever settled. `falling`: it is being
    lifted. `resumed`: it was there when the station started. `gap_from_g`:
    the gross before readings were missing; `gap_broken`: another one was seen since. `short_g`: how
    far under zero the pan is, too far for a wandered zero. `stayed_on`: the load that was counted
    last has not left the pan since. `tipped_line`: whose vessel was tipped while it stood there.
    `foreign`: it was on the pan when another batch was at the bench. `advice`: what the pour watch
    says, None where nothing is poured; `poured`: how this pour went so far. `steps`: the last steps
    seen, which tell how late the scale is. `device`: what answers, once it did, None before that.
    `age_s`: whole seconds since the last reading, None where there was none. `period_s`: the time
    between readings, to a twentieth, `window_s`: what the scale averages over. All times in
    seconds.
    """

    scale: Scale
    gross_g: Decimal | None
    settled: Settled | None
    held: Settled | None
    troubles: tuple[Trouble, ...]
    empty: bool
    keyed: bool
    jump: Jump | None
    lift: Lift | None
    missed_g: Decimal | None
    age_s: int | None
    stayed_on: bool
    tipped_line: str | None
    placed_g: Decimal | None
    recorded_g: Decimal | None
    falling: bool
    resumed: bool
    gap_from_g: Decimal | None
    gap_broken: bool
    short_g: Decimal | None
    foreign: bool
    advice: Advice | None
    poured: Poured
    steps: tuple[WeightStep, ...]
    period_s: float
    window_s: float
    device: Device | None

    @property
    def another(self) -> bool:
        """Whether it is asked about: it is not the scale on record."""
        return bool(self.troubles) and self.troubles[0].asks == "device"

    @property
    def loaded(self) -> bool:
        return self.settled is not None and self.settled.gross_g > self.scale.near_g
