"""What a person asks for at the scales: meat, additions, what goes into the mix or comes back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from station.weighing.commands.base import LINE, REASON, Command, Param, flag, verb


@verb(
    "use",
    "Name the vessel or tub that is used now.",
    'station use "tub 1"',
    Param("vessel", "the vessel's name"),
    Param("line", "a line other than the one whose turn it is", required=False),
    about="It has to be on record with its empty weight.",
)
@dataclass(frozen=True, slots=True)
class Use(Command):
    """`line` names a meat line when meat comes or goes outside the meat's turn."""

    vessel: str
    line: str | None = None


@verb(
    "accept",
    "The key: take a load of meat, arm the lift of a cure, accept onto the mix.",
    'station accept "curing premix"',
    LINE,
    flag("as_weighed", "take it out of band, as weighed"),
    flag("sure", "meat that weighs like a load before is another one"),
    Param("second", "who else saw where a cure went that left its vessel", required=False),
    about=(
        "What is above the band, or under it, is not taken with this key alone. Meat that "
        "weighs like a load before is asked about. With a second person it only says where a "
        "cure went that was taken out of its vessel; nothing is accepted by it."
    ),
)
@dataclass(frozen=True, slots=True)
class Accept(Command):
    """`second`: only says where what left the vessel went; nothing is accepted by it."""

    line: str
    as_weighed: bool = False
    sure: bool = False
    second: str | None = None


@verb(
    "end",
    "End a meat line, a load of several, or a count of pieces or packs.",
    'station end "pork shoulder"',
    LINE,
    flag("sure", "meat that is off the plan is right"),
    about="Meat that is off the plan is asked about.",
)
@dataclass(frozen=True, slots=True)
class End(Command):
    line: str
    sure: bool = False


@verb(
    "next-bag",
    "End a load with the vessel left on, and go on from another lot.",
    "station next-bag garlic G-118",
    LINE,
    Param("lot", "the new bag's lot, or all of its scanned GS1 label"),
    about="A cure goes on only from a bag of the same strength.",
)
@dataclass(frozen=True, slots=True)
class NextBag(Command):
    line: str
    lot: str
    expires: str | None = None
    today: str = ""


@verb(
    "meat-out",
    "Weigh meat that leaves the block again.",
    'station meat-out "pork belly"',
    LINE,
    about="Until the cure is in.",
)
@dataclass(frozen=True, slots=True)
class TakeMeatOut(Command):
    line: str


@verb(
    "tip",
    "Say that what stands is in the mix.",
    "station tip salt",
    LINE,
    flag("unaccepted", "it went in before it was accepted"),
    flag("more", "more went in than is recorded, nobody knows how much"),
    Param("lot", "the bag it came from, if not the one in use", required=False),
    Param("second", "who else saw a cure go in whose vessel does not come back", required=False),
    about=(
        "The empty vessel back on its scale says the same by itself. What the batch must have "
        "wants that, or a second person."
    ),
)
@dataclass(frozen=True, slots=True)
class Tip(Command):
    """`more`: on top of what is recorded, an amount that nobody knows. `lot`: the bag it came from,
    None for the one in use."""

    line: str
    unaccepted: bool = False
    more: bool = False
    lot: str | None = None
    second: str | None = None


@verb(
    "void",
    "Take back what is not in the mix.",
    'station void salt "poured from a wet bag"',
    LINE,
    REASON,
    flag("said_tipped", "it was said to be in the mix, and still stands"),
    Param("second", "who else saw a cure go elsewhere than into the mix", required=False),
    about=(
        "A cure stays in the sum of the most that may be in the mix, and the batch on hold, "
        "until its jar is weighed heavier by it or a second person saw where it went. With "
        "--said-tipped it takes back a wrong word that something is in the mix: its full "
        "vessel stands on its scale, or a second person says so too."
    ),
)
@dataclass(frozen=True, slots=True)
class Void(Command):
    """`said_tipped`: takes back the word that the line is in the mix, not what was weighed."""

    line: str
    reason: str
    said_tipped: bool = False
    second: str | None = None


@verb(
    "skip",
    "Leave a line for the end, or a step out.",
    'station skip garlic "not delivered"',
    LINE,
    REASON,
    about="A line is weighed at the end, or named when the batch is closed.",
)
@dataclass(frozen=True, slots=True)
class Skip(Command):
    line: str
    reason: str


@verb(
    "lot",
    "Open a lot of a line, with the strength on its bag.",
    'station lot open "curing premix" L2291 --contains "sodium nitrite=6.25 %"',
    LINE,
    Param("lot", "the lot on the bag, or all of its scanned GS1 label"),
    Param("contains", "agent=share, as on the bag", required=False, kind="texts"),
    Param("expires", "the date on the bag, such as 2026-11-30", required=False),
    Param("product", "the product of lots.toml that it is, with its strength", required=False),
    flag("rescale", "another strength is meant: work the line and the salt out by it"),
    Param("second", "who else read a strength that is far off", required=False),
    about=(
        "Nothing regulated is weighed without it. The lot may be all of a scanned label; with "
        "goods in lots.toml the label alone is enough: what it is taken for is shown and "
        "confirmed. A bag of another strength is refused, or with --rescale the line and the "
        "salt are worked out by it; more than twice or less than half as strong, two people "
        "must have read it."
    ),
)
@dataclass(frozen=True, slots=True)
class OpenLot(Command):
    line: str
    lot: str
    contains: Mapping[str, Decimal]
    expires: str | None
    today: str
    rescale: bool = False
    second: str | None = None
    size_g: Decimal | None = None
    price: Decimal | None = None


@verb(
    "weigh-on",
    "Weigh a line on another scale that is fit for it.",
    'station weigh-on "bread crumb" bench',
    LINE,
    Param("scale", "the scale's name"),
    about="Where its vessel goes only there.",
)
@dataclass(frozen=True, slots=True)
class WeighOn(Command):
    line: str
    scale: str


@verb(
    "meat-lot",
    "Name the delivery that a meat line is taken from.",
    'station meat-lot "pork belly" B-118 --supplier "Orrin Farm" --use-by 2026-12-04',
    LINE,
    Param("lot", "the lot on its label, or all of its scanned GS1 label"),
    Param("supplier", "who delivered it", required=False),
    Param("packed", "the day it was slaughtered or packed", required=False),
    Param("use_by", "its use-by date, such as 2026-12-04", required=False),
    Param("second", "who else saw that it is past its use-by", required=False),
    Param("cost", 'what it cost, such as "6.20 / kg"', required=False),
    about=(
        "Loads taken from then on are of it. One that is past its use-by wants a second person."
    ),
)
@dataclass(frozen=True, slots=True)
class NameMeatLot(Command):
    """Dates as YYYY-MM-DD; `today` is that of the bench."""

    line: str
    lot: str
    supplier: str | None
    packed: str | None
    use_by: str | None
    today: str
    second: str | None = None
    price: Decimal | None = None


@verb(
    "review-lot",
    "Settle after a review that what was last told of a lot is right.",
    'station lot review "curing premix" P-41 "the bag was read again" --second Brida',
    LINE,
    Param("lot", "the lot of which two strengths were told"),
    REASON,
    Param("second", "who else reviewed it", required=False),
    about=(
        "Where two strengths were told, the stronger one counts until two people say after a "
        "review that the last one is right."
    ),
)
@dataclass(frozen=True, slots=True)
class ReviewLot(Command):
    line: str
    lot: str
    reason: str
    second: str | None = None


@verb(
    "jar",
    "Weigh the jar of a regulated line, before and after: what it lost is compared.",
    'station jar "curing premix" bench',
    LINE,
    Param("scale", "the scale it stands on"),
    about=(
        "It tells where the jar lost more or less than the cup gained; it corrects no weight. "
        "What was voided of a cure is proved by its jar."
    ),
)
@dataclass(frozen=True, slots=True)
class WeighJar(Command):
    """The jar of a regulated line, weighed before something is taken from it, or after."""

    line: str
    scale: str


@verb(
    "by-hand",
    "Take a net weight that was read and typed, because no scale can send it.",
    'station by-hand salt "209.6 g" fine "its cable is torn"',
    LINE,
    Param("net", "the net weight, with its unit"),
    Param("scale", "the scale it was read on"),
    REASON,
    Param("second", "who else read it; a cure wants one", required=False),
    flag("in_mix", "it is in the mix already"),
    Param("lot", "with in_mix: the bag it came from, if another", required=False),
    about=(
        "Only while the scale itself cannot be read. Judged like any other, marked wherever "
        "it is shown; a cure, and the meat that its limit hangs on, want a second person. "
        "With --in-mix it says what went in during a power cut."
    ),
)
@dataclass(frozen=True, slots=True)
class ByHand(Command):
    """A figure read and typed. `in_mix`: it says what is in the mix already, `lot` from which bag,
    None for the one in use."""

    line: str
    net_g: Decimal
    scale: str
    reason: str
    second: str | None = None
    in_mix: bool = False
    lot: str | None = None
