"""The target sheet: what a batch would need, on one page, for when no scale can be read."""

from decimal import Decimal
from fractions import Fraction

from station import CAUTION
from station.audit.rows import AmountRow, TargetLine, TargetMeat, TargetSheet, TargetStep
from station.batch import events as ev
from station.batch.plan import choice_for
from station.batch.preview import planned
from station.batch.state import Batch, Station
from station.formula.ingoing import basis_of, counted_g, ppm
from station.formula.model import Step
from station.formula.scaling import planned_masses, salt_g
from station.units import plain, shown

_CENT = Decimal("0.01")


class NoPlan(ValueError):
    """No scale of the bench takes the planned meat or a line; the message says which."""


def target_sheet(opened: ev.BatchOpened) -> TargetSheet:
    """Lines, limits and totals for the planned meat.

    Raises `NoPlan`.
    """
    station = planned(opened)
    if station is None or station.batch is None:
        raise NoPlan("no scale of the bench takes the meat")
    batch, meat = station.batch, Fraction(opened.plan_g)
    masses = planned_masses(batch.formula, meat)
    contains = {line.name: line.addition.contains for line in batch.lines.values()}
    return TargetSheet(
        formula=batch.formula.name,
        revision=batch.formula.revision,
        station=opened.station,
        meat_g=plain(round(meat, 2)),
        meat=tuple(
            TargetMeat(part.name, plain(round(Fraction(part.share) * meat, 2)))
            for part in batch.formula.meats
        ),
        items=tuple(_item(station, batch, name) for name in batch.order),
        salt_percent=plain(round(salt_g(masses, contains) / meat * 100, 3)),
        limits=tuple(
            AmountRow(
                agents=row.agents,
                unit=row.unit,
                planned=plain(round(ppm(counted_g(masses, contains, row), on.grams), 2)),
                limit=plain(Fraction(row.maximum) * 1_000_000),
                basis=on.name,
                source=row.source,
            )
            for row, on in ((row, basis_of(batch.formula, row, meat)) for row in batch.rows)
            if any(set(row.agents) & set(line) for line in contains.values())
        ),
        caution=CAUTION,
    )


def _item(station: Station, batch: Batch, name: str) -> TargetLine | TargetStep:
    """One line or step, in the order of the bench. The limits are those of acceptance."""
    if name not in batch.lines:
        step = batch.step(name)
        bounds = (step.time, step.temperature) if isinstance(step, Step) else ()
        pieces = "" if isinstance(step, Step) else f"{shown(batch.count(name), _CENT)} pieces"
        return TargetStep(name, ", ".join(b for b in bounds if b) or pieces or "do it")
    line, choice = batch.lines[name], choice_for(station, name)
    if choice is None:
        raise NoPlan(f"no scale of the bench has room for {name}")
    limits, d = choice.limits, choice.scale.division_g
    return TargetLine(
        name=name,
        g_per_kg=plain(round(limits.target / Fraction(batch.meat_g) * 1000, 3)),
        target_g=shown(limits.target, d),
        aim_g=None if choice.unfit else shown(limits.aim, d),
        from_g=None if choice.unfit else shown(limits.accept_lower, d),
        to_g=None if choice.unfit else shown(limits.accept_upper, d),
        scale=choice.scale.name,
        loads=choice.loads,
        unfit=choice.unfit,
        key_first=line.addition.role == "cure" or batch.limited(name),
        allergens=line.addition.allergens,
    )
