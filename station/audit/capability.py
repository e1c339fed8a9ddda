"""The spread of a line against its band: whether the hands and scales can keep to it."""

from decimal import Decimal
from fractions import Fraction

import msgspec

from station.audit.rows import AdditionRow
from station.audit.series import Statistics
from station.metrology.band import inward
from station.units import shown


class BandPercent(msgspec.Struct, frozen=True):
    """The tolerance of a line in percent of its target, and the batch that it is of."""

    batch: str
    lower: float
    upper: float


class AgainstBand(msgspec.Struct, frozen=True, kw_only=True):
    """`lower_pct` and `upper_pct`: the band of `batch`, percent of the target. `cp`: the width of
    the band in six sigma; `cpk`: the distance from the center to the nearer end in three sigma
    (NIST/SEMATECH e-Handbook, 6.1.6); null without spread. `text`: what they mean."""

    batch: str
    lower_pct: float
    upper_pct: float
    cp: float | None
    cpk: float | None
    text: str


GOOD = 1.33
"""A spread of three quarters of the band; common practice."""


def band_percent(batch: str, row: AdditionRow) -> BandPercent | None:
    """The band of a line by its row on a batch's sheet; None where there is no target."""
    target = Fraction(row.target_g or 0)
    if not target or row.lower_g is None or row.upper_g is None:
        return None
    return BandPercent(batch, _off(row.lower_g, target), _off(row.upper_g, target))


def _off(end: str, target: Fraction) -> float:
    return round(float((Fraction(end) - target) / target * 100), 4)


def against(band: BandPercent, found: Statistics) -> AgainstBand:
    """The band beside what the figures say."""
    cp = cpk = None
    if found.sigma and found.center is not None:
        cp = (band.upper - band.lower) / (6 * found.sigma)
        nearer = min(band.upper - found.center, found.center - band.lower)
        cpk = nearer / (3 * found.sigma)
    return AgainstBand(
        batch=band.batch,
        lower_pct=band.lower,
        upper_pct=band.upper,
        cp=None if cp is None else round(cp, 2),
        cpk=None if cpk is None else round(cpk, 2),
        text=_words(cp, cpk),
    )


def _words(cp: float | None, cpk: float | None) -> str:
    if cp is None or cpk is None:
        return "too few figures, or all the same: nothing to hold against the band"
    if cp < 1:
        return "the spread is wider than the band: pour slower, or on a finer scale"
    if cpk < 1:
        return "the spread fits the band and lies to one side of it: look at the aim"
    if cpk < GOOD:
        return "the spread fits the band with little to spare"
    return "the spread fits the band"


def band_ends(row: AdditionRow) -> tuple[str, str]:
    """The ends of a line's band, on the grid of its scale and rounded inward: the same on every
    sheet."""
    if row.division_g is None:
        return row.lower_g or "0", row.upper_g or "0"
    division = Decimal(row.division_g)
    low, high = inward(Fraction(row.lower_g or 0), Fraction(row.upper_g or 0), division)
    return shown(low, division), shown(high, division)
