"""What a batch holds in percent, as weighed: the one place where sheets and tables get it."""

from fractions import Fraction

from station.batch.line import Line
from station.batch.state import Batch
from station.formula.curing import Contents
from station.formula.scaling import salt_g
from station.units import plain


def actual_g(batch: Batch) -> dict[str, Fraction]:
    """Line -> grams of it as weighed."""
    return {line.name: Fraction(line.actual_g) for line in batch.lines.values()}


def found(batch: Batch) -> Contents:
    """Line -> what it contains, by the bags it was weighed from."""
    return {line.name: line.blend for line in batch.lines.values()}


def salt_percent(batch: Batch) -> str | None:
    """All salt as weighed, in percent of the meat, to 0.0001; None without meat."""
    begun = [line for line in batch.lines.values() if line.loads]  # at each append: no more
    masses = {line.name: Fraction(line.actual_g) for line in begun}
    return of_meat(batch, salt_g(masses, {line.name: line.blend for line in begun}))


def of_meat(batch: Batch, grams: Fraction) -> str | None:
    """Grams of salt in percent of the meat, to 0.0001; None without meat."""
    meat = Fraction(batch.meat_g)
    return plain(round(grams / meat * 100, 4)) if meat > 0 else None


def salt_at_least(batch: Batch) -> bool:
    """Whether more of what contains salt went in, and nobody knows how much."""
    lines = batch.lines.values()
    return any(line.unknown and line.blend.get("salt", 0) for line in lines)


def difference_g(batch: Batch, line: Line) -> Fraction | None:
    """Actual less target, grams; None where nothing was weighed, there is no meat, or more went in
    and nobody knows how much."""
    if not line.weighed or line.unknown or batch.meat_g <= 0:
        return None
    return Fraction(line.actual_g) - batch.target(line.name)


def difference_percent(batch: Batch, line: Line) -> str | None:
    """The difference in percent of the target, to 0.01; None where there is none."""
    off = difference_g(batch, line)
    if off is None or not (target := Fraction(line.actual_g) - off):
        return None
    return plain(round(off / target * 100, 2))
