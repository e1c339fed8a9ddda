"""From figures to places, and the round figures that stand beside an axis."""

from dataclasses import dataclass
from math import ceil, floor, log10


@dataclass(frozen=True, slots=True)
class Axis:
    """Figures from `low` to `high` lie from `start` to `stop`; what is beyond stays at the end."""

    low: float
    high: float
    start: float
    stop: float

    def place(self, figure: float) -> float:
        share = 0.5 if self.high == self.low else (figure - self.low) / (self.high - self.low)
        share = min(max(share, 0.0), 1.0)
        return round(self.start + share * (self.stop - self.start), 1)


@dataclass(frozen=True, slots=True)
class Tick:
    """A round figure beside an axis, as text."""

    at: float
    text: str


def ticks(axis: Axis, about: int = 5) -> tuple[Tick, ...]:
    """Round figures, one, two or five of a power of ten apart."""
    span = axis.high - axis.low
    if span <= 0:
        return (Tick(axis.place(axis.low), f"{axis.low:g}"),)
    rough = span / about
    power = 10.0 ** floor(log10(rough))
    step = next(size * power for size in (1, 2, 5, 10) if rough <= size * power)
    digits = max(0, -floor(log10(step) + 1e-9))
    first, last = ceil(axis.low / step - 1e-9), floor(axis.high / step + 1e-9)
    return tuple(
        Tick(axis.place(n * step), f"{n * step:.{digits}f}".replace("-", "−"))
        for n in range(first, last + 1)
    )


def short(text: str, signs: int) -> str:
    """Text that has to fit beside a chart; the table beside it has all of it."""
    return text if len(text) <= signs else f"{text[: signs - 1]}…"
