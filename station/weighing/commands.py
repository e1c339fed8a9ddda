"""What is asked for, in the imperative: by a person, or by the watch over a pan.

Figures are `Decimal` grams by the time they get here. `Pans` carries what the watches say at the
moment of the decision, so that deciding needs nothing else.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from station.batch.events import BatchOpened, Event
from station.pan.view import Pan, Settled

Pans = Mapping[str, Pan]


class Refusal(Exception):
    """A command is not carried out: a code, one sentence, the next step, the line it is about."""

    def __init__(self, code: str, sentence: str, next_step: str, line: str | None = None) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.next = next_step
        self.line = line


@dataclass(frozen=True, slots=True)
class Decision:
    """Events to record. `happened`: they tell what is already so and are recorded whatever the law
    says of it. `answer` is for whoever asked. `key`, `explained` and `same` name a scale whose
    watch is told that the lift is armed, that what was set down belongs in, or that the vessel is
    the one of the weighing."""

    events: tuple[Event, ...] = ()
    happened: bool = False
    answer: str = ""
    key: str | None = None
    explained: str | None = None
    same: str | None = None


@dataclass(frozen=True, slots=True)
class Command:
    """Base of all commands."""


@dataclass(frozen=True, slots=True)
class Open(Command):
    """Open a batch with everything it will need; `warnings` are (line, text)."""

    batch: str
    opened: BatchOpened
    warnings: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class OpenLot(Command):
    line: str
    lot: str
    contains: Mapping[str, Decimal]
    expires: str | None
    today: str
    rescale: bool = False
    second: str | None = None


@dataclass(frozen=True, slots=True)
class RecordLag(Command):
    """Take what the last steps on a scale tell of how late it is."""

    scale: str


@dataclass(frozen=True, slots=True)
class SeeLag(Command):
    """Ordinary work tells that a scale is later, or less late, than was known."""

    scale: str


@dataclass(frozen=True, slots=True)
class RecordVessel(Command):
    name: str
    scale: str


@dataclass(frozen=True, slots=True)
class WeighJar(Command):
    """The jar of a regulated line, weighed before something is taken from it, or after."""

    line: str
    scale: str


@dataclass(frozen=True, slots=True)
class TellScale(Command):
    """A scale has carried out an order: "zero" or "clear-tare"."""

    scale: str
    order: str


@dataclass(frozen=True, slots=True)
class Use(Command):
    """`line` names a meat line when meat comes or goes outside the meat's turn."""

    vessel: str
    line: str | None = None


@dataclass(frozen=True, slots=True)
class Who(Command):
    name: str
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Accept(Command):
    line: str
    as_weighed: bool = False


@dataclass(frozen=True, slots=True)
class End(Command):
    line: str
    sure: bool = False


@dataclass(frozen=True, slots=True)
class NextBag(Command):
    line: str
    lot: str
    expires: str | None = None
    today: str = ""


@dataclass(frozen=True, slots=True)
class TakeMeatOut(Command):
    line: str


@dataclass(frozen=True, slots=True)
class Tip(Command):
    """`more`: on top of what is recorded, an amount that nobody knows. `lot`: the bag it came from,
    None for the one in use."""

    line: str
    unaccepted: bool = False
    more: bool = False
    lot: str | None = None


@dataclass(frozen=True, slots=True)
class Void(Command):
    line: str
    reason: str


@dataclass(frozen=True, slots=True)
class Skip(Command):
    line: str
    reason: str


@dataclass(frozen=True, slots=True)
class EndStep(Command):
    name: str
    value: str | None = None


@dataclass(frozen=True, slots=True)
class ByHand(Command):
    """A figure read and typed. `in_mix`: it tells what is in the mix already, `lot` from which bag,
    None for the one in use."""

    line: str
    net_g: Decimal
    scale: str
    reason: str
    second: str | None = None
    in_mix: bool = False
    lot: str | None = None


@dataclass(frozen=True, slots=True)
class Park(Command):
    """The batch at the bench makes room for another."""


@dataclass(frozen=True, slots=True)
class TakeUp(Command):
    batch: str


@dataclass(frozen=True, slots=True)
class Note(Command):
    text: str


@dataclass(frozen=True, slots=True)
class Close(Command):
    named: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Abandon(Command):
    reason: str


# what the watch sees


@dataclass(frozen=True, slots=True)
class SeeLoad(Command):
    """Something has settled on a pan where no weighing has its tare yet."""

    scale: str
    settled: Settled


@dataclass(frozen=True, slots=True)
class SeeLift(Command):
    """The vessel of the weighing has been lifted off."""

    line: str
    scale: str


@dataclass(frozen=True, slots=True)
class SeeGap(Command):
    """After a gap in the readings another weight is on the pan of the weighing."""

    line: str
    scale: str


@dataclass(frozen=True, slots=True)
class SeeOver(Command):
    """Settled over the upper acceptance limit."""

    line: str
    net_g: Decimal


@dataclass(frozen=True, slots=True)
class SeeVoidable(Command):
    """The vessel of a line to be voided is on its tare."""

    line: str


@dataclass(frozen=True, slots=True)
class SeeTubEmpty(Command):
    """`batch`: whose meat was in the tub, at the bench or parked."""

    line: str
    vessel: str
    gross_g: Decimal
    batch: str


@dataclass(frozen=True, slots=True)
class SeeUndershot(Command):
    """A pan shows less than nothing: what looked like a lift was a zeroing. `batch`: whose
    acceptance hangs on it; `last`: of no other batch after that."""

    scale: str
    batch: str
    last: bool
