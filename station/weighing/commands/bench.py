"""What a person asks for around the weighing: batches, people, vessels, scales, steps, notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar

from station.weighing.commands.base import REASON, Command, Param, verb

if TYPE_CHECKING:
    from station.batch.events import BatchOpened

_SCALE = Param("scale", "the scale's name")


@verb(
    "open",
    "Open a batch of a formula, planned by meat, mix or pieces, or by the meat that arrives.",
    'station open garlic-ring --meat "12 kg" --who Ansel',
    Param("formula", "the formula's file name, without .toml"),
    Param("meat", "weight of the meat block", required=False),
    Param("mix", "weight of the whole mix", required=False),
    Param("pieces", "number of pieces", required=False),
    Param("planned", "weigh the dry lines ahead, for so much meat to come", required=False),
    Param("count", "so many bags of each, one for each batch to come", required=False),
    Param("who", "who is at the bench"),
    Param("washed", "who washed the bench down after another allergen", required=False),
    about=(
        "The formula is formulas/NAME.toml. Without a weight the meat that arrives is taken, "
        "and the end of it asks whether that is all. After a batch with an allergen that this one "
        "has not, it asks who washed down. With --planned 7kg --count 4 the dry lines are weighed "
        "into bags before there is meat, four of each; on the day `use BAG` says how much to top "
        "up, or how much of it to use."
    ),
)
@dataclass(frozen=True, slots=True)
class Open(Command):
    """Open a batch with everything it will need; `warnings` are (line, text); `asked`: the
    parameters that it was asked with, for a question."""

    batch: str
    opened: BatchOpened
    warnings: tuple[tuple[str, str], ...] = ()
    washed: str | None = None
    asked: Mapping[str, str] = field(default_factory=dict)


@verb(
    "park",
    "Put the batch aside for another one.",
    "station park",
    about="Cups that stand stay with their batch.",
)
@dataclass(frozen=True, slots=True)
class Park(Command):
    """The batch at the bench makes room for another."""


@verb(
    "take-up",
    "Bring a parked batch back to the bench.",
    "station take-up 261130-1",
    Param("batch", "the parked batch"),
    Param("washed", "who washed the bench down after another allergen", required=False),
    about=(
        "Cups that stood when it was parked are known when they come back. After a batch with an "
        "allergen that this one has not, it asks who washed down."
    ),
)
@dataclass(frozen=True, slots=True)
class TakeUp(Command):
    """`authority`: whose limits hold for what is opened now."""

    batch: str
    authority: str | None = None
    washed: str | None = None


@verb(
    "close",
    "Close the batch; name every line that is skipped or out of band.",
    "station close --named garlic",
    Param("named", "a line that is not as planned", required=False, kind="texts"),
    about=(
        "What the batch must have closes only once its empty vessel was back on the scale, or "
        "a second person saw it go in."
    ),
)
@dataclass(frozen=True, slots=True)
class Close(Command):
    named: tuple[str, ...] = ()


@verb(
    "abandon",
    "Give the batch up, after review.",
    'station abandon "salt poured twice"',
    REASON,
    about="Once nothing stands in a cup.",
)
@dataclass(frozen=True, slots=True)
class Abandon(Command):
    reason: str


@verb(
    "step",
    "End a process step, with a value if there is one.",
    'station step "knead until tacky" --value "9 degC"',
    Param("name", "the step's name"),
    Param("value", "what was found", required=False),
    Param("thermometer", "the thermometer of station.toml that was read", required=False),
    Param("reason", "why it ends so", required=False),
    about=(
        "Before its least time, outside its temperature, or without a reading where one is meant, "
        "it asks why it ends so. A thermometer that hangs at a port is read by the station itself: "
        "then the temperature is left out of the value."
    ),
)
@dataclass(frozen=True, slots=True)
class EndStep(Command):
    name: str
    value: str | None = None
    reason: str | None = None
    thermometer: str | None = None


@verb(
    "who",
    "Say who is at the bench.",
    "station who Brida",
    Param("name", "a name from station.toml"),
)
@dataclass(frozen=True, slots=True)
class Who(Command):
    name: str
    people: tuple[str, ...]


@verb(
    "note",
    "Write a note into the ledger.",
    'station note "the belly was very fat"',
    Param("text", "the note"),
)
@dataclass(frozen=True, slots=True)
class Note(Command):
    text: str


@verb(
    "vessel",
    "Record the empty weight of the vessel that stands on a scale.",
    'station vessel "cup 2" fine',
    Param("name", "the vessel's name"),
    Param("scale", "the scale it stands on"),
    about="Once for each vessel: from then on it is known by its weight.",
)
@dataclass(frozen=True, slots=True)
class RecordVessel(Command):
    OF_BENCH: ClassVar[bool] = True
    name: str
    scale: str


@verb(
    "lag",
    "Record how late a scale is, from a weight set down on it three times or more.",
    "station scale lag fine",
    _SCALE,
    about="Set a weight down on it and lift it, three times.",
)
@dataclass(frozen=True, slots=True)
class RecordLag(Command):
    """Take what the last steps on a scale show of how late it is."""

    OF_BENCH: ClassVar[bool] = True
    scale: str


@verb(
    "confirm-scale",
    "Say that what answers under a scale's name takes the place of the scale on record.",
    "station confirm-scale fine",
    _SCALE,
    about=(
        "Another one answers when its port, grammar, unit, division or Max differ from those "
        "on record. It is used from then on; what is being weighed there is weighed again."
    ),
)
@dataclass(frozen=True, slots=True)
class ConfirmScale(Command):
    OF_BENCH: ClassVar[bool] = True
    scale: str


@verb(
    "zero",
    "Zero a scale whose pan is empty, where it can be told to.",
    "station zero fine",
    _SCALE,
    about="A scale is never told to tare.",
)
@verb(
    "clear-tare",
    "Clear the tare that somebody set on a scale, where it can be told to.",
    "station clear-tare fine",
    _SCALE,
)
@dataclass(frozen=True, slots=True)
class TellScale(Command):
    """A scale has carried out an order: "zero" or "clear-tare"."""

    OF_BENCH: ClassVar[bool] = True
    scale: str
    order: str
