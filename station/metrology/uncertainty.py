"""How well a net weight is known, until scale checks measure it.

u = 0.41 d a net weight (0.41 = sqrt(2/12): the rounding of the loaded and of the empty reading,
EURAMET cg-18 v4.0), root sum of squares over n net weights, U = 2 u. No other term.
"""

import math
from collections.abc import Iterable
from decimal import ROUND_CEILING, Decimal

PER_DIVISION = Decimal("0.41")
COVERAGE = 2
_STEP = Decimal("0.000001")


def expanded(divisions_g: Iterable[Decimal]) -> Decimal:
    """U in grams of a sum of net weights, one division (grams) each; rounded up to a microgram."""
    squares = sum((d * d for d in divisions_g), Decimal(0))
    return (COVERAGE * PER_DIVISION * squares.sqrt()).quantize(_STEP, rounding=ROUND_CEILING)


def conformance(net_g: Decimal, lower_g: Decimal, upper_g: Decimal, expanded_g: Decimal) -> float:
    """Probability that the true net lies in the tolerance: Phi((TU-m)/u) - Phi((TL-m)/u).

    JCGM 106:2012, 7.3; Phi(z) = (1 + erf(z / sqrt 2)) / 2, where the ones cancel. An exact weight
    (U = 0) is either in or out.
    """
    if not expanded_g:
        return float(lower_g <= net_g <= upper_g)
    spread = math.sqrt(2) * float(expanded_g) / COVERAGE
    below, above = (
        math.erf((float(limit) - float(net_g)) / spread) for limit in (lower_g, upper_g)
    )
    return (above - below) / 2
