"""Whether a scale may weigh an addition, and which one should."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from station.metrology.band import Limits
from station.metrology.scale import Scale
from station.metrology.uncertainty import COVERAGE, PER_DIVISION
from station.units import shown

MOST_LOADS = 50
"""More loads than this are no weighing but a mistake."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The scale for a line, in how many loads, the limits that follow; `unfit` says why not."""

    scale: Scale
    loads: int
    limits: Limits
    unfit: str | None


def why_unfit(scale: Scale, limits: Limits, load: Fraction) -> str | None:
    """None if the scale is fit for the weighing of `load` grams at a time, else the reason.

    Fit: the acceptance interval spans at least 3 d before rounding and holds a division; the load
    is at least Min; the target is at least the minimum weight k max(s, 0.41 d) / ((TU - TL) / 2 /
    target), the form of USP <41> with the line's own tolerance.
    """
    d = Fraction(scale.division_g)
    if limits.span < 3 * d or not limits.possible:
        room = shown(max(limits.span, Fraction(0)), scale.division_g / 10)
        return f"its band of {room} g is under 3 divisions of {scale.division_g} g"
    if load < Fraction(scale.min_g):
        return f"{shown(load, scale.division_g)} g is under its Min of {scale.min_g} g"
    half = (limits.upper - limits.lower) / 2
    if half < COVERAGE * Fraction(PER_DIVISION) * d:  # target under the minimum weight
        return f"{shown(limits.target, scale.division_g)} g is under its minimum weight"
    return None


def choose(
    scales: Iterable[Scale],
    target: Fraction,
    vessel_g: Decimal,
    limits_for: Callable[[Scale, int], Limits],
) -> Choice | None:
    """The finest fit scale that takes the target in one load, else the finest fit in several.

    Room on a scale is Max less the vessel's empty weight. If none is fit, the finest that has
    room, with `unfit` set; None if none has room at all.
    """
    choices = []
    for scale in sorted(scales, key=lambda s: s.division_g):
        room = Fraction(scale.max_g) - Fraction(vessel_g)
        if room <= 0:
            continue
        loads = max(1, ceil(target / room))
        if loads > MOST_LOADS:
            continue
        limits = limits_for(scale, loads)
        choices.append(Choice(scale, loads, limits, why_unfit(scale, limits, target / loads)))
    choices.sort(key=lambda c: (c.unfit is not None, c.loads > 1))  # stable: finest first
    return choices[0] if choices else None
