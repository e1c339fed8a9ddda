"""A small control chart for a terminal: a column a figure, in signs that every font has."""

from collections.abc import Iterable, Sequence

ROWS = 9
LABEL = 16
"""Columns beside the plot, for its levels."""


def text_chart(
    figures: Sequence[tuple[float, bool]], levels: Iterable[tuple[str, float | None]], width: int
) -> str:
    """The latest figures that have room in `width` columns: `*` a figure, `#` one that is a sign of
    more than chance, `-` the levels, each with its name and value beside it."""
    latest = figures[-max(width - LABEL, 10) :]
    lines = [(name, level) for name, level in levels if level is not None]
    ends = [figure for figure, _ in latest] + [level for _, level in lines]
    low, high = min(ends), max(ends)
    step = (high - low) / (ROWS - 1) or 1.0

    def row_of(figure: float) -> int:
        return ROWS - 1 - round((figure - low) / step)

    grid = [[" "] * len(latest) for _ in range(ROWS)]
    beside: dict[int, str] = {}
    for name, level in lines:
        grid[row_of(level)] = ["-"] * len(latest)
        beside[row_of(level)] = f"{name} {level:.2f}"
    for column, (figure, sign) in enumerate(latest):
        grid[row_of(figure)][column] = "#" if sign else "*"
    return "\n".join(f"{''.join(row)} {beside.get(at, '')}".rstrip() for at, row in enumerate(grid))
