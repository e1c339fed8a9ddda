"""What a batch holds in percent, as weighed: the one place where sheets and tables get it."""

from dataclasses import dataclass
from fractions import Fraction

from station.batch.line import Line
from station.batch.state import Batch
from station.formula.ingoing import Contents, contents
from station.formula.scaling import planned_masses, salt_g
from station.units import plain


def actual_g(batch: Batch) -> dict[str, Fraction]:
    """Line -> grams of it as weighed, as if no sample had left; what is left of other batches by
    its lot."""
    lines = {line.name: line.counts_g for line in batch.lines.values()}
    return lines | _leftovers_g(batch)


def whole_g(batch: Batch) -> Fraction:
    """Grams of all that was mixed, as if no sample had left."""
    lines = (line.counts_g for line in batch.lines.values())
    return Fraction(batch.block_g) + sum(lines, Fraction(0))


def found(batch: Batch) -> Contents:
    """Line -> what it contains, by the bags it was weighed from; what is left of other batches by
    its lot."""
    lines: Contents = {line.name: line.blend for line in batch.lines.values()}
    return {**lines, **_leftovers(batch)}


def _leftovers_g(batch: Batch) -> dict[str, Fraction]:
    grams: dict[str, Fraction] = {}
    for load, _ in batch.reworked:
        lot = load.lot or ""
        grams[lot] = grams.get(lot, Fraction(0)) + Fraction(load.net_g)
    return grams


def _leftovers(batch: Batch) -> Contents:
    return {load.lot or "": lot.contains for load, lot in batch.reworked}


@dataclass(frozen=True, slots=True)
class Salt:
    """Percent of the meat: by the formula, and as weighed so far."""

    planned: Fraction
    actual: Fraction
    at_least: bool


def salt(batch: Batch) -> Salt | None:
    """All salt, the premix's included, by the bags it came from; None before there is meat."""
    meat = Fraction(batch.meat_g)
    if meat <= 0:
        return None
    planned = salt_g(planned_masses(batch.formula, meat), contents(batch.formula))
    return Salt(planned / meat * 100, _salt_g(batch) / meat * 100, salt_at_least(batch))


def salt_percent(batch: Batch) -> str | None:
    """All salt as weighed, in percent of the meat, to 0.0001; None without meat."""
    meat = Fraction(batch.meat_g)
    return plain(round(_salt_g(batch) / meat * 100, 4)) if meat > 0 else None


def _salt_g(batch: Batch) -> Fraction:
    """Grams of salt as weighed; only of lines that are begun, for it is asked at each append."""
    begun = [line for line in batch.lines.values() if line.loads]
    masses = {line.name: line.counts_g for line in begun} | _leftovers_g(batch)
    return salt_g(masses, {**{line.name: line.blend for line in begun}, **_leftovers(batch)})


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
