"""What happened on one day: of each batch that was worked on, what its sheet has of that day."""

from collections.abc import Iterable, Iterator
from typing import TypeVar

import msgspec

from station.audit.remarks import remarks
from station.audit.rows import (
    AdditionRow,
    BatchSheet,
    NoteRow,
    RefusalRow,
    StepRow,
    WarningRow,
)
from station.audit.sheets import sheets_of
from station.batch import events as ev
from station.ledger.asking import Asked, Period
from station.ledger.book import Recorded

Dated = TypeVar("Dated", StepRow, WarningRow, RefusalRow, NoteRow)


class DayBatch(msgspec.Struct, frozen=True, kw_only=True):
    """A batch on that day: the additions, steps, remarks, refusals and notes of the day; formula,
    state, meat, salt and hold as they are now. `opened`: whether it was opened on that day."""

    batch: str
    formula: str
    revision: int
    opened_at: str
    opened: bool
    state: str
    meat_g: str
    salt_pct: str | None
    salt_at_least: bool
    hold: tuple[str, ...]
    additions: tuple[AdditionRow, ...]
    steps: tuple[StepRow, ...]
    warnings: tuple[WarningRow, ...]
    refusals: tuple[RefusalRow, ...]
    notes: tuple[NoteRow, ...]


class Day(msgspec.Struct, frozen=True, kw_only=True):
    """One day at the bench, from midnight to midnight in its time zone (`begin` and `end` in UTC).
    `bench`: what befell the ledger or was noted, outside any batch."""

    day: str
    begin: str
    end: str
    batches: tuple[DayBatch, ...]
    bench: tuple[WarningRow, ...]
    notes: tuple[NoteRow, ...]


def day_of(ledger: Asked, day: str, period: Period) -> Day:
    """The day, from the events of the batches that were worked on, as their sheets read them."""
    outside = list(ledger.outside())
    sheets = sheets_of(ledger, ledger.busy(period), outside)
    today = [record for record in outside if record.at in period]
    bench = tuple(remarks([(record.at, record.event) for record in today]))
    return Day(
        day=day,
        begin=period.begin,
        end=period.end,
        batches=tuple(
            _batch(sheet, period, bench) for sheet in sorted(sheets, key=lambda s: s.opened_at)
        ),
        bench=bench,
        notes=tuple(_notes(today)),
    )


def _notes(records: Iterable[Recorded]) -> Iterator[NoteRow]:
    for record in records:
        if isinstance(event := record.event, ev.Noted):
            yield NoteRow(event.text, event.who, record.at)


def _batch(sheet: BatchSheet, period: Period, bench: tuple[WarningRow, ...]) -> DayBatch:
    def today(rows: Iterable[Dated]) -> tuple[Dated, ...]:
        return tuple(row for row in rows if row.at in period)

    return DayBatch(
        batch=sheet.batch,
        formula=sheet.formula,
        revision=sheet.revision,
        opened_at=sheet.opened_at,
        opened=sheet.opened_at in period,
        state=sheet.state,
        meat_g=sheet.meat_g,
        salt_pct=sheet.salt_percent.actual,
        salt_at_least=sheet.salt_percent.at_least,
        hold=sheet.hold,
        additions=tuple(row for row in sheet.additions if row.at and row.at in period),
        steps=today(sheet.steps),
        warnings=tuple(row for row in today(sheet.warnings) if row not in bench),
        refusals=today(sheet.refusals),
        notes=today(sheet.notes),
    )
