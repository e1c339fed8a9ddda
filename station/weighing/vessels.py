"""What has just been set on a pan: an empty vessel, a standing one, a tipped one, or a question."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from station.batch.plan import free_vessels
from station.batch.state import Batch, Line, Station, Vessel
from station.metrology.scale import Scale
from station.units import shown

UNLIKE_G = Decimal(2)
TIPPED_DIVISIONS = 12
CLINGS = Decimal("0.04")
"""Share of a net of salt or cure that may cling to its vessel unasked."""


@dataclass(frozen=True, slots=True)
class EmptyVessel:
    """Fit to be tared for the line; `name` None for a vessel that is not on record."""

    name: str | None


@dataclass(frozen=True, slots=True)
class StillStanding:
    """A vessel whose accepted content is still in it."""

    line: str
    vessel: str | None


@dataclass(frozen=True, slots=True)
class SeenTipped:
    """A standing vessel came back as good as empty; residue None where this scale cannot say."""

    line: str
    vessel: str | None
    residue_g: Decimal | None


@dataclass(frozen=True, slots=True)
class Question:
    """Nothing is certain: one sentence, and what answers it."""

    sentence: str
    next: str


Seen = EmptyVessel | StillStanding | SeenTipped | Question


@dataclass(frozen=True, slots=True)
class _Standing:
    """All that stands in one vessel for one line: net sum, first tare, last gross."""

    line: Line
    vessel: str | None
    tare_g: Decimal
    gross_g: Decimal
    net_g: Decimal
    scale: str | None
    parked: str | None  # its batch, where that is not at the bench

    @property
    def content(self) -> str:
        """What is in it, for a sentence."""
        return f"{self.line.name} of {self.parked}" if self.parked else self.line.name


def standing_vessels(batch: Batch) -> list[_Standing]:
    found = []
    for line in batch.lines.values():
        for vessel in dict.fromkeys(load.vessel for load in line.standing):
            loads = [load for load in line.standing if load.vessel == vessel]
            net = sum((load.net_g or Decimal(0) for load in loads), Decimal(0))
            found.append(
                _Standing(
                    line,
                    vessel,
                    loads[0].tare_g,
                    loads[-1].gross_g,
                    net,
                    loads[-1].scale,
                    batch.id if batch.parked_at else None,
                )
            )
    return found


def _left_open(batch: Batch) -> list[_Standing]:
    """Weighings that were reopened while their batch was parked: what they hold stands all the
    same."""
    if batch.parked_at is None:
        return []
    found = []
    for line in batch.lines.values():
        tare = line.tare
        if tare is not None and not tare.onto:
            gross = line.lifted.gross_g if line.lifted else tare.tare_g
            net = gross - tare.tare_g
            found.append(
                _Standing(line, tare.vessel, tare.tare_g, gross, net, tare.scale, batch.id)
            )
    return found


def cups(station: Station) -> list[_Standing]:
    """Every vessel that stands and whose weight is known, of the batch at the bench first; one
    whose figure was typed without naming a vessel cannot be told by its weight."""
    standing = [
        cup
        for batch in station.unfinished
        for cup in (*standing_vessels(batch), *_left_open(batch))
    ]
    return [cup for cup in standing if cup.gross_g > 0]


def _unnamed(station: Station) -> str | None:
    """What stands in a vessel that nobody named, by a typed figure."""
    for batch in station.unfinished:
        for cup in standing_vessels(batch):
            if cup.gross_g <= 0:
                return cup.content
    return None


def held_in(station: Station, vessel: str) -> str | None:
    """What stands in a vessel, or None."""
    for batch in station.unfinished:
        for cup in (*standing_vessels(batch), *_left_open(batch)):
            if cup.vessel == vessel:
                return cup.content
    return None


def like_record(vessel: Vessel, gross_g: Decimal, scale: Scale, target: Fraction | None) -> bool:
    """Whether a gross is this vessel empty: within the larger of 3 d and 2 g, but within a quarter
    of the target where that is above 3 d (d: the coarser of this scale's and the record's)."""
    near = 3 * max(scale.division_g, vessel.division_g)
    most = Fraction(max(near, UNLIKE_G))
    if target is not None and target / 4 > near:
        most = min(most, target / 4)
    return abs(gross_g - vessel.empty_g) <= most


def identify(station: Station, scale: Scale, gross_g: Decimal, name: str | None) -> Seen:
    """What a settled load on `scale` is, when line `name` (None: no line) has no tare yet."""
    batch = station.open
    line = batch.lines.get(name or "") if batch else None
    target = batch.target(line.name) if batch and line else None
    free = [v for v in free_vessels(station) if like_record(v, gross_g, scale, target)]
    used = line.used if line else None
    if used is not None and any(vessel.name == used for vessel in free):
        return EmptyVessel(used)
    standing = cups(station)
    if batch and (seen := _standing_or_tipped(batch, standing, free, scale, gross_g)):
        return seen
    if used is not None:
        return _unlike(station.vessels[used], scale, gross_g)
    if len(free) == 1:
        return EmptyVessel(free[0].name)
    if free:
        names = " or ".join(vessel.name for vessel in free)
        return Question(f"is this {names}?", "say which with use")
    if (unnamed := _unnamed(station)) is not None:
        return Question(f"does this hold the {unnamed}?", f"tip or void the {unnamed} first")
    if batch is None or line is None or not batch.guarded(line.name):
        return EmptyVessel(None)
    weight = shown(gross_g, scale.division_g)
    return Question(
        f"{weight} g on {scale.name} is no empty vessel on record",
        "empty it, or record it empty with vessel",
    )


def _standing_or_tipped(
    batch: Batch, standing: list[_Standing], free: list[Vessel], scale: Scale, gross_g: Decimal
) -> Seen | None:
    near = scale.near_g
    for cup in standing:
        if abs(gross_g - cup.gross_g) <= near:
            if free:
                names = " or ".join(vessel.name for vessel in free)
                return Question(f"is this {cup.content}, or empty: {names}?", "say use, or lift it")
            if cup.parked:
                return Question(f"this holds {cup.content}", "lift it off: it waits with its batch")
            return StillStanding(cup.line.name, cup.vessel)
    if free:
        return None
    between = [cup for cup in standing if cup.tare_g - near <= gross_g <= cup.gross_g + near]
    if not between:
        return None
    cup = between[0]
    if cup.parked:
        what = f"is this {cup.content}?"
        return Question(what, f"lift it off, or take-up {cup.parked}")
    emptied = gross_g < cup.tare_g + cup.net_g / 4
    elsewhere = cup.scale != scale.name and batch.guarded(cup.line.name)
    if cup.line.voiding is not None:
        what = f"{cup.vessel or 'the vessel'} of {cup.line.name} is not empty yet"
        return Question(what, "empty it: it is to be voided")
    if elsewhere:
        emptied = False  # only its own scale knows a cup of salt or cure for certain
    if batch.guarded(cup.line.name):  # and only if little clings: else a key says so
        emptied = emptied and gross_g - cup.tare_g <= max(near, cup.net_g * CLINGS)
    if len(between) == 1 and emptied and cup.net_g >= TIPPED_DIVISIONS * scale.division_g:
        residue = max(gross_g - cup.tare_g, Decimal(0)) if cup.scale == scale.name else None
        return SeenTipped(cup.line.name, cup.vessel, residue)
    return Question(f"{cup.line.name.upper()} in the mix?", "say tip if it is, else lift it off")


def _unlike(vessel: Vessel, scale: Scale, gross_g: Decimal) -> Question:
    weight, record = shown(gross_g, scale.division_g), shown(vessel.empty_g, vessel.division_g)
    return Question(
        f"{vessel.name} weighs {weight} g, on record {record} g empty",
        "empty it, use another, or record it empty with vessel",
    )
