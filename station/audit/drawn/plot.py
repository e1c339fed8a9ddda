"""What a chart of figures along an axis is made of."""

from dataclasses import dataclass

from station.audit.drawn.axis import Tick

WIDTH, LEFT, RIGHT = 720, 62, 628
TOP, NAMES = 12, 30
"""Room above the plot, and under it for the names of batches, or for figures."""


@dataclass(frozen=True, slots=True)
class Rule:
    """A level across the chart: `kind` is center, limit or band."""

    y: float
    kind: str
    text: str
    text_y: float


@dataclass(frozen=True, slots=True)
class Dot:
    """One figure; `sign`: a rule says that it is not chance."""

    x: float
    y: float
    sign: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    key: str
    width: int = WIDTH
    height: int
    left: int = LEFT
    right: int = RIGHT
    bottom: int
    title: str
    desc: str
    path: str
    dots: tuple[Dot, ...]
    rules: tuple[Rule, ...]
    y_ticks: tuple[Tick, ...]
    x_ticks: tuple[Tick, ...]
