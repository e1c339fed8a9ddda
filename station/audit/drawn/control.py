"""Control charts: figures batch by batch between their limits, ranges, a moving average."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from station.audit.drawn.axis import Axis, Tick, short, ticks
from station.audit.drawn.plot import LEFT, NAMES, RIGHT, TOP, Dot, Plot, Rule
from station.audit.series import Series

_Levels = Sequence[tuple[str, float | None, str]]


def plots(key: str, series: Series, band: tuple[float, float] | None = None) -> tuple[Plot, ...]:
    """Individuals, moving range and moving average; of figures that are all the same, those alone;
    nothing of fewer than two."""
    found = series.statistics
    if found.center is None:
        return ()
    figures = [float(point.figure) for point in series.points]
    names = [point.batch for point in series.points]
    signs = {sign.batch for sign in found.signals}
    marked = [name in signs for name in names]
    levels: list[tuple[str, float | None, str]] = [
        ("center", found.center, "mean"),
        ("limit", found.ucl, "limit"),
        ("limit", found.lcl, "limit"),
    ]
    if band is not None:
        levels += [("band", band[0], "band"), ("band", band[1], "band")]
    told = f"{len(names)} batches, {names[0]} to {names[-1]}"
    where = f"mean {found.center:g}, limits {found.lcl:g} to {found.ucl:g} {series.unit}"
    signals = "; ".join(f"{sign.batch}: {sign.rule}" for sign in found.signals)
    title = f"{series.name}, {series.unit}: batch by batch"
    if not found.sigma:
        told += f"; all are {found.center:g} {series.unit}"
        return (_plot(f"{key}-i", title, told, figures, names, marked, levels[:1], 88),)
    where += f"; {signals or 'nothing but chance by these rules'}"
    ranges = [abs(after - before) for before, after in pairwise(figures)]
    return (
        _plot(f"{key}-i", title, f"{told}; {where}",
              figures, names, marked, levels, 156),
        _plot(f"{key}-r", f"{series.name}, {series.unit}: from one batch to the next",
              f"{told}; mean {found.range_mean:g}, upper limit {found.range_ucl:g}",
              ranges, names[1:], [False] * len(ranges),
              [("center", found.range_mean, "mean"), ("limit", found.range_ucl, "limit"),
               ("floor", 0.0, "")], 88),
        _plot(f"{key}-e", f"{series.name}, {series.unit}: moving average",
              f"{told}; limits {found.ewma_lcl:g} to {found.ewma_ucl:g}",
              found.averages, names, [False] * len(names),
              [("center", found.center, "mean"), ("limit", found.ewma_ucl, "limit"),
               ("limit", found.ewma_lcl, "limit")], 104),
    )  # fmt: skip


def _plot(
    key: str,
    title: str,
    desc: str,
    figures: Sequence[float],
    names: Sequence[str],
    marked: Iterable[bool],
    levels: _Levels,
    height: int,
) -> Plot:
    bottom = height - NAMES
    shown = [(kind, level, text) for kind, level, text in levels if level is not None]
    every = [*figures, *(level for _, level, _ in shown)]
    low, high = min(every), max(every)
    room = (high - low) * 0.08 or 1.0
    low = low if ("floor", 0.0, "") in shown else low - room
    up = Axis(low, high + room, bottom, TOP)
    along = Axis(0, max(len(figures) - 1, 1), LEFT + 10, RIGHT - 10)
    dots = tuple(
        Dot(along.place(at), up.place(figure), sign)
        for at, (figure, sign) in enumerate(zip(figures, marked, strict=True))
    )
    return Plot(
        key=key,
        height=height,
        bottom=bottom,
        title=title,
        desc=desc,
        path=" ".join(f"{dot.x},{dot.y}" for dot in dots),
        dots=dots,
        rules=_rules(up, shown),
        y_ticks=ticks(up, 4 if height > 120 else 3),
        x_ticks=_names(along, names),
    )


def _rules(up: Axis, levels: Iterable[tuple[str, float, str]]) -> tuple[Rule, ...]:
    """The levels, the texts beside them kept apart."""
    made: list[Rule] = []
    for kind, level, text in sorted(levels, key=lambda one: -one[1]):
        if kind == "floor":
            continue
        y = up.place(level)
        text_y = max(y + 3.5, made[-1].text_y + 10.5) if made else y + 3.5
        said = f"{text} {level:.5g}".replace("-", "−")
        made.append(Rule(y, kind, said, round(text_y, 1)))
    return tuple(made)


def _names(along: Axis, names: Sequence[str]) -> tuple[Tick, ...]:
    """Some of the batches, so many as have room; the first and the last among them."""
    most = 6
    step = max(1, -(-(len(names) - 1) // (most - 1)))
    wanted = [*range(0, len(names) - 1, step), len(names) - 1]
    if len(wanted) > 2 and wanted[-1] - wanted[-2] < step * 0.6:
        del wanted[-2]
    return tuple(Tick(along.place(at), short(names[at], 14)) for at in dict.fromkeys(wanted))
