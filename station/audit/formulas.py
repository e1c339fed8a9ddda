"""One formula over time: its revisions and what differs, its batches, salt and ingoing amounts."""

from collections.abc import Iterable, Sequence

import msgspec

from station.audit.limited import Limited, limited
from station.audit.listing import ListedBatch, listed
from station.audit.report import ingoing_series, salt_series
from station.audit.series import Series
from station.formula.compare import Difference, compared, differing
from station.formula.model import Formula
from station.ledger.asking import Asked, Period
from station.ledger.tables import Row
from station.units import plain


class Revision(msgspec.Struct, frozen=True, kw_only=True):
    """A revision: its first batch in the period, how many there are, and what differs from the one
    before in it, in words; masses in grams to a kg of meat."""

    revision: int
    first_batch: str
    first_at: str
    batches: int
    changes: tuple[str, ...]


class Ingoing(msgspec.Struct, frozen=True, kw_only=True):
    """Agents of one batch, as on its sheet."""

    agents: str
    unit: str
    actual: str | None
    at_least: bool


class FormulaBatch(msgspec.Struct, frozen=True, kw_only=True):
    """A batch: salt in percent of the meat; `at_least`: more went in, nobody knows how much."""

    batch: str
    opened_at: str
    revision: int
    state: str
    meat_g: str
    salt_pct: str | None
    salt_at_least: bool
    ingoing: tuple[Ingoing, ...]


class FormulaView(msgspec.Struct, frozen=True, kw_only=True):
    formula: str
    revisions: tuple[Revision, ...]
    batches: tuple[FormulaBatch, ...]
    salt: tuple[Series, ...]
    ingoing: tuple[Series, ...]


def formula_view(ledger: Asked, name: str, period: Period) -> FormulaView:
    """The formula in a period, its batches by when they were opened."""
    rows = ledger.of_formula(name, period)
    batches = listed(rows)
    found = list(limited(ledger, [batch.batch for batch in batches]))
    return FormulaView(
        formula=name,
        revisions=tuple(_revisions(ledger, rows)),
        batches=tuple(map(_batch, batches, found)),
        salt=tuple(salt_series(batches)),
        ingoing=tuple(ingoing_series(batches, found)),
    )


def _batch(batch: ListedBatch, found: Limited) -> FormulaBatch:
    return FormulaBatch(
        batch=batch.batch,
        opened_at=batch.opened_at,
        revision=batch.revision,
        state=batch.state,
        meat_g=batch.meat_g,
        salt_pct=batch.salt_pct,
        salt_at_least=batch.salt_at_least,
        ingoing=tuple(
            Ingoing(
                agents=" and ".join(row.agents),
                unit=f"{row.unit} of the {row.basis}",
                actual=row.actual,
                at_least=row.at_least,
            )
            for row in found.rows
        ),
    )


def _revisions(ledger: Asked, rows: Sequence[Row]) -> Iterable[Revision]:
    """By the first batch of each, in the order of their numbers."""
    before: Formula | None = None
    for number in sorted({row["revision"] for row in rows}):
        mine = [row for row in rows if row["revision"] == number]
        formula = ledger.opening(mine[0]["batch"]).formula
        yield Revision(
            revision=number,
            first_batch=mine[0]["batch"],
            first_at=mine[0]["opened_at"],
            batches=len(mine),
            changes=() if before is None else tuple(_changes(before, formula)),
        )
        before = formula


def _changes(before: Formula, after: Formula) -> Iterable[str]:
    for name, (old, new) in differing(before, after).items():
        yield f"{name}: {old or 'none'}, then {new or 'none'}"
    for line in compared(before, after):
        if not line.same:
            yield _change(line)


def _change(line: Difference) -> str:
    if line.first is None and line.second is not None:
        return f"{line.name}: new, {plain(round(line.second, 3))} g"
    if line.second is None and line.first is not None:
        return f"{line.name}: left out, was {plain(round(line.first, 3))} g"
    said = []
    if line.first is not None and line.second is not None and line.first != line.second:
        said.append(f"{plain(round(line.first, 3))} g, then {plain(round(line.second, 3))} g")
    if line.contains:
        said.append(f"another strength of {', '.join(line.contains)}")
    said += line.other
    return f"{line.name}: {'; '.join(said)}"
