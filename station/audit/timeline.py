"""When what was done to a batch, and what stood in its way, from its events."""

from collections.abc import Iterable

from station.audit.rows import SpanRow
from station.batch import events as ev

_WORK = (
    *(ev.VesselUsed, ev.Tared, ev.MeatWeighed, ev.MeatEnded, ev.LoadWeighed, ev.Accepted),
    *(ev.Overpoured, ev.Lifted, ev.Spilt, ev.Voided, ev.Tipped, ev.TippedUnaccepted),
    ev.TippedInWord,
)
"""Events by which a line is worked on."""

_Open = dict[tuple[str, str, str], tuple[str, str, str | None]]


def timeline(mine: Iterable[tuple[str, ev.Event]]) -> list[SpanRow]:
    """Lines and steps in the order in which they were begun, then what blocked, held or parked the
    batch and what was refused, in the order of time. A line lasts from the first to the last time
    that it was worked on."""
    worked: dict[str, list[str]] = {}
    steps: list[SpanRow] = []
    barred: list[SpanRow] = []
    going: _Open = {}
    for at, event in mine:
        if isinstance(event, _WORK):
            worked.setdefault(event.line, [at, at])[1] = at
        elif isinstance(event, ev.StepEnded):
            text = "left out" if event.skipped else event.value or "done"
            begin = event.began or at
            steps.append(SpanRow(kind="step", name=event.name, text=text, begin=begin, end=at))
        elif isinstance(event, ev.Refused):
            name = event.line or "the batch"
            text = f"{event.reason}{f' ({event.times} times)' if event.times > 1 else ''}"
            barred.append(SpanRow(kind="refused", name=name, text=text, begin=at, end=at))
        else:
            barred += _barred(at, event, going)
    work = [
        SpanRow(kind="work", name=name, text="", begin=first, end=last)
        for name, (first, last) in worked.items()
    ]
    barred += [_span(key, told, None) for key, told in going.items()]
    return [
        *sorted([*work, *steps], key=lambda span: span.begin),
        *sorted(barred, key=lambda span: span.begin),
    ]


def _barred(at: str, event: ev.Event, going: _Open) -> list[SpanRow]:
    """What an event ends of what is going on; what it begins is going on from then."""
    match event:
        case ev.Blocked():
            key = ("blocked", event.reason, event.scale or "")
            going.setdefault(key, (at, event.text, event.scale))
        case ev.Unblocked():
            return _ended(("blocked", event.reason, event.scale or ""), at, going)
        case ev.PutOnHold():
            ended = _ended(("hold", "", ""), at, going)
            going["hold", "", ""] = (at, "; ".join(event.reasons), None)
            return ended
        case ev.HoldLifted():
            return _ended(("hold", "", ""), at, going)
        case ev.Parked():
            going["parked", "", ""] = (at, f"parked by {event.who}", None)
        case ev.TakenUp():
            return _ended(("parked", "", ""), at, going)
        case ev.Closed() | ev.Abandoned():
            return [span for key in list(going) for span in _ended(key, at, going)]
    return []


def _ended(key: tuple[str, str, str], at: str, going: _Open) -> list[SpanRow]:
    told = going.pop(key, None)
    return [] if told is None else [_span(key, told, at)]


def _span(key: tuple[str, str, str], told: tuple[str, str, str | None], end: str | None) -> SpanRow:
    begin, text, scale = told
    kind, reason, _ = key
    return SpanRow(kind=kind, name=reason or kind, text=text, begin=begin, end=end, scale=scale)
