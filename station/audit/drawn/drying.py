"""Drying curves: what pieces have lost, in percent, against the days that they hung."""

from collections.abc import Sequence
from itertools import groupby

from station.audit.drawn.axis import Axis, ticks
from station.audit.drawn.plot import LEFT, NAMES, RIGHT, TOP, Dot, Plot, Rule
from station.audit.rows import DriedRow

HEIGHT = 168


def curves(key: str, rows: Sequence[DriedRow]) -> tuple[Plot, ...]:
    """One for each kind of piece that was weighed whole after it hung, from no loss on; the loss
    that is planned is a level."""
    told = sorted((row for row in rows if row.loss_pct), key=lambda row: row.of)
    groups = groupby(told, lambda row: row.of)
    return tuple(
        _curve(f"{key}-{place}", of, list(mine)) for place, (of, mine) in enumerate(groups)
    )


def _curve(key: str, of: str, rows: list[DriedRow]) -> Plot:
    figures = [(0.0, 0.0), *((float(row.days), float(str(row.loss_pct))) for row in rows)]
    last, planned = rows[-1], rows[-1].planned_pct
    losses = [loss for _, loss in figures] + ([float(planned)] if planned else [])
    bottom = HEIGHT - NAMES
    up = Axis(min(losses), max(*losses, 1.0) * 1.08, bottom, TOP)
    along = Axis(0.0, max(figures[-1][0], 1.0), LEFT + 10, RIGHT - 10)
    dots = tuple(Dot(along.place(day), up.place(loss), False) for day, loss in figures)
    level = None if planned is None else up.place(float(planned))
    return Plot(
        key=key,
        height=HEIGHT,
        bottom=bottom,
        title=f"{of}: loss in percent, by days",
        desc=f"{len(rows)} weighings; {last.loss_pct} % after {last.days} days",
        path=" ".join(f"{dot.x},{dot.y}" for dot in dots),
        dots=dots,
        rules=() if level is None else (Rule(level, "limit", f"planned {planned}", level + 3.5),),
        y_ticks=ticks(up),
        x_ticks=ticks(along),
    )
