"""What a client of the socket is shown: the guide as plain values, masses as decimal text."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

from station.batch.cups import standing_vessels
from station.batch.plan import free_vessels
from station.batch.state import Batch, Station
from station.ledger.chain import head_text
from station.pan.view import Pan
from station.units import plain
from station.weighing.acceptance import key_first
from station.weighing.closing import unfinished_names
from station.weighing.commands import Offer
from station.weighing.guide import Guide
from station.weighing.sight import Sight

Snapshot = dict[str, Any]


def snapshot(sight: Sight, told: Guide, head: bytes, seq: int, simulated: bool) -> Snapshot:
    """The state of the bench. Masses are null where they are not known or stale."""
    station, pans = sight.station, sight.pans
    batch = station.batch
    limits = told.limits
    return {
        "batch": batch.id if batch else None,
        "formula": batch.formula.name if batch else None,
        "line": told.line,
        "role": told.role,
        "scale": told.scale,
        "phase": told.phase,
        "word": told.word,
        "sentence": told.sentence,
        "next": told.next,
        "asks": _ask(told),
        "offers": [offer_as_sent(offer) for offer in told.offers],
        "lots_wanted": list(sight.facts.unopened) if told.phase == "additions" else [],
        "net_g": _text(told.net_g),
        "target_g": _text(told.target_g),
        "lower_g": _text(told.lower_g),
        "upper_g": _text(told.upper_g),
        "accept_lower_g": _text(limits.accept_lower if limits else None),
        "accept_upper_g": _text(limits.accept_upper if limits else None),
        "aim_g": _text(limits.aim if limits else None),
        "division_g": _text(told.division_g),
        "final_g": _text(told.final_g),
        "standing": _standing(station),
        "blocked": [trouble.reason for trouble in told.troubles],
        "hold": list(batch.hold) if batch else [],
        "who": station.last_who,
        **_place(batch, told),
        "key_first": bool(batch and told.line in batch.lines and _key_first(batch, told.line)),
        "ends_by_key": bool(batch and batch.step(told.line or "")),
        "vessel": _vessel(batch, told.line),
        "to_name": unfinished_names(batch) if batch and told.phase == "additions" else [],
        "skipped": _skipped(batch, told.line),
        "vessels": _vessels(station, told),
        "people": list(batch.opened.people) if batch else [],
        "parked": [_parked(other) for other in station.parked.values()],
        "scales": {name: {**_pan(pan), **_lag(station, name, pan)} for name, pan in pans.items()},
        "simulated": simulated,
        "ledger": {"seq": seq, "head": head_text(head)},
    }


def offer_as_sent(offer: Offer) -> dict[str, Any]:
    """A call as the socket takes it, and its words, key and danger."""
    params = dict(offer.params)
    return {
        "verb": offer.verb,
        "params": params,
        "text": offer.text,
        "key": offer.key,
        "danger": offer.danger,
    }


def _ask(told: Guide) -> dict[str, Any] | None:
    if told.asks is None:
        return None
    answers = [offer_as_sent(offer) for offer in told.asks.answers]
    return {"question": told.asks.question, "answers": answers}


def _place(batch: Batch | None, told: Guide) -> dict[str, int | None]:
    """Which line of how many: the meat, then additions and steps in the order of the bench."""
    if batch is None:
        return {"place": None, "places": None}
    order = [*batch.meats, *batch.order]
    place = order.index(told.line) + 1 if told.line in order else None
    return {"place": place, "places": len(order)}


def _vessel(batch: Batch | None, line: str | None) -> str | None:
    """The vessel that was named or tared for the line at its turn."""
    if batch is None or line is None:
        return None
    if line in batch.meats:
        return batch.meats[line].tub
    found = batch.lines.get(line)
    if found is None:
        return None
    return found.tare.vessel if found.tare else found.used


def _skipped(batch: Batch | None, name: str | None) -> bool:
    """Whether the line at its turn was skipped and is not begun: closing may name it."""
    line = batch.lines.get(name or "") if batch else None
    return line is not None and line.skipped and line.tare is None and line.used is None


def _vessels(station: Station, told: Guide) -> list[str]:
    """The vessels that could be used now, lightest first; for meat those of its own scale."""
    free = free_vessels(station)
    if told.role == "meat":
        own = [vessel for vessel in free if vessel.division_g == told.division_g]
        free = own or free
    return [vessel.name for vessel in free]


def _key_first(batch: Batch, line: str) -> bool:
    return key_first(batch, batch.lines[line])


def _parked(batch: Batch) -> dict[str, Any]:
    return {
        "batch": batch.id,
        "formula": batch.formula.name,
        "since": batch.parked_at,
        "standing": [cup.line.name for cup in standing_vessels(batch)],
    }


def _text(value: Decimal | Fraction | None) -> str | None:
    return None if value is None else plain(value)


def _pan(pan: Pan) -> dict[str, Any]:
    return {
        "gross_g": _text(pan.gross_g),
        "silent_s": None if pan.gross_g is not None or pan.age_s is None else int(pan.age_s),
        "settled": pan.settled is not None,
        "troubles": [trouble.reason for trouble in pan.troubles],
        "tipped": pan.tipped_line,
    }


def _lag(station: Station, name: str, pan: Pan) -> dict[str, Any]:
    """How late the scale is, and what the last steps on it told."""
    lag = station.lags.get(name)
    return {
        "window_s": None if lag is None else plain(Decimal(str(lag.window_s))),
        "lag_since": None if lag is None else lag.at,
        "steps": [
            {
                "at_s": round(step.time_s, 3),
                "grams": round(step.grams, 3),
                "window_s": None if step.window_s is None else round(step.window_s, 4),
                "shape": step.shape,
                "why": step.why,
            }
            for step in pan.steps
        ],
    }


def _standing(station: Station) -> list[dict[str, Any]]:
    if station.open is None:
        return []
    found = []
    for cup in standing_vessels(station.open):
        load = next(load for load in cup.line.standing if load.vessel == cup.vessel)
        found.append(
            {
                "line": cup.line.name,
                "net_g": plain(cup.net_g),
                "since": load.at,
                "who": load.who,
                "vessel": cup.vessel,
                "by_hand": load.by_hand is not None,
            }
        )
    return found
