"""The batch sheet: planned against actual, line by line, with all that was refused or blocked."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from station import CAUTION
from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.progress import phase, verdict
from station.batch.state import Batch, Line, Station
from station.formula.curing import Contents, contents, counted_g, ppm
from station.formula.limits import LimitRow
from station.formula.model import Step
from station.formula.scaling import planned_masses, salt_g
from station.ledger.book import Recorded
from station.ledger.chain import head_text
from station.ledger.tables import by_hand
from station.metrology.band import tolerance
from station.units import plain

_NOTABLE: dict[type[ev.Event], str] = {
    ev.Overpoured: "over",
    ev.Spilt: "spilt",
    ev.Lifted: "lifted",
    ev.TakenBack: "taken back",
    ev.JumpExplained: "set down",
    ev.Blocked: "blocked",
    ev.Voided: "voided",
    ev.Reopened: "reopened",
}


class NoSuchBatch(LookupError):
    """The ledger has no batch of that name; the message names those it has."""


def batch_sheet(records: Iterable[Recorded], batch_id: str) -> dict[str, Any]:
    """Everything about one batch as plain values, masses as decimal text in grams.

    Raises `NoSuchBatch`.
    """
    station, batch, last, known = Station(), None, None, []
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
            mine.append((record.at, event))
            batch = station.find(batch_id)
    if batch is None or last is None:
        there = f"there are {', '.join(known)}" if known else "there is none yet"
        raise NoSuchBatch(f"no batch {batch_id!r}; {there}")
    return {
        "batch": batch.id,
        "formula": batch.formula.name,
        "revision": batch.formula.revision,
        "authority": batch.opened.authority,
        "simulated": batch.opened.simulated,
        "opened_at": batch.opened_at,
        "state": "parked" if batch.parked_at else batch.end or phase(batch),
        "hold": list(batch.hold),
        "planned": batch.opened.planned_by,
        "plan_g": plain(batch.opened.plan_g),
        "meat_g": plain(batch.meat_g),
        "meat": [_meat_row(batch, name) for name in batch.meats],
        "additions": [_addition_row(batch, line) for line in batch.lines.values()],
        "steps": [
            {
                "name": event.name,
                "plan": _plan(batch, event.name),
                "value": event.value,
                "who": event.who,
                "at": at,
            }
            for at, event in mine
            if isinstance(event, ev.StepEnded)
        ],
        "salt_percent": _salt(batch),
        "limits": [_limit_row(batch, row) for row in batch.rows if _holds_any(batch, row)],
        "warnings": _warnings(mine),
        "refusals": [
            {"addition": event.line, "reason": event.reason, "at": at}
            for at, event in mine
            if isinstance(event, ev.Refused)
        ],
        "notes": [
            {"text": event.text, "who": event.who, "at": at}
            for at, event in mine
            if isinstance(event, ev.Noted)
        ],
        "events": last.seq,
        "head": head_text(last.hash),
        "caution": CAUTION,
    }


def _plan(batch: Batch, name: str) -> str | None:
    """What the formula asks of a step, as text."""
    step = batch.step(name)
    if not isinstance(step, Step):
        return None
    return ", ".join(part for part in (step.time, step.temperature) if part) or None


def nitrite(sheet: dict[str, Any]) -> dict[str, Any] | None:
    """The sheet's row about nitrite as {planned, actual, limit} in mg/kg, or None."""
    for row in sheet["limits"]:
        if "sodium nitrite" in row["agents"]:
            return {key: row[key] for key in ("planned", "actual", "limit")}
    return None


def _meat_row(batch: Batch, name: str) -> dict[str, Any]:
    meat = batch.meats[name]
    return {
        "name": name,
        "planned_g": plain(Fraction(meat.share) * Fraction(batch.opened.plan_g)),
        "actual_g": plain(meat.net_g),
        "loads": [
            {
                "net_g": plain(load.net_g),
                "scale": load.scale,
                "vessel": load.vessel or None,
                "who": load.who,
                "by_hand": load.by_hand.reason if load.by_hand else None,
            }
            for load in meat.loads
        ],
    }


def _addition_row(batch: Batch, line: Line) -> dict[str, Any]:
    accepted = line.accepted
    target = lower = upper = None
    if batch.meat_g > 0:
        target = batch.target(line.name)
        lower, upper = tolerance(target, batch.band(line.name))
    actual = Fraction(line.actual_g) if line.loads and not line.unknown else None
    off = None if actual is None or target is None else actual - target
    lots = list(dict.fromkeys(load.lot for load in line.loads if load.lot))
    return {
        "name": line.name,
        "role": line.addition.role,
        "target_g": _text(target),
        "lower_g": _text(lower),
        "upper_g": _text(upper),
        "accept_lower_g": _text(accepted.accept_lower_g) if accepted else None,
        "accept_upper_g": _text(accepted.accept_upper_g) if accepted else None,
        "actual_g": _text(actual),
        "difference_g": _text(off),
        "difference_percent": None
        if off is None or not target
        else plain(round(off / target * 100, 2)),
        "verdict": verdict(batch, line),
        "conformance": accepted.conformance if accepted else None,
        "scale": line.loads[-1].scale if line.loads else None,
        "loads": len(line.loads),
        "lot": ", ".join(lots) or None,
        "residue_g": _text(_residue(line)),
        "by_hand": by_hand(line),
        "who": line.loads[-1].who if line.loads else None,
        "at": line.loads[-1].at if line.loads else None,
    }


def _residue(line: Line) -> Decimal | None:
    known = [load.residue_g for load in line.loads if load.residue_g is not None]
    return sum(known, Decimal(0)) if known else None


def _text(value: Decimal | Fraction | None) -> str | None:
    return None if value is None else plain(value)


def _actual(batch: Batch) -> dict[str, Fraction]:
    return {line.name: Fraction(line.actual_g) for line in batch.lines.values()}


def _salt(batch: Batch) -> dict[str, str | None]:
    """Percent of the meat, planned by the formula and as weighed."""
    meat = Fraction(batch.meat_g)
    if meat <= 0:
        return {"planned": None, "actual": None}
    expected, found = contents(batch.formula), _found(batch)
    planned = salt_g(planned_masses(batch.formula, meat), expected)
    actual = salt_g(_actual(batch), found)
    return {
        "planned": plain(round(planned / meat * 100, 4)),
        "actual": plain(round(actual / meat * 100, 4)),
    }


def _found(batch: Batch) -> Contents:
    """Line -> what it contains, by the bags it was weighed from."""
    return {line.name: line.blend for line in batch.lines.values()}


def _holds_any(batch: Batch, row: LimitRow) -> bool:
    """Whether the row is about something in this batch."""
    agents = set(row.agents)
    lines = batch.lines.values()
    return any(agents & {*line.blend, *line.addition.contains} for line in lines)


def _limit_row(batch: Batch, row: LimitRow) -> dict[str, Any]:
    meat = Fraction(batch.meat_g)
    expected, found = contents(batch.formula), _found(batch)
    planned = actual = None
    if meat > 0:
        planned = ppm(counted_g(planned_masses(batch.formula, meat), expected, row), meat)
        actual = ppm(counted_g(_actual(batch), found, row), meat)
    return {
        "agents": list(row.agents),
        "basis": row.basis,
        "unit": row.unit,
        "planned": _text(None if planned is None else round(planned, 3)),
        "actual": _text(None if actual is None else round(actual, 3)),
        "limit": plain(Fraction(row.maximum) * 1_000_000),
        "source": row.source,
    }


def _warnings(mine: list[tuple[str, ev.Event]]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for at, event in mine:
        if isinstance(event, ev.Warned):
            found.append(
                {"addition": event.line, "kind": event.warning, "text": event.text, "at": at}
            )
        elif isinstance(event, ev.Rescaled):
            grams = plain(round(event.amount.share * 1000, 3))
            text = f"worked out by lot {event.lot}: {grams} g a kg of meat, says {event.who}"
            found.append({"addition": event.line, "kind": "rescaled", "text": text, "at": at})
        elif isinstance(event, ev.PutOnHold):
            found.append(
                {"addition": None, "kind": "hold", "text": "; ".join(event.reasons), "at": at}
            )
        elif type(event) in _NOTABLE:
            text = _sentence(event)
            line = getattr(event, "line", None)
            found.append({"addition": line, "kind": _NOTABLE[type(event)], "text": text, "at": at})
    return found


def _sentence(event: ev.Event) -> str:
    match event:
        case ev.Overpoured():
            return f"{plain(event.net_g)} g, over {plain(event.accept_upper_g)} g, before the mix"
        case ev.Spilt():
            return f"{plain(event.spilt_g)} g stayed on the pan"
        case ev.Lifted():
            return f"lifted without being accepted, {plain(event.gross_g)} g gross"
        case ev.TakenBack():
            return f"{plain(event.missing_g)} g went back, says {event.who}"
        case ev.JumpExplained():
            return f"{plain(event.jump_g)} g were set down and belong in, says {event.who}"
        case ev.Blocked():
            return event.text
        case ev.Voided() | ev.Reopened():
            return event.reason
    raise TypeError(f"no sentence for {event!r}")
