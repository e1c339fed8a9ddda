"""Every addition of a batch in its own band: posts at its limits, a mark where it came to lie."""

from collections.abc import Iterable
from dataclasses import dataclass

from station.audit.capability import band_ends
from station.audit.drawn.axis import Axis, short
from station.audit.rows import AdditionRow

WIDTH = 720
ROW = 34
LEFT, RIGHT = 190, 470
LOWER, UPPER = 250, 410
"""Where the posts stand, the same for every line: beyond them is out of the band."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One line. `mark` is where the weight lies, None where nothing was weighed; `beyond` tells
    that it lies so far out that the chart ends before it: -1 left, 1 right; `more`: more went in,
    and nobody knows how much."""

    y: int
    name: str
    lower: str
    upper: str
    target: float | None
    mark: float | None
    beyond: int
    more: bool
    text: str


@dataclass(frozen=True, slots=True)
class Bands:
    key: str
    width: int
    height: int
    bars: tuple[Bar, ...]
    title: str
    desc: str


def bands(key: str, rows: Iterable[AdditionRow]) -> Bands | None:
    """The chart; None where no line has a target."""
    shown = [row for row in rows if row.lower_g is not None and row.upper_g is not None]
    if not shown:
        return None
    bars = tuple(_bar(row, 26 + place * ROW) for place, row in enumerate(shown))
    return Bands(
        key=key,
        width=WIDTH,
        height=26 + len(bars) * ROW - 8,
        bars=bars,
        title="Additions, each in its band",
        desc="; ".join(f"{row.name}: {bar.text}" for row, bar in zip(shown, bars, strict=True)),
    )


def _bar(row: AdditionRow, y: int) -> Bar:
    low, high = float(row.lower_g or 0), float(row.upper_g or 0)
    lower, upper = band_ends(row)
    reach = (LOWER - LEFT) / (UPPER - LOWER) * (high - low)
    axis = Axis(low - reach, high + reach, LEFT, RIGHT)
    actual = None if row.actual_g is None else float(row.actual_g)
    beyond = 0 if actual is None else (actual > axis.high) - (actual < axis.low)
    return Bar(
        y=y,
        name=short(row.name, 26),
        lower=lower,
        upper=upper,
        target=None if row.target_g is None else axis.place(float(row.target_g)),
        mark=None if actual is None else axis.place(actual),
        beyond=beyond,
        more=row.unknown_more is not None,
        text=said(row),
    )


def said(row: AdditionRow) -> str:
    """What became of a line, in words; an amount that nobody knows is none of nothing."""
    if row.actual_g is None:
        weighed = "unknown amount" if row.unknown_more else "not weighed"
        return f"{weighed}, {row.verdict}" if row.verdict else weighed
    at_least = "at least " if row.unknown_more else ""
    off = f", {signed(row.difference_percent)} %" if row.difference_percent is not None else ""
    return f"{at_least}{row.actual_g} g{off}, {row.verdict or 'not accepted'}"


def signed(figure: str) -> str:
    """A difference with its sign; the sign of a minus, not a hyphen."""
    return figure.replace("-", "−") if figure.startswith("-") else f"+{figure}"
