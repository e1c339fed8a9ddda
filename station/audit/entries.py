"""What one person did, and what one scale weighed and went through, in the order of time."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import msgspec
from msgspec.structs import replace

from station.audit.decisions import DECIDED, decisions
from station.audit.rows import LoadRow
from station.audit.sheets import sheets_of
from station.batch import events as ev
from station.batch.codec import kind_of
from station.ledger.asking import ALWAYS, Asked, Period
from station.ledger.tables import Row
from station.units import plain


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One thing. `kind` is a word to sort by; `actual_g` and `difference_pct` where it is a
    weighing that has them."""

    at: str
    batch: str | None
    kind: str
    line: str | None
    text: str
    who: str | None
    actual_g: str | None = None
    difference_pct: str | None = None


def of_person(ledger: Asked, name: str, period: Period) -> list[Entry]:
    """The batches that somebody opened, worked on and closed, what they weighed and what they
    decided, or saw as the second person."""
    entries = [
        Entry(
            at=row["opened_at"],
            batch=row["batch"],
            kind="opened",
            line=None,
            text=f"{row['formula']} revision {row['revision']}; now {row['state']}",
            who=name,
        )
        for row in ledger.batches(period)
        if row["who"] == name
    ]
    entries += _weighings(ledger, period, lambda who, scale: who == name)
    entries += _work(ledger, name, period)
    for one in decisions(ledger.events_in(period, DECIDED)):
        if name in (one.who, one.second):
            reason = f", because: {one.reason}" if one.reason else ""
            seen = "seen: " if one.second == name else ""
            entries.append(
                Entry(
                    at=one.at,
                    batch=one.batch,
                    kind=one.kind,
                    line=one.addition,
                    text=f"{seen}{one.text}{reason}",
                    who=one.who,
                )
            )
    return sorted(entries, key=lambda entry: entry.at)


def of_scale(ledger: Asked, name: str, period: Period) -> list[Entry]:
    """The additions and loads of meat that were weighed on a scale, and what befell it."""
    entries = list(_weighings(ledger, period, lambda who, scale: scale == name))
    for record in ledger.events_in(period, _OF_SCALE):
        if _scale_of(record.body) == name:
            event = record.event
            entries.append(
                Entry(
                    at=record.at,
                    batch=record.batch,
                    kind=_KINDS[type(event)],
                    line=getattr(event, "line", None),
                    text=_text(event),
                    who=getattr(event, "who", None),
                    actual_g=plain(event.net_g) if isinstance(event, ev.MeatWeighed) else None,
                )
            )
    return sorted(entries, key=lambda entry: entry.at)


_WORK: dict[str, tuple[str, str | None]] = {
    kind_of(ev.StepEnded): ("step", "reason"),
    kind_of(ev.Parked): ("parked", None),
    kind_of(ev.TakenUp): ("taken up", None),
    kind_of(ev.Closed): ("closed", "named"),
}
"""Ordinary work, by the kind of its event: its word, and the field that makes a decision of it,
which is told as one."""


def _work(ledger: Asked, name: str, period: Period) -> list[Entry]:
    """The steps, parkings and closings of a person."""
    found = []
    for record in ledger.events_in(period, _WORK.keys()):
        kind, decided = _WORK[record.kind]
        if record.body.get("who") == name and not (decided and record.body.get(decided)):
            step = record.body.get("name")
            found.append(
                Entry(
                    at=record.at,
                    batch=record.batch,
                    kind=kind,
                    line=step,
                    text=step or "the batch",
                    who=name,
                )
            )
    return found


_KINDS: dict[type[ev.Event], str] = {
    ev.MeatWeighed: "meat",
    ev.Blocked: "blocked",
    ev.ScaleKnown: "known",
    ev.ScaleTold: "told",
    ev.LagMeasured: "lag",
    ev.VesselRecorded: "vessel",
    ev.TallyBegun: "count",
}
_OF_SCALE = frozenset(kind_of(event) for event in _KINDS)


def _scale_of(body: dict[str, Any]) -> str | None:
    """The scale that an event's body names, by its text or as a whole."""
    scale = body.get("scale")
    return scale.get("name") if isinstance(scale, dict) else scale


def _text(event: ev.Event) -> str:
    match event:
        case ev.MeatWeighed():
            return f"{event.line}, in {event.vessel}" if event.vessel else event.line
        case ev.Blocked():
            return event.text
        case ev.ScaleKnown():
            by = f"confirmed by {event.who}" if event.who else "as its port says"
            return f"Max {plain(event.scale.max_g)} g, d {plain(event.scale.division_g)} g, {by}"
        case ev.ScaleTold():
            return event.order
        case ev.LagMeasured():
            return f"{plain(event.window_s)} s late, by {event.steps} steps"
        case ev.TallyBegun():
            return f"{event.tally} are counted"
        case ev.VesselRecorded():
            return f"{event.name} weighs {plain(event.empty_g)} g empty"
    return ""


def _weighings(
    ledger: Asked, period: Period, wanted: Callable[[str | None, str | None], bool]
) -> Iterator[Entry]:
    """The loads of additions whose person and scale are `wanted`; an addition of one load is that.
    Only a sheet tells several apart."""
    rows = ledger.weighed(period)
    several = dict.fromkeys(row["batch"] for row in rows if row["loads"] > 1)
    parts = {
        (sheet.batch, line.name): line.parts
        for sheet in sheets_of(ledger, several)
        for line in sheet.additions
    }
    for row in rows:
        if row["loads"] < 2:
            if wanted(row["who"], row["scale"]):
                yield _weighing(row)
            continue
        loads = parts[row["batch"], row["name"]]
        for number, load in enumerate(loads, 1):
            if wanted(load.who, load.scale):
                yield _load(row, load, f"load {number} of {len(loads)}")


def _load(row: Row, load: LoadRow, which: str) -> Entry:
    whole = _weighing(row)
    return replace(
        whole,
        at=load.at,
        who=load.who,
        text=f"{which}; all together: {whole.text}",
        actual_g=load.actual_g,
        difference_pct=None,
    )


def _weighing(row: Row) -> Entry:
    unknown = f"; more went in, nobody knows how much ({row['unknown_more']})"
    by_hand = f"; BY HAND: {row['by_hand']}"
    return Entry(
        at=row["at"],
        batch=row["batch"],
        kind="weighed",
        line=row["name"],
        text=f"{row['verdict'] or 'not accepted yet'}"
        f"{unknown if row['unknown_more'] else ''}{by_hand if row['by_hand'] else ''}",
        who=row["who"],
        actual_g=row["actual_text"],
        difference_pct=row["difference_pct"],
    )


def people(ledger: Asked) -> list[str]:
    """Everybody who is on record with something."""
    rows: Sequence[Row] = [*ledger.batches(), *ledger.weighed()]
    decided = list(decisions(ledger.events_in(ALWAYS, DECIDED)))
    named = [*(one.who for one in decided), *(one.second for one in decided)]
    return _names([*(row["who"] for row in rows), *named])


def scales(ledger: Asked) -> list[str]:
    """Every scale that is on record."""
    told = (_scale_of(record.body) for record in ledger.events_in(ALWAYS, _OF_SCALE))
    return _names([*(row["scale"] for row in ledger.weighed()), *told])


def _names(found: Iterable[str | None]) -> list[str]:
    return sorted({name for name in found if name})
