"""The one gate: may this state be? Asked about the state after every decision, before it is kept.

It judges everything accepted, standing and in the mix together, from the meat actually weighed,
with the uncertainty of both on the side of safety, and never divides: at a limit no rounding may
flip a verdict.

Two sums: the most that may be in the mix, and the least that surely is. A maximum, a hard limit and
a top-up are judged by the most, what is required by the least. What nobody saw (a void without
proof, what clings to a vessel, a bag told twice) widens the gap; only a proof closes it.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import partial

from station.batch.line import Line
from station.batch.state import Batch
from station.formula.ingoing import Basis, basis_of
from station.formula.limits import LimitRow
from station.metrology.band import inward, tolerance
from station.metrology.uncertainty import expanded
from station.units import plain


@dataclass(frozen=True, slots=True)
class Breach:
    """More of a limited agent than the meat allows: `excess_g` grams of agent too much."""

    row: LimitRow
    excess_g: Fraction
    basis: str

    def says(self, verb: str) -> str:
        """The breach as a sentence: it "is", or "would be"."""
        agents = " and ".join(self.row.agents)
        return f"{agents} {verb} over {self.row.text} of the {self.basis} ({self.row.source})"


def strength(line: Line, row: LimitRow) -> Fraction:
    """Fraction of the line that is agents of the row."""
    return row.counted(line.contains)


def allowed_g(batch: Batch, row: LimitRow) -> Fraction:
    """Grams of agent the weighed meat allows at least: L (M - U_M), for a row on the mix or on the
    product by what that meat surely becomes."""
    meat = Fraction(batch.meat_g) - Fraction(batch.meat_expanded_g)
    return Fraction(row.maximum) * (counts_on(batch, row, meat).grams if meat > 0 else meat)


def counts_on(batch: Batch, row: LimitRow, meat_g: Fraction) -> Basis:
    """What a row counts on in this batch, for `meat_g` of meat: as planned, and of a mix less what
    its lines were left short of."""
    basis = basis_of(batch.formula, row, meat_g)
    if basis.name != "mix":
        return basis
    return Basis("mix", basis.grams - sum(map(partial(_short_g, batch), batch.lines.values())))


def _short_g(batch: Batch, line: Line) -> Fraction:
    """Grams by which a line that nothing more comes of may be under its target."""
    amount = line.addition.amount
    over = line.judged or line.skipped or line.missing
    if not over or amount.on == "count" or line.addition.in_pickle:
        return Fraction(0)
    held = Fraction(line.actual_g) - Fraction(line.expanded_g)
    return max(batch.target(line.name) - max(held, Fraction(0)), Fraction(0))


def agent_g(line: Line, row: LimitRow) -> Fraction:
    """The most agent that a line may have brought, grams: all that was weighed in, each load by the
    strongest that was ever told of its bag, with the uncertainty of the weighings, and all that
    left a vessel on the way. What clings to a vessel takes nothing off: nobody knows what it is."""
    if not line.loads and not line.in_doubt:
        return Fraction(0)
    divisions = [load.division_g for load in line.loads]
    divisions += [part.division_g for part in line.in_doubt]
    weighed = _poured_g(line, row) + _doubted_g(line, row)
    worth = max(Fraction(worth) for worth in line.worths)
    return weighed + Fraction(expanded(divisions)) * _most(line, row) * worth


def _poured_g(line: Line, row: LimitRow) -> Fraction:
    return sum(
        (
            Fraction(load.net_g or 0) * Fraction(load.worth) * _strongest(line, row, load.lot)
            for load in line.loads
        ),
        Fraction(0),
    )


def _doubted_g(line: Line, row: LimitRow) -> Fraction:
    return sum(
        (
            Fraction(part.content_g) * Fraction(part.worth) * _strongest(line, row, part.lot)
            for part in line.in_doubt
        ),
        Fraction(0),
    )


def _strongest(line: Line, row: LimitRow, lot: str | None) -> Fraction:
    return max(row.counted(told) for told in line.tellings(lot))


def _weakest(line: Line, row: LimitRow, lot: str | None) -> Fraction:
    return min(row.counted(told) for told in line.tellings(lot))


def _most(line: Line, row: LimitRow) -> Fraction:
    """The strongest of all bags of the line."""
    lots = [load.lot for load in line.loads] + [part.lot for part in line.in_doubt]
    return max(_strongest(line, row, lot) for lot in lots)


def _held_g(line: Line, row: LimitRow) -> Fraction:
    """The least agent in a line as it was weighed, grams: less what clung to the vessels, each load
    by the weakest that was ever told of its bag."""
    return sum(
        (Fraction(load.actual_g) * _weakest(line, row, load.lot) for load in line.loads),
        Fraction(0),
    )


def most_g(batch: Batch, row: LimitRow) -> Fraction:
    """The most agent of the row that all weighings together may have brought, grams: what a limit
    is judged by. It knows nothing of an amount that nobody weighed."""
    lines = batch.lines.values()
    return sum((agent_g(line, row) for line in lines), brought_most_g(batch, row))


def brought_most_g(batch: Batch, row: LimitRow) -> Fraction:
    """The most agent that what is left of other batches may have brought, grams."""
    return sum(
        (
            (Fraction(load.net_g) + Fraction(expanded([load.division_g]))) * row.counted(lot.most)
            for load, lot in batch.reworked
        ),
        Fraction(0),
    )


def brought_least_g(batch: Batch, row: LimitRow) -> Fraction:
    """The least of it that such surely brought, grams."""
    return sum(
        (
            (Fraction(load.net_g) - Fraction(expanded([load.division_g]))) * row.counted(lot.least)
            for load, lot in batch.reworked
        ),
        Fraction(0),
    )


def breaches(batch: Batch) -> list[Breach]:
    """What the batch holds more of than its limits allow; empty for a lawful batch."""
    found = []
    for row in batch.rows:
        held = most_g(batch, row)
        if held > 0 and (excess := held - allowed_g(batch, row)) > 0:
            found.append(
                Breach(row, excess, basis_of(batch.formula, row, Fraction(batch.meat_g)).name)
            )
    return found


def worse(before: Batch, after: Batch) -> list[Breach]:
    """The breaches that `after` has and `before` had not, or had less of."""
    known = {breach.row: breach.excess_g for breach in breaches(before)}
    return [b for b in breaches(after) if b.row not in known or b.excess_g > known[b.row]]


def hard_limit(batch: Batch, name: str, divisions_g: list[Decimal]) -> Fraction | None:
    """H in grams for the whole line: what the rows leave it beside all other lines, less its U.

    `divisions_g` has one division for each net weight the line will be the sum of. Loads of another
    strength than the bag in use count by how much of that bag they stand for. None where no row
    limits the line.
    """
    line = batch.lines[name]
    doubted = [part.division_g for part in line.in_doubt]
    uncertain = Fraction(expanded([*divisions_g, *doubted]))  # as `agent_g` will judge it
    hard: list[Fraction] = []
    for row in batch.rows:
        if share := _strongest(line, row, line.lot.lot if line.lot else None):
            others = (agent_g(other, row) for other in batch.lines.values() if other.name != name)
            left = (allowed_g(batch, row) - sum(others, brought_most_g(batch, row))) / share
            more = (_poured_g(line, row) + _doubted_g(line, row)) / share - Fraction(line.actual_g)
            parts = line.loads or line.in_doubt
            factor = max(_most(line, row) / share, Fraction(1)) if parts else 1
            most = left - more - uncertain * factor * Fraction(batch.worth)
            hard.append(_on_scale(batch, line, most))
    return min(hard) if hard else None


def _on_scale(batch: Batch, line: Line, most_g: Fraction) -> Fraction:
    """The same sum in what a scale shows: where a sample has left, less of the line does as
    much."""
    so_far = Fraction(line.actual_g)
    return so_far + (most_g - so_far) / Fraction(batch.worth)


def least_g(batch: Batch, name: str, divisions_g: list[Decimal]) -> Fraction | None:
    """The least of the whole line, in grams, that gives what the rules require beside all other
    lines (those that still wait: at least what their bands let through), more its U; None where no
    rule requires any. Linear like the maximum, on the safe side of both uncertainties."""
    line = batch.lines[name]
    uncertain = Fraction(expanded(divisions_g))
    least: list[Fraction] = []
    for row in batch.required:
        if share := strength(line, row):
            others = (
                sure_g(other, row) if other.judged else _meant_g(batch, other, row)
                for other in batch.lines.values()
                if other.name != name
            )
            sure = sum(others, brought_least_g(batch, row))
            least.append((required_g(batch, row) - sure) / share + uncertain)
    return max(least) if least else None


def required_g(batch: Batch, row: LimitRow) -> Fraction:
    """Grams of agent that the weighed meat needs at most: L (M + U_M)."""
    return Fraction(row.maximum) * (Fraction(batch.meat_g) + Fraction(batch.meat_expanded_g))


def sure_g(line: Line, row: LimitRow) -> Fraction:
    """Grams of agent in a line at least, its uncertainty taken off."""
    if not line.loads or line.unknown:
        return Fraction(0)
    uncertain = Fraction(line.expanded_g) * _most(line, row)
    return max(_held_g(line, row) - uncertain, Fraction(0))


def _meant_g(batch: Batch, line: Line, row: LimitRow) -> Fraction:
    """Grams of agent that a line will bring at least, if it is weighed into its band."""
    if not (share := strength(line, row)) or line.skipped or line.missing:
        return Fraction(0)
    return max(tolerance(batch.target(line.name), batch.band(line.name))[0], Fraction(0)) * share


def _meant_for(line: Line, row: LimitRow) -> bool:
    """Whether the line was to bring agent of the row, whatever its bag turned out to be."""
    return bool(row.counted(line.stands_for))


def _shortages(batch: Batch) -> list[str]:
    """What is in the mix and less than a rule requires, once every line of it is finished or named
    as missing."""
    found = []
    for row in batch.required:
        lines = [ln for ln in batch.lines.values() if strength(ln, row) or _meant_for(ln, row)]
        done = [
            (line.judged or line.missing) and not line.standing and line.tare is None
            for line in lines
        ]
        held = sum((sure_g(line, row) for line in lines), brought_least_g(batch, row))
        if lines and all(done) and held < Fraction(row.maximum) * Fraction(batch.meat_g):
            agents = " and ".join(row.agents)
            found.append(f"{agents} is under {row.text} of the {row.basis} ({row.source})")
    return found


def doubt_of(line: Line) -> str:
    """What nobody saw of a line, as a sentence."""
    return f"nobody saw where {plain(line.in_doubt_g)} g of {line.name} went"


def hold_reasons(batch: Batch) -> tuple[str, ...]:
    """Why the batch must be set aside now, one sentence each; empty where nothing holds it."""
    over = breaches(batch)
    reasons = [breach.says("is") for breach in over]
    reasons += _shortages(batch)
    for line in batch.lines.values():
        if line.missing and not line.loads:
            reasons.append(f"{line.name} is missing, and the batch must have it")
        if not batch.limited(line.name):
            continue
        if line.doubts or (line.gone and over):
            reasons.append(doubt_of(line))
        if line.nameless and any(load.tipped for load in line.loads):
            reasons.append(f"nobody knows the strength of the {line.name} in the mix: open its lot")
        if line.unknown:
            reasons.append(f"nobody knows how much {line.name} is in the mix")
        elif line.strange and any(load.tipped for load in line.loads):
            reasons.append(f"what is in the mix of {line.name} is another cure than the formula's")
        elif (line.judged or line.missing) and line.tipped_g and (batch.hold or not line.standing):
            lower, upper = tolerance(batch.target(line.name), batch.band(line.name))
            actual = line.meant_g(tipped_only=True)
            side = "over" if actual > upper else "under" if actual < lower else None
            if side:
                ends = inward(lower, upper, line.grid_g)
                reasons.append(
                    f"{line.name} in the mix is {side} its band:"
                    f" {plain(actual)} g, band {plain(ends[0])} to {plain(ends[1])} g"
                )
    return tuple(reasons)
