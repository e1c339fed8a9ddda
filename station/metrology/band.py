"""Tolerance, acceptance limits and aim of one weighing."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from station.formula.model import Band


@dataclass(frozen=True, slots=True)
class Limits:
    """All in grams. `lower`/`upper`: the tolerance TL, TU. `accept_lower`/`accept_upper`: the
    acceptance limits on the grid of the division; `span`: their distance before that rounding.
    `hard` is the lawful maximum of this line, None where no rule limits it.
    """

    target: Fraction
    lower: Fraction
    upper: Fraction
    accept_lower: Decimal
    accept_upper: Decimal
    span: Fraction
    aim: Decimal | Fraction
    expanded: Decimal
    hard: Fraction | None

    @property
    def aim_moved(self) -> bool:
        return self.aim != self.target

    @property
    def possible(self) -> bool:
        """Whether any weight on the grid can be accepted."""
        return self.accept_lower <= self.accept_upper

    def accepts(self, net_g: Decimal) -> bool:
        return self.accept_lower <= net_g <= self.accept_upper


def tolerance(target: Fraction, band: Band) -> tuple[Fraction, Fraction]:
    """TL and TU around the target; of a percentage and grams the narrower holds."""

    def side(share: Decimal | None, grams: Decimal | None) -> Fraction:
        sizes = []
        if share is not None:
            sizes.append(Fraction(share) * target)
        if grams is not None:
            sizes.append(Fraction(grams))
        return min(sizes)

    return target - side(band.lower, band.lower_g), target + side(band.upper, band.upper_g)


def inward(lower: Fraction, upper: Fraction, division_g: Decimal) -> tuple[Decimal, Decimal]:
    """Both ends of a band on the grid of a scale, grams, rounded inward: what shows as outside is
    outside."""
    step = Fraction(division_g)
    return division_g * ceil(lower / step), division_g * floor(upper / step)


def limits(
    target: Fraction,
    band: Band,
    expanded: Decimal,
    division: Decimal,
    hard: Fraction | None,
    least: Fraction | None = None,
) -> Limits:
    """Acceptance limits TL + r U (or the least that is required) and min(TU - r U, H), r = 1 where
    the band guards, rounded inward.

    The aim is the target; where that lies outside the acceptance limits, their middle on the grid.
    """
    lower, upper = tolerance(target, band)
    guard = Fraction(expanded)
    accept_lower = lower + (guard if band.guard in ("lower", "both") else 0)
    accept_upper = upper - (guard if band.guard in ("upper", "both") else 0)
    if hard is not None:
        accept_upper = min(accept_upper, hard)
    if least is not None:
        accept_lower = max(accept_lower, least)
    low, high = inward(accept_lower, accept_upper, division)
    aim: Decimal | Fraction = target
    if not low <= target <= high:
        aim = division * ((low + high) // (2 * division))
    return Limits(
        target=target,
        lower=lower,
        upper=upper,
        accept_lower=low,
        accept_upper=high,
        span=accept_upper - accept_lower,
        aim=aim,
        expanded=expanded,
        hard=hard,
    )
