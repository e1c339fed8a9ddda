"""A batch along the time it took: what was done when, and what stood in its way."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from station.audit.drawn.axis import Axis, Tick, short
from station.audit.rows import SpanRow

WIDTH, LEFT, RIGHT = 720, 190, 690
ROW = 20
STEPS_S = (
    *(5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400),
    *(2 * 86400, 7 * 86400, 30 * 86400, 365 * 86400),
)
"""Seconds between the times beside the axis."""

LANES = {
    "blocked": "blocked",
    "hold": "on hold",
    "parked": "parked",
    "refused": "refused",
}


@dataclass(frozen=True, slots=True)
class Bar:
    """A span of time."""

    x: float
    width: float
    kind: str


@dataclass(frozen=True, slots=True)
class Lane:
    y: int
    name: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Course:
    key: str
    width: int
    height: int
    left: int
    right: int
    bottom: int
    lanes: tuple[Lane, ...]
    ticks: tuple[Tick, ...]
    title: str
    desc: str


def course(
    key: str, spans: Sequence[SpanRow], begin: str, end: str, clock: Callable[[str], str]
) -> Course | None:
    """The chart from `begin` to `end`, or to the last that is known; None where there is nothing.
    `clock` writes a recorded time as the bench has it."""
    if not spans:
        return None
    last = max([end, *(span.end or span.begin for span in spans)])
    from_s = min(_seconds(begin), *(_seconds(span.begin) for span in spans))
    until_s = max(_seconds(last), from_s + 1)
    axis = Axis(from_s, until_s, LEFT, RIGHT)
    lanes = [(short(span.name, 26), [_bar(span, axis)]) for span in spans if span.kind not in LANES]
    for kind, name in LANES.items():
        bars = [_bar(span, axis) for span in spans if span.kind == kind]
        if bars:
            lanes.append((name, bars))
    bottom = 6 + len(lanes) * ROW
    return Course(
        key=key,
        width=WIDTH,
        height=bottom + 22,
        left=LEFT,
        right=RIGHT,
        bottom=bottom,
        lanes=tuple(
            Lane(6 + place * ROW, name, tuple(bars)) for place, (name, bars) in enumerate(lanes)
        ),
        ticks=_times(axis, clock),
        title="The batch in time",
        desc=_words(spans, clock, begin, last),
    )


def barring(spans: Sequence[SpanRow]) -> list[SpanRow]:
    """What stood in the way, in the order of time."""
    return [span for span in spans if span.kind in LANES]


def lasted(span: SpanRow) -> str:
    """How long, in words."""
    if span.kind == "refused":
        return ""
    if span.end is None:
        return "still so"
    seconds = round(_seconds(span.end) - _seconds(span.begin))
    if seconds < 60:
        return f"{seconds} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


def _seconds(at: str) -> float:
    return datetime.fromisoformat(at).timestamp()


def _bar(span: SpanRow, axis: Axis) -> Bar:
    start = axis.place(_seconds(span.begin))
    stop = axis.stop if span.end is None else axis.place(_seconds(span.end))
    return Bar(start, round(max(stop - start, 2), 1), span.kind)


def _times(axis: Axis, clock: Callable[[str], str]) -> tuple[Tick, ...]:
    rough = (axis.high - axis.low) / 6
    step = next((size for size in STEPS_S if size >= rough), STEPS_S[-1])
    zero = datetime.fromtimestamp(axis.low, UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    made = []
    at = zero
    while at.timestamp() <= axis.high:
        if at.timestamp() >= axis.low:
            text = clock(at.isoformat())
            shown = text[:10] if step >= 86400 else text[11:19] if step < 60 else text[11:16]
            made.append(Tick(axis.place(at.timestamp()), shown))
        at += timedelta(seconds=step)
    return tuple(made)


def _words(spans: Sequence[SpanRow], clock: Callable[[str], str], begin: str, last: str) -> str:
    done = [span.name for span in spans if span.kind not in LANES]
    told = [f"From {clock(begin)[:16]} to {clock(last)[:16]}: {', '.join(done) or 'no work'}"]
    for kind, name in LANES.items():
        if count := sum(span.kind == kind for span in spans):
            told.append(f"{name}: {count} times" if count > 1 else f"{name}: once")
    return "; ".join(told)
