"""What comes next in a batch, and on which scale: questions about a state, no decisions."""

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from station.formula.bands import MEAT
from station.weighing.band import Limits, limits, tolerance
from station.weighing.fitness import Choice, choose
from station.weighing.lawful import hard_limit, least_g
from station.weighing.scale import Scale
from station.weighing.state import Batch, Line, Station, Vessel
from station.weighing.uncertainty import expanded

Phase = Literal["meat", "additions", "on hold", "done"]


def phase(batch: Batch) -> Phase:
    """Where the batch is."""
    if batch.end is not None:
        return "done"
    if batch.hold:
        return "on hold"
    return "additions" if batch.meat_ended else "meat"


def current(batch: Batch) -> str | None:
    """The meat line, addition or step whose turn it is; None when nothing is left to do."""
    if batch.end is not None:
        return None
    for meat in batch.meats.values():
        if not meat.ended:
            return meat.name
    for name in batch.order:
        line = batch.lines.get(name)
        if batch.hold:  # only what brings the batch back
            if line is not None and (line.tare or line.voiding or lacking(batch, line)):
                return name
        elif line is None:
            if name not in batch.steps_done:
                return name
        elif not finished(batch, line):
            return name
    return None


def stands_before(batch: Batch, step: str) -> str | None:
    """A line that must be in the mix before a step is done and still stands, or None."""
    for name in batch.order[: batch.order.index(step)]:
        line = batch.lines.get(name)
        if line is not None and line.standing:
            return name
    return None


def finished(batch: Batch, line: Line) -> bool:
    """Whether nothing more has to be weighed for the line."""
    if line.tare is not None or line.voiding is not None:
        return False
    if line.accepted is None:
        return line.unaccepted and not lacking(batch, line)
    if line.accepted.as_weighed:
        return True
    return line.accepted.meat_g == batch.meat_g or not lacking(batch, line)


def lacking(batch: Batch, line: Line) -> bool:
    """Whether what the line has is under its band for the meat as it is now."""
    if line.unknown or (line.standing and line.accepted is None):
        return False
    if not line.loads:
        return line.missing
    return line.meant_g() < tolerance(batch.target(line.name), batch.band(line.name))[0]


def verdict(batch: Batch, line: Line) -> str | None:
    """ "in", "out", "unaccepted", "skipped", or None while it is not decided.

    Judged by what is in the mix (or stands) against the band for the meat as it is now.
    """
    if line.unaccepted:
        return "unaccepted"
    if line.accepted is None:
        return "skipped" if line.skipped else None
    if line.accepted.as_weighed:
        return "out"
    lower, upper = tolerance(batch.target(line.name), batch.band(line.name))
    return "in" if lower <= line.meant_g() <= upper else "out"


def free_vessels(station: Station) -> list[Vessel]:
    """Vessels on record that hold nothing of any open batch, lightest first."""
    taken: set[str | None] = set()
    for batch in station.unfinished:
        taken |= {load.vessel for line in batch.lines.values() for load in line.standing}
        taken |= {line.tare.vessel for line in batch.lines.values() if line.tare}
        taken |= set(batch.counted)
    vessels = [vessel for vessel in station.vessels.values() if vessel.name not in taken]
    return sorted(vessels, key=lambda vessel: vessel.empty_g)


def limits_on(batch: Batch, name: str, scale: Scale, loads: int) -> Limits:
    """The line's limits if `loads` more loads of it are weighed on `scale`."""
    line = batch.lines[name]
    divisions = line.divisions_g + [scale.division_g] * loads
    stronger = line.meant_g() - Fraction(line.actual_g)  # what bags of another strength stand for
    return limits(
        batch.target(name) - stronger,
        batch.band(name),
        expanded(divisions),
        scale.division_g,
        hard_limit(batch, name, divisions),
        least_g(batch, name, divisions),
    )


def choice_for(station: Station, name: str, without: Collection[str] = ()) -> Choice | None:
    """Scale, loads and limits for an addition; `without` names scales that are not to be had."""
    batch = station.open
    assert batch is not None
    line = batch.lines[name]
    left = max(batch.target(name) - line.meant_g(), Fraction(0))
    scales = [scale for scale in batch.opened.scales if scale.name not in without]
    vessel_g = _vessel_g(station, line)
    if line.tare is not None:
        scales = [batch.scale(line.tare.scale)]
        known = station.vessels.get(line.tare.vessel or "")
        vessel_g = known.empty_g if known else line.tare.tare_g
        if line.tare.onto:
            vessel_g = line.tare.tare_g
    elif line.addition.onto:
        vessel_g = _mix_vessel_g(station)
        roomy = [s for s in scales if left + Fraction(vessel_g) <= Fraction(s.max_g)]
        if not roomy:  # too heavy for every plate: aside after all
            vessel_g = _vessel_g(station, line)
        scales = roomy or scales
    return choose(scales, left, vessel_g, lambda scale, n: limits_on(batch, name, scale, n))


def onto(station: Station, name: str) -> bool:
    """Whether the line is poured onto the mix's own vessel: asked for, and a plate can bear it."""
    batch = station.open
    assert batch is not None
    line = batch.lines[name]
    if line.tare is not None:
        return line.tare.onto
    if not line.addition.onto:
        return False
    need = batch.target(name) + Fraction(_mix_vessel_g(station))
    return any(need <= Fraction(scale.max_g) for scale in batch.opened.scales)


def mix_g(batch: Batch) -> Decimal:
    """Grams in the mix so far: the meat and all that was tipped."""
    return batch.meat_g + sum((line.tipped_g for line in batch.lines.values()), Decimal(0))


def _mix_vessel_g(station: Station) -> Decimal:
    """What the vessel with the mix weighs now, its own weight by the heaviest tub of the meat."""
    batch = station.open
    assert batch is not None
    tubs = [load.tare_g for meat in batch.meats.values() for load in meat.loads]
    return mix_g(batch) + max(tubs, default=Decimal(0))


def _vessel_g(station: Station, line: Line) -> Decimal:
    used = station.vessels.get(line.used or "")
    if used is not None:
        return used.empty_g
    free = free_vessels(station)
    return free[0].empty_g if free else Decimal(0)


@dataclass(frozen=True, slots=True)
class MeatPlan:
    """Scale and figures of a meat line, grams; the band only warns."""

    scale: Scale
    target: Fraction
    lower: Fraction
    upper: Fraction


def meat_plan(station: Station, name: str) -> MeatPlan | None:
    """The finest scale that takes the line's plan in one load, else the one of largest Max."""
    batch = station.open
    assert batch is not None
    meat = batch.meats[name]
    plan = Fraction(batch.opened.plan_g)
    target = Fraction(meat.share) * plan
    band = batch.opened.bands[MEAT]
    tub = station.vessels.get(meat.tub or "")
    need = target + Fraction(tub.empty_g if tub else 0)
    scales = sorted(batch.opened.scales, key=lambda s: s.division_g)
    if not scales:
        return None
    roomy = [s for s in scales if need <= Fraction(s.max_g) and target >= Fraction(s.min_g)]
    scale = roomy[0] if roomy else max(scales, key=lambda s: s.max_g)
    lower = target - Fraction(band.lower or 0) * plan  # points of the block, not of the line
    return MeatPlan(
        scale, target, max(lower, Fraction(0)), target + Fraction(band.upper or 0) * plan
    )
