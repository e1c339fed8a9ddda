"""On which scale a line is weighed, in which vessel and in how many loads, and its limits there."""

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from station.batch.lawful import hard_limit, least_g
from station.batch.line import Line
from station.batch.state import Batch, Station, Vessel
from station.formula.bands import MEAT
from station.metrology.band import Limits, limits
from station.metrology.fitness import Choice, choose
from station.metrology.scale import Scale
from station.metrology.uncertainty import expanded


def free_vessels(station: Station) -> list[Vessel]:
    """Vessels on record that hold nothing of any open batch, lightest first."""
    taken: set[str | None] = set(station.portions)
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
    scales = [scale for scale in batch.scales if scale.name not in without]
    scales = [scale for scale in scales if scale.name == line.on] or scales
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
    return any(need <= Fraction(scale.max_g) for scale in batch.scales)


def mix_g(batch: Batch) -> Decimal:
    """Grams in the mix so far: the meat and all that was tipped."""
    return batch.block_g + sum((line.tipped_g for line in batch.lines.values()), Decimal(0))


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
    """Scale and figures of a meat line, grams, None where nothing is planned; the band only
    warns."""

    scale: Scale
    target: Fraction | None = None
    lower: Fraction | None = None
    upper: Fraction | None = None


def meat_plan(station: Station, name: str) -> MeatPlan | None:
    """The finest scale that takes the line's plan in one load, else the one of largest Max."""
    batch = station.open
    assert batch is not None
    if not batch.scales:
        return None
    largest = max(batch.scales, key=lambda s: s.max_g)
    meat, plan = batch.meats[name], batch.plan_g
    if plan is None:
        return MeatPlan(largest)
    target = Fraction(meat.share) * plan
    band = batch.opened.bands[MEAT]
    tub = station.vessels.get(meat.tub or "")
    need = target + Fraction(tub.empty_g if tub else 0)
    scales = sorted(batch.scales, key=lambda s: s.division_g)
    roomy = [s for s in scales if need <= Fraction(s.max_g) and target >= Fraction(s.min_g)]
    lower = target - Fraction(band.lower or 0) * plan  # points of the block, not of the line
    upper = target + Fraction(band.upper or 0) * plan
    return MeatPlan(roomy[0] if roomy else largest, target, max(lower, Fraction(0)), upper)
