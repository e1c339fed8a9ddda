"""What has just been set on a pan: an empty vessel, a standing one, a tipped one, or a question."""

import re
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from station.batch.cups import Cup, held_in, typed
from station.batch.line import Line, Load
from station.batch.state import Batch, Portion, Station, Vessel
from station.metrology.scale import Scale
from station.pan.view import Pan
from station.units import shown
from station.weighing.facts import Facts

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
class Portioned:
    """The bag that was named for the line, with what was weighed into it ahead."""

    portion: Portion


@dataclass(frozen=True, slots=True)
class Question:
    """Nothing is certain: one sentence, and what answers it. `vessels` are those that could be
    meant, `tips` the line that is in the mix if the answer is yes."""

    sentence: str
    next: str
    vessels: tuple[str, ...] = ()
    tips: str | None = None


Seen = EmptyVessel | StillStanding | SeenTipped | Portioned | Question


def like_record(
    vessel: Vessel,
    gross_g: Decimal,
    scale: Scale,
    target: Fraction | None,
    limited: bool = False,
) -> bool:
    """Whether a gross is this vessel empty: within the larger of 3 d and 2 g, but within a quarter
    of the target where that is above 3 d (d: the coarser of this scale's and the record's). For a
    `limited` line within 3 d: a spoon, or the rest of the last line, would count as cure."""
    near = 3 * max(scale.division_g, vessel.division_g)
    if limited:
        return abs(gross_g - vessel.empty_g) <= near
    most = Fraction(max(near, UNLIKE_G))
    if target is not None and target / 4 > near:
        most = min(most, target / 4)
    return abs(gross_g - vessel.empty_g) <= most


def identify(facts: Facts, scale: Scale, gross_g: Decimal, name: str | None) -> Seen:
    """What a settled load on `scale` is, when line `name` (None: no line) has no tare yet."""
    batch = facts.station.open
    line = batch.lines.get(name or "") if batch else None
    target = batch.target(line.name) if batch and line else None
    strict = bool(batch and line and batch.limited(line.name))
    free = [v for v in facts.free if like_record(v, gross_g, scale, target, strict)]
    used = line.used if line else None
    if used is not None and any(vessel.name == used for vessel in free):
        return EmptyVessel(used)
    if (portion := facts.station.portions.get(used or "")) is not None:
        return _portion(portion, scale, gross_g)
    if (waiting := _waiting(facts.station, scale, gross_g)) is not None:
        return _which(batch, line, free, waiting)
    if batch and (seen := _standing_or_tipped(batch, facts.cups, free, scale, gross_g)):
        return seen
    if used is not None:
        return _unlike(facts.station.vessels[used], scale, gross_g)
    if len(free) == 1:
        return EmptyVessel(free[0].name)
    if free:
        names = tuple(vessel.name for vessel in free)
        return Question(f"is this {' or '.join(names)}?", "say which with use", vessels=names)
    if (content := typed(facts.station)) is not None:
        return Question(f"does this hold the {content}?", f"tip or void the {content} first")
    if batch is None or line is None or not batch.guarded(line.name):
        return EmptyVessel(None)
    weight = shown(gross_g, scale.division_g)
    return Question(
        f"{weight} g on {scale.name} is no empty vessel on record",
        "empty it, or record it empty with vessel",
    )


def _portion(portion: Portion, scale: Scale, gross_g: Decimal) -> Seen:
    """The bag that was named, if it weighs as it did when it was weighed ahead."""
    if portion.scale != scale.name:
        what = f"{portion.vessel} was weighed on {portion.scale}, not on {scale.name}"
        return Question(what, f"weigh it on {portion.scale}: weigh-on")
    if abs(gross_g - portion.gross_g) <= scale.near_g:
        return Portioned(portion)
    weight, was = shown(gross_g, scale.division_g), shown(portion.gross_g, portion.division_g)
    what = f"{portion.vessel} weighs {weight} g, and {was} g when it was weighed ahead"
    return Question(what, "is it another? else discard it, and weigh it anew")


def _which(
    batch: Batch | None, line: Line | None, free: list[Vessel], waiting: Portion
) -> Question:
    """What weighs like a bag that was weighed ahead, and is in question until it is named."""
    names = [vessel.name for vessel in free]
    what = f"this holds {waiting.content}"
    what += f", or is {' or '.join(names)} empty?" if names else ""
    own = batch and line and (batch.formula.name, line.name) == (waiting.formula, waiting.line)
    vessels = (*([waiting.vessel] if own else []), *names)
    return Question(what, "say which with use, or lift it off", vessels=vessels)


def _waiting(station: Station, scale: Scale, gross_g: Decimal) -> Portion | None:
    """What was weighed ahead and weighs so much."""
    for portion in station.portions.values():
        if portion.scale == scale.name and abs(portion.gross_g - gross_g) <= scale.near_g:
            return portion
    return None


def new_name(known: Collection[Vessel], scale: Scale) -> str:
    """The next name for a vessel that was weighed empty on `scale`: the kind of name that most of
    those recorded with its division have, "cup 3" after "cup 2"; without any "vessel 1"."""
    found = [re.fullmatch(r"(.*\S) (\d{1,4})", vessel.name, re.ASCII) for vessel in known
             if vessel.division_g == scale.division_g]  # fmt: skip
    named = [(match[1], int(match[2])) for match in found if match]
    kinds = Counter(kind for kind, _ in named)
    kind = max(kinds, key=lambda name: (kinds[name], name)) if kinds else "vessel"
    taken = {vessel.name for vessel in known}
    number = max((n for name, n in named if name == kind), default=0) + 1
    while f"{kind} {number}" in taken:
        number += 1
    return f"{kind} {number}"


def seen_in(facts: Facts, pan: Pan) -> tuple[Line, Load] | None:
    """What one person called tipped, and its vessel is back on its scale now as good as empty."""
    if pan.settled is None or not pan.loaded or pan.troubles:
        return None
    for line, load in facts.by_word:
        clings = max(pan.scale.near_g, (load.net_g or Decimal(0)) * CLINGS)
        low, high = load.tare_g - pan.scale.near_g, load.tare_g + clings
        if load.scale != pan.scale.name or not low <= pan.settled.gross_g <= high:
            continue
        others = [v for v in facts.station.vessels.values() if v.name != load.vessel]
        alike = [v for v in others if low <= v.empty_g <= high]
        if not alike and held_in(facts.station, load.vessel or "") is None:
            return line, load
    return None


def _standing_or_tipped(
    batch: Batch, standing: list[Cup], free: list[Vessel], scale: Scale, gross_g: Decimal
) -> Seen | None:
    near = scale.near_g
    for cup in standing:
        if abs(gross_g - cup.gross_g) <= near:
            if free:
                names = tuple(vessel.name for vessel in free)
                what = f"is this {cup.content}, or empty: {' or '.join(names)}?"
                return Question(what, "say use, or lift it", vessels=names)
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
    what, step = f"{cup.line.name.upper()} in the mix?", "say tip if it is, else lift it off"
    return Question(what, step, tips=cup.line.name)


def _unlike(vessel: Vessel, scale: Scale, gross_g: Decimal) -> Question:
    weight, record = shown(gross_g, scale.division_g), shown(vessel.empty_g, vessel.division_g)
    return Question(
        f"{vessel.name} weighs {weight} g, on record {record} g empty",
        "empty it, use another, or record it empty with vessel",
    )
