"""The one gate: may this state be? Asked about the state after every decision, before it is kept.

It judges everything accepted, standing and in the mix together, from the meat actually weighed,
with the uncertainty of both on the side of safety, and never divides: at a limit no rounding may
flip a verdict.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from station.formula.limits import LimitRow
from station.units import plain
from station.weighing.band import tolerance
from station.weighing.state import Batch, Line
from station.weighing.uncertainty import expanded


@dataclass(frozen=True, slots=True)
class Breach:
    """More of a limited agent than the meat allows: `excess_g` grams of agent too much."""

    row: LimitRow
    excess_g: Fraction

    @property
    def text(self) -> str:
        agents = " and ".join(self.row.agents)
        return f"{agents} would be over {self.row.text} of the {self.row.basis} ({self.row.source})"


def strength(line: Line, row: LimitRow) -> Fraction:
    """Fraction of the line that is agents of the row."""
    return row.counted(line.contains)


def allowed_g(batch: Batch, row: LimitRow) -> Fraction:
    """Grams of agent the weighed meat allows at least: L (M - U_M)."""
    return Fraction(row.maximum) * (Fraction(batch.meat_g) - Fraction(batch.meat_expanded_g))


def agent_g(line: Line, row: LimitRow) -> Fraction:
    """Grams of agent in a line at most: the smaller of what was weighed in, and of that less what
    clung to the vessels, each with the uncertainty of its own weighings."""
    if not line.loads:
        return Fraction(0)
    weighed = [load.division_g for load in line.loads]
    poured = sum((load.net_g or Decimal(0) for load in line.loads), Decimal(0)) + expanded(weighed)
    return Fraction(min(poured, line.actual_g + line.expanded_g)) * strength(line, row)


def breaches(batch: Batch) -> list[Breach]:
    """What the batch holds more of than its limits allow; empty for a lawful batch."""
    found = []
    for row in batch.rows:
        held = sum((agent_g(line, row) for line in batch.lines.values()), Fraction(0))
        if held > 0 and (excess := held - allowed_g(batch, row)) > 0:
            found.append(Breach(row, excess))
    return found


def worse(before: Batch, after: Batch) -> list[Breach]:
    """The breaches that `after` has and `before` had not, or had less of."""
    known = {breach.row: breach.excess_g for breach in breaches(before)}
    return [b for b in breaches(after) if b.excess_g > known.get(b.row, Fraction(0))]


def hard_limit(batch: Batch, name: str, divisions_g: list[Decimal]) -> Fraction | None:
    """H in grams for the whole line: what the rows leave it beside all other lines, less its U.

    `divisions_g` has one division for each net weight the line will be the sum of. None where no
    row limits the line.
    """
    line = batch.lines[name]
    uncertain = Fraction(expanded(divisions_g))
    hard: list[Fraction] = []
    for row in batch.rows:
        if share := strength(line, row):
            others = (agent_g(other, row) for other in batch.lines.values() if other.name != name)
            hard.append((allowed_g(batch, row) - sum(others)) / share - uncertain)
    return min(hard) if hard else None


def least_g(batch: Batch, name: str, divisions_g: list[Decimal]) -> Fraction | None:
    """The least of the whole line, in grams, that gives what the rules require beside all other
    lines, more its U; None where no rule requires any. Linear like the maximum, on the safe side of
    both uncertainties."""
    line = batch.lines[name]
    uncertain = Fraction(expanded(divisions_g))
    least: list[Fraction] = []
    for row in batch.required:
        if share := strength(line, row):
            others = (_sure_g(other, row) for other in batch.lines.values() if other.name != name)
            least.append((required_g(batch, row) - sum(others)) / share + uncertain)
    return max(least) if least else None


def required_g(batch: Batch, row: LimitRow) -> Fraction:
    """Grams of agent that the weighed meat needs at most: L (M + U_M)."""
    return Fraction(row.maximum) * (Fraction(batch.meat_g) + Fraction(batch.meat_expanded_g))


def _sure_g(line: Line, row: LimitRow) -> Fraction:
    """Grams of agent in a line at least, its uncertainty taken off."""
    if not line.loads or line.unknown:
        return Fraction(0)
    return max(Fraction(line.actual_g - line.expanded_g), Fraction(0)) * strength(line, row)


def _shortages(batch: Batch) -> list[str]:
    """What is in the mix and less than a rule requires, once every line of it is finished."""
    found = []
    for row in batch.required:
        lines = [line for line in batch.lines.values() if strength(line, row)]
        done = [line.judged and not line.standing and line.tare is None for line in lines]
        held = sum((_sure_g(line, row) for line in lines), Fraction(0))
        if lines and all(done) and held < Fraction(row.maximum) * Fraction(batch.meat_g):
            agents = " and ".join(row.agents)
            found.append(f"{agents} is under {row.text} of the {row.basis} ({row.source})")
    return found


def hold_reasons(batch: Batch) -> tuple[str, ...]:
    """Why the batch must be set aside now, one sentence each; empty where nothing holds it."""
    reasons = [breach.text.replace("would be", "is") for breach in breaches(batch)]
    reasons += _shortages(batch)
    for line in batch.lines.values():
        if line.missing and not line.loads:
            reasons.append(f"{line.name} is missing, and the batch must have it")
        if not batch.limited(line.name):
            continue
        if line.unknown:
            reasons.append(f"nobody knows how much {line.name} is in the mix")
        elif (line.judged or line.missing) and line.tipped_g and (batch.hold or not line.standing):
            lower, upper = tolerance(batch.target(line.name), batch.band(line.name))
            actual = Fraction(line.tipped_g)
            if not lower <= actual <= upper:
                side = "over" if actual > upper else "under"
                reasons.append(
                    f"{line.name} in the mix is {side} its band:"
                    f" {plain(actual)} g, band {plain(lower)} to {plain(upper)} g"
                )
    return tuple(reasons)
