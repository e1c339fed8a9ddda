"""What a person asks for once all is in the mix: pieces and packs, weighed one after another."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from station.weighing.commands.base import REASON, Command, Param, verb

_SCALE = Param("scale", "the scale's name")


@verb(
    "pieces",
    "Weigh and count pieces, one after another.",
    "station pieces links bench",
    Param("name", "what they are, such as links or patties"),
    _SCALE,
    Param("odd", "what is left over: of whatever weight", required=False, kind="flag"),
    about=(
        "Each is set down, settles, and counts when it is taken off; no key. `end` with the same "
        "name ends it. Zero the scale with an empty board where one stays on the pan."
    ),
)
@dataclass(frozen=True, slots=True)
class CountPieces(Command):
    name: str
    scale: str
    odd: bool = False


@verb(
    "packs",
    "Weigh and count packs of a stated weight, one after another.",
    'station packs "400 g" bench --store fridge --keeps "4 d"',
    Param("nominal", "the weight that is stated on them"),
    _SCALE,
    Param("store", "where they are kept, such as fridge or freezer"),
    Param("keeps", "how long, by the maker's own shelf life, such as 4 d"),
    Param("vessel", "empty packaging that is on record with its weight", required=False),
    about=(
        "Each counts when it is taken off. All of them together are judged by what the law "
        "tolerates; no pack is held back. `end` with the name that is shown ends it."
    ),
)
@dataclass(frozen=True, slots=True)
class CountPacks(Command):
    """Grams; `lacks_g`, `few` and `source` are the law's, None where none was read; `use_by` is
    YYYY-MM-DD."""

    nominal_g: Decimal
    scale: str
    store: str
    use_by: str
    vessel: str | None = None
    lacks_g: Decimal | None = None
    few: Decimal | None = None
    source: str | None = None

    @property
    def name(self) -> str:
        """What they are counted under: another date is another count."""
        return f"{self.nominal_g.normalize():f} g, {self.store}, use by {self.use_by}"


@verb(
    "dried",
    "Weigh pieces that have hung once more, all of them: what they lost.",
    "station dried links bench",
    Param("name", "what they were counted as, such as links"),
    _SCALE,
    about=(
        "Each counts when it is taken off, as when they were counted; say `links` for a string. "
        "The loss is told once as many were weighed as there are. `end` with the name that is "
        "shown ends it. Park the batch while they hang, and take it up for each weighing."
    ),
)
@dataclass(frozen=True, slots=True)
class WeighDried(Command):
    name: str
    scale: str


@verb(
    "casing",
    "Say which casing is taken to be filled: its lot, and how much of it.",
    'station casing --lot H-7 --length "12 m"',
    Param("lot", "the lot on its packing", required=False),
    Param("length", "how much of it, such as 12 m", required=False),
    about="Once for each lot, and again when more is taken: lengths add up.",
)
@dataclass(frozen=True, slots=True)
class TakeCasing(Command):
    lot: str | None
    length_m: Decimal | None


@verb(
    "rinse",
    "Say that the water of what soaks was changed.",
    'station rinse "hog casing soaks"',
    Param("name", "the step's name"),
)
@dataclass(frozen=True, slots=True)
class ChangeWater(Command):
    name: str


@verb(
    "links",
    "Say how many pieces hang together in the string that is weighed next.",
    "station links 12",
    Param("number", "so many pieces"),
)
@dataclass(frozen=True, slots=True)
class TellLinks(Command):
    number: int


@verb(
    "again",
    "Weigh a piece or pack once more; the new weight takes its place.",
    "station again 7",
    Param("number", "its number, as it was counted"),
)
@dataclass(frozen=True, slots=True)
class WeighAgain(Command):
    number: int


@verb(
    "strike",
    "Take a piece or pack that was counted out of the count.",
    'station strike 7 "its casing burst"',
    Param("number", "its number, as it was counted"),
    REASON,
)
@dataclass(frozen=True, slots=True)
class StrikeItem(Command):
    number: int
    reason: str


@verb(
    "leftover",
    "Weigh what is left of a raw mix, and keep it for another batch.",
    "station leftover bench --vessel tub-2",
    _SCALE,
    Param("vessel", "what it is in, with its empty weight on record", required=False),
    about=(
        "It gets a lot of its own. Once the batch is closed, `meat-lot` names that lot for meat of "
        "a batch whose formula takes leftovers: then its salt, cure, allergens and age count there."
    ),
)
@dataclass(frozen=True, slots=True)
class KeepLeftover(Command):
    scale: str
    vessel: str | None = None


@verb(
    "discard",
    "Say that a leftover, or a bag that was weighed ahead, was thrown away.",
    'station discard 261130-1-L1 "too old"',
    Param("name", "the leftover's lot, or the bag's name"),
    REASON,
)
@dataclass(frozen=True, slots=True)
class Discard(Command):
    name: str
    reason: str
