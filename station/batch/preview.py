"""What the scales and the law will leave room for, known before the first addition is shown."""

from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.plan import choice_for, meat_plan
from station.batch.state import Batch, Station
from station.units import plain


def line_warnings(station: Station, batch: Batch) -> list[ev.Warned]:
    """A word for each addition that no scale is fit for, or whose band or guard reaches over its
    limit; the aim is stated."""
    warnings = []
    for line in batch.lines.values():
        choice = choice_for(station, line.name)
        if choice is None:
            text = f"no scale has room for {line.name}"
            warnings.append(ev.Warned(line.name, "unfit", text))
            continue
        limits = choice.limits
        if choice.unfit:
            text = f"{choice.scale.name} is not fit: {choice.unfit}"
            warnings.append(ev.Warned(line.name, "unfit", text))
        elif limits.hard is not None and limits.upper - Fraction(limits.expanded) > limits.hard:
            text = (
                f"its band reaches over the limit: accepted up to {plain(limits.accept_upper)} g,"
                f" the aim is {plain(limits.aim)} g for a target of {plain(limits.target)} g"
            )
            warnings.append(ev.Warned(line.name, "aim", text))
        elif limits.aim_moved:
            text = f"the aim is {plain(limits.aim)} g for a target of {plain(limits.target)} g"
            warnings.append(ev.Warned(line.name, "aim", text))
    return warnings


def preview(opened: ev.BatchOpened) -> list[ev.Warned]:
    """The same for a batch that is only planned."""
    station = planned(opened)
    return [] if station is None or station.batch is None else line_warnings(station, station.batch)


def planned(opened: ev.BatchOpened) -> Station | None:
    """The state with the planned meat as if it were weighed exactly; None where no scale has room
    for it."""
    station = evolve(Station(), opened, "", "plan")
    for meat in opened.formula.meats:
        plan = meat_plan(station, meat.name)
        if plan is None:
            return None
        net = Decimal(plain(Fraction(meat.share) * Fraction(opened.plan_g)))
        weighed = ev.MeatWeighed(
            meat.name, net, net, Decimal(0), plan.scale.name, plan.scale.division_g, "", "", ""
        )
        station = evolve(station, weighed, "", "plan")
    return station
