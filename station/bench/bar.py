"""The band bar: an empty vessel at its left end, two posts that never move, a pointer."""

from decimal import Decimal

LOWER_AT, UPPER_AT = Decimal("0.62"), Decimal("0.84")
"""Where the posts stand, as shares of the width. Left of them the bar runs from nothing to the
lower limit; between them and beyond it is stretched, so that the last grams can be seen."""


def posts(width: int) -> tuple[int, int]:
    """Columns of the lower and the upper limit."""
    return int(width * LOWER_AT), int(width * UPPER_AT)


def column(width: int, lower: Decimal, upper: Decimal, net: Decimal) -> int:
    """The pointer's column; on the posts' own side of them always, whatever the rounding."""
    low, high = posts(width)
    if net < lower:
        return max(0, min(low - 1, int(net / lower * low)))
    across = max(upper - lower, Decimal("0.000001"))
    at = low + round((net - lower) / across * (high - low))
    if net <= upper:
        return min(at, high)
    return min(max(at, high + 1), width - 1)


def bar(
    width: int,
    lower: Decimal,
    upper: Decimal,
    net: Decimal | None,
    ascii_only: bool,
    final: Decimal | None = None,
) -> tuple[str, str]:
    """(row of the pointer, row of the bar); an arrow at an end says that it is beyond it. A hollow
    pointer stands where the pour would end if it were stopped now."""
    line, post, point, ghost = ("-", "|", "V", ":") if ascii_only else ("─", "┃", "▼", "▽")
    low, high = posts(width)
    cells = [line] * width
    cells[low] = cells[high] = post
    pointer = [" "] * width
    if net is not None:
        if final is not None and final > net:
            pointer[column(width, lower, upper, final)] = ghost
        at = column(width, lower, upper, net)
        beyond = {0: "<" if net < 0 else point, width - 1: ">"}
        pointer[at] = beyond.get(at, point)
    return "".join(pointer), "".join(cells)
