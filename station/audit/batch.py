"""The batch sheet: planned against actual, line by line, with all that was refused or blocked."""

import hashlib
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from math import ceil

import msgspec

from station import CAUTION
from station.audit import product
from station.audit.remarks import remarks
from station.audit.rows import (
    AdditionRow,
    BatchSheet,
    LoadRow,
    MeatLoad,
    MeatRow,
    NoteRow,
    RefusalRow,
    SaltPercent,
    StepRow,
    WeighedAmount,
)
from station.audit.timeline import timeline
from station.batch import events as ev
from station.batch.amounts import actual_g, difference_g, difference_percent, found, salt
from station.batch.evolve import evolve
from station.batch.judging import Judged, judged
from station.batch.lawful import counts_on, most_g
from station.batch.line import Line, Load
from station.batch.progress import state_of, verdict
from station.batch.state import Batch, Station
from station.batch.timing import between
from station.formula.ingoing import basis_of, contents, counted_g, ppm
from station.formula.limits import LimitRow
from station.formula.model import Step
from station.formula.scaling import planned_masses
from station.ledger.book import Recorded
from station.ledger.chain import head_text
from station.ledger.code import sheet_code
from station.ledger.tables import by_hand, unknown_more
from station.metrology.band import tolerance
from station.units import plain


class NoSuchBatch(LookupError):
    """The ledger has no batch of that name; the message names those it has."""


def batch_sheet(
    records: Iterable[Recorded], batch_id: str, bench: Station | None = None
) -> BatchSheet:
    """Everything about one batch; `bench`: what was so before those records.

    Raises `NoSuchBatch`.
    """
    station, batch, last, known = bench or Station(), None, None, []
    opened = ""
    mine: list[tuple[str, ev.Event]] = []
    for record in records:
        last = record
        event = record.event
        if isinstance(event, ev.BatchOpened):
            known.append(str(record.batch))
        if record.batch not in (None, batch_id):
            continue  # of other batches only the vessels matter here, and those have no batch
        station = evolve(station, event, record.at, record.batch)
        if record.batch == batch_id:
            opened = record.text if isinstance(event, ev.BatchOpened) else opened
            mine.append((record.at, event))
            batch = station.find(batch_id)
        elif batch is not None and _concerns(event, batch):
            mine.append((record.at, event))
    if batch is None or last is None:
        there = f"there are {', '.join(known)}" if known else "there is none yet"
        raise NoSuchBatch(f"no batch {batch_id!r}; {there}")
    return BatchSheet(
        batch=batch.id,
        formula=batch.formula.name,
        revision=batch.formula.revision,
        authority=batch.opened.authority,
        simulated=batch.opened.simulated,
        opened_at=batch.opened_at,
        opened_by=batch.opened.who,
        state=state_of(batch),
        hold=batch.hold,
        planned=batch.opened.planned_by,
        plan_g=plain(batch.opened.plan_g) if batch.opened.plan_g else None,
        meat_g=plain(batch.weighed_meat_g),
        meat=tuple(_meat_row(batch, name) for name in batch.meats),
        additions=tuple(_addition_row(batch, line) for line in batch.lines.values()),
        steps=tuple(
            _step_row(batch, event, at) for at, event in mine if isinstance(event, ev.StepEnded)
        ),
        salt_percent=_salt(batch),
        limits=limit_rows(batch),
        warnings=tuple(remarks(mine)),
        refusals=tuple(
            RefusalRow(event.line, event.reason, at, event.times)
            for at, event in mine
            if isinstance(event, ev.Refused)
        ),
        notes=tuple(
            NoteRow(event.text, event.who, at) for at, event in mine if isinstance(event, ev.Noted)
        ),
        version=batch.opened.version,
        configured=_configured(opened),
        events=last.seq,
        head=head_text(last.hash),
        code=sheet_code(last.seq, last.hash.hex()),
        caution=CAUTION,
        timeline=tuple(timeline(mine)),
        pieces=product.pieces(batch),
        packs=product.packs(batch),
        counts=product.counts(batch),
        dried=product.dried(batch),
        casing=product.casing(batch),
        yielded=product.yielded(batch),
        cost=product.cost(batch),
    )


def _configured(opened: str) -> str:
    """What a batch was opened with, as a few signs: two with the same were opened by one formula,
    law, bands, scales and people. Who planned how much of it is left out. `opened`: the body of its
    opening as it stands in the ledger, which no later version of the station writes otherwise."""
    return head_text(hashlib.sha256(common_text(opened)).digest())


def common_text(opened: str) -> bytes:
    """The body of an opening, canonical JSON, without what it says of one batch alone."""
    parts = msgspec.json.decode(opened, type=dict[str, msgspec.Raw])
    told = [b'"%s":%s' % (key.encode(), part)
            for key, part in parts.items() if key not in OF_ONE_BATCH]  # fmt: skip
    return b"{%s}" % b",".join(told)


OF_ONE_BATCH = ("plan_g", "planned_by", "who", "uid")
"""What an opening says of one batch alone."""


def _step_row(batch: Batch, event: ev.StepEnded, at: str) -> StepRow:
    step = batch.step(event.name)
    found = Judged("skipped" if event.skipped else "in")
    if isinstance(step, Step):
        found = judged(step, between(step, event.began, at), event.value, event.skipped)
    return StepRow(
        event.name,
        event.began,
        at,
        event.value,
        _plan(batch, event.name),
        found.verdict,
        event.who,
        event.reason,
        found.misses,
        event.thermometer,
    )


def _concerns(event: ev.Event, batch: Batch) -> bool:
    """Whether what befell the ledger touches the record of a batch that it has by then: events that
    are lost may be of one that was not closed, tables made anew are of all."""
    lost = isinstance(event, ev.LossAccepted) and not batch.end
    return lost or isinstance(event, ev.LedgerRepaired)


def _plan(batch: Batch, name: str) -> str | None:
    """What the formula asks of a step, as text."""
    step = batch.step(name)
    if not isinstance(step, Step):
        return None
    return step.bounds or None


def nitrite(sheet: BatchSheet) -> WeighedAmount | None:
    """The sheet's row about nitrite, or None."""
    return next((row for row in sheet.limits if "sodium nitrite" in row.agents), None)


def _meat_row(batch: Batch, name: str) -> MeatRow:
    meat = batch.meats[name]
    loads = tuple(
        MeatLoad(
            plain(load.net_g),
            load.scale,
            load.vessel or None,
            load.who,
            load.by_hand.reason if load.by_hand else None,
            load.lot,
        )
        for load in meat.loads
    )
    plan_g = Fraction(batch.opened.plan_g)
    planned = plain(Fraction(meat.share) * plan_g) if plan_g else None
    return MeatRow(name, planned, plain(meat.net_g), loads)


def _addition_row(batch: Batch, line: Line) -> AdditionRow:
    accepted = line.accepted
    target = lower = upper = None
    if batch.meat_g > 0:
        target = batch.target(line.name)
        lower, upper = tolerance(target, batch.band(line.name))
    weighed = line.weighed
    actual = line.actual_g if weighed else None
    last = weighed[-1] if weighed else line.loads[-1] if line.loads else None
    lots = list(dict.fromkeys(load.lot for load in line.loads if load.lot))
    return AdditionRow(
        name=line.name,
        role=line.addition.role,
        target_g=_text(target),
        lower_g=_text(lower),
        upper_g=_text(upper),
        accept_lower_g=_text(accepted.accept_lower_g) if accepted else None,
        accept_upper_g=_text(accepted.accept_upper_g) if accepted else None,
        actual_g=_text(actual),
        difference_g=_text(difference_g(batch, line)),
        difference_percent=difference_percent(batch, line),
        verdict=verdict(batch, line),
        conformance=accepted.conformance if accepted else None,
        scale=last.scale if last else None,
        loads=len(line.loads),
        lot=", ".join(lots) or None,
        residue_g=_text(_residue(line)),
        by_hand=by_hand(line),
        division_g=_text(last.division_g) if last and last.division_g else None,
        who=last.who if last else None,
        at=last.at if last else None,
        unknown_more=unknown_more(line.loads),
        parts=tuple(_load_row(load) for load in line.loads),
    )


def _load_row(load: Load) -> LoadRow:
    return LoadRow(
        actual_g=None if load.net_g is None else plain(load.actual_g),
        scale=load.scale,
        vessel=load.vessel,
        lot=load.lot,
        who=load.who,
        at=load.at,
        in_mix=load.tipped,
    )


def _residue(line: Line) -> Decimal | None:
    known = [load.residue_g for load in line.loads if load.residue_g is not None]
    return sum(known, Decimal(0)) if known else None


def _text(value: Decimal | Fraction | None) -> str | None:
    return None if value is None else plain(value)


def _salt(batch: Batch) -> SaltPercent:
    """Percent of the meat, planned by the formula and as weighed."""
    known = salt(batch)
    if known is None:
        return SaltPercent(None, None)
    planned, actual = (plain(round(part, 4)) for part in (known.planned, known.actual))
    return SaltPercent(planned, actual, known.at_least)


def _at_most(batch: Batch, row: LimitRow) -> str | None:
    """The most that may be in the mix on the least meat that it was weighed into, rounded up: the
    figure that the limit is judged by. None without meat, or where
    nobody knows how much went in."""
    sure_g = Fraction(batch.meat_g) - Fraction(batch.meat_expanded_g)
    if sure_g <= 0 or _unknown(batch, row):
        return None
    thousandths = ceil(most_g(batch, row) / counts_on(batch, row, sure_g).grams * 10**9)
    return plain(Fraction(thousandths, 1000))


def _unknown(batch: Batch, row: LimitRow) -> bool:
    """Whether an amount that nobody knows counts for the row."""
    return any(line.unknown and row.counted(line.contains) for line in batch.lines.values())


def limit_rows(batch: Batch) -> tuple[WeighedAmount, ...]:
    """What went in of every agent that an enforced rule limits."""
    lines = batch.lines.values()
    there = {agent for line in lines for agent in (*line.blend, *line.addition.contains)}
    return tuple(_limit_row(batch, row) for row in batch.rows if there & set(row.agents))


def _limit_row(batch: Batch, row: LimitRow) -> WeighedAmount:
    meat = Fraction(batch.meat_g)
    expected = contents(batch.formula)
    on, made = basis_of(batch.formula, row, meat), counts_on(batch, row, meat)
    planned = actual = most = None
    if meat > 0:
        most = _at_most(batch, row)
        planned = ppm(counted_g(planned_masses(batch.formula, meat), expected, row), on.grams)
        actual = ppm(counted_g(actual_g(batch), found(batch), row), made.grams)
    return WeighedAmount(
        agents=row.agents,
        basis=on.name,
        unit=row.unit,
        planned=_text(None if planned is None else round(planned, 3)),
        actual=_text(None if actual is None else round(actual, 3)),
        at_most=most,
        limit=plain(Fraction(row.maximum) * 1_000_000),
        source=row.source,
        at_least=_unknown(batch, row),
    )
