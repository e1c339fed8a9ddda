"""Which columns of a frame hold the number that the display shows. Pure.

A place is believed where it reads what the display showed in every step at whose end that is known,
with as many decimals as the display has. A digit beside it would belong to it, so a place ends at
what is no digit.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from drivers.figure import Form, figure
from drivers.grammar_file import Number
from drivers.infer.cutting import SETTLED, Cut, Step, Unclear
from drivers.sums import Order

_WIDEST = 14
"""Columns of a number at most."""
_DIGITS = b"0123456789"
_SIGNS = b"+-"


@dataclass(frozen=True, slots=True)
class Place:
    """The columns `at` to `end` (not included) and how the number stands in them. `places` None
    where its point is sent; `point` the column of a point that never moves."""

    at: int
    end: int
    decimal: Literal[".", ","]
    order: Order
    places: int | None
    point: int | None = None

    def reads(self, frame: bytes) -> Decimal | None:
        """The number there; None where there is none."""
        form = Form(self.decimal, Number(order=self.order))
        return figure(frame[self.at : self.end], form, self.places)

    def holds(self, at: int) -> bool:
        return self.at <= at < self.end


Shown = Mapping[Step, Decimal]
"""What the display showed at the end of a step, with its decimals."""


def number_of(cut: Cut, shown: Shown) -> tuple[Place, bool]:
    """The columns of the weight, and whether they stay gross when the tare key is pressed. Raises
    `Unclear`."""
    stays = _as_gross(shown)
    for wanted, gross in ((stays, True), (shown, False)) if stays else ((shown, False),):
        found = list(places_of(cut, wanted))
        if len(found) > 1 and stays is None:
            where = " and ".join(f"{p.at + 1} to {p.end}" for p in found)
            raise Unclear(
                f"the weight stands in several places (columns {where}), as gross and net do: only"
                " the scale's tare key tells them apart"
            )
        if found:
            return _with_point(cut, found[0]), gross
    number = shown["known"]
    raise Unclear(
        f"no place in the frame reads {number:f} where the display showed it, and what it showed in"
        " the other steps: type every digit that the display shows, wait until it stands still, and"
        " take a heavier load, that swings past no 1, 10 or 100 while it comes to rest"
    )


def reads_all(cut: Cut, shown: Shown) -> bool:
    """Whether any columns read what the display showed, as net, or as gross beside a tare."""
    return any(True for wanted in (shown, _gross(shown)) for _ in places_of(cut, wanted))


def tare_of(cut: Cut, shown: Shown, weight: Place) -> Place | None:
    """The columns that hold the tare, beside a weight that is net."""
    if "tared" not in shown or "lifted" not in shown:
        return None
    load, none = shown["known"], shown["known"] * 0
    wanted: dict[Step, Decimal] = {"known": none, "tared": load, "lifted": load}
    found = [p for p in places_of(cut, wanted) if p.end <= weight.at or p.at >= weight.end]
    found = [p for p in found if (p.decimal, p.order, p.places) == _form(weight)]
    return _with_point(cut, found[0]) if len(found) == 1 else None


def others_of(cut: Cut, shown: Shown) -> set[int]:
    """The columns of every number that is the weight, the tare or both together."""
    load, none = shown["known"], shown["known"] * 0
    tare: Shown = {"known": none, "tared": load, "lifted": load}
    pressed = "tared" in shown and "lifted" in shown
    every = [shown, _as_gross(shown), tare if pressed else None]
    places = (place for wanted in every if wanted for place in places_of(cut, wanted))
    return {at for place in places for at in range(place.at, place.end)}


def _form(place: Place) -> tuple[str, str, int | None]:
    return place.decimal, place.order, place.places


def _as_gross(shown: Shown) -> Shown | None:
    """What a place shows that knows no tare; None where the tare key was not pressed."""
    if "tared" not in shown or "lifted" not in shown:
        return None
    return _gross(shown)


def _gross(shown: Shown) -> Shown:
    """What the display showed, its tare key not pressed."""
    gross: dict[Step, Decimal] = {"tared": shown["known"], "lifted": shown["known"] * 0}
    return {step: gross.get(step, number) for step, number in shown.items()}


def places_of(cut: Cut, wanted: Shown) -> Iterator[Place]:
    """Every place that reads what is wanted, apart from each other, from the left."""
    decimals = -int(wanted["known"].as_tuple().exponent)
    found: list[Place] = []
    for end in range(cut.width, 0, -1):
        for at in range(max(0, end - _WIDEST), end):
            for place in _forms(at, end, decimals):
                if _reads_all(cut, place, wanted) and not any(_covers(f, place) for f in found):
                    found.append(_trimmed(cut, place))
    yield from sorted(found, key=lambda place: place.at)


def _covers(one: Place, other: Place) -> bool:
    return one.at < other.end and other.at < one.end


def _forms(at: int, end: int, decimals: int) -> Iterator[Place]:
    for order in ("high-first", "low-first"):
        if decimals:
            yield Place(at, end, ".", order, None)
            yield Place(at, end, ",", order, None)
        yield Place(at, end, ".", order, decimals or None)


def _reads_all(cut: Cut, place: Place, wanted: Shown) -> bool:
    for step, number in wanted.items():
        for frame in cut.last(step):
            read = place.reads(frame)
            if read is None or abs(read) != abs(number) or _decimals(read) != _decimals(number):
                return False
            if step == "lifted" and not number and read.is_signed():
                return False  # the minus belongs to the net weight beside a gross of nothing
    return _bounded(cut, place, wanted)


def _decimals(number: Decimal) -> int:
    return -int(number.as_tuple().exponent)


def _bounded(cut: Cut, place: Place, wanted: Shown) -> bool:
    """Whether its edge is a digit, nothing beside it could belong to it, and no column of it that
    the display did not prove ever held more than a nought or a blank, unless the moving weight
    proves it."""
    ends = place.at if place.order == "low-first" else place.end - 1
    beside = place.at - 1 if place.order == "low-first" else place.end
    upper = place.end if place.order == "low-first" else place.at - 1
    joins = _DIGITS + (place.decimal.encode() if place.places is None else b"")
    for frame in _usual(cut):
        if beside in range(cut.width) and frame[beside] in joins:
            return False
        if place.reads(frame) is None and set(frame[place.at : place.end]) & set(_DIGITS):
            return False  # a column beside the number, that is blank while the load stands still
    if any(frame[ends] not in _DIGITS for step in cut.frames for frame in cut.last(step)
           if step in ("known", "empty")):  # fmt: skip
        return False
    if place.places is not None and _behind_a_point(cut, place, upper):
        return False
    proved = _proved(cut, place, wanted)
    for at in range(place.at, place.end):
        turns = at not in proved and any(frame[at] in b"123456789" for frame in _usual(cut))
        nought = any(f[at] == 0x30 for step in ("known", "empty") for f in cut.last(step))
        if turns and nought and not _carries(cut, place, at):
            return False
    return not _goes_on(cut, upper)


def _behind_a_point(cut: Cut, place: Place, upper: int) -> bool:
    """Whether a decimal mark stands in front of the digits, and ever a digit in front of that: then
    these are the decimals of a greater number, and its point is sent."""
    ends = {upper, place.at - 1}  # digits told last first may be read wrong way round
    inside = [at for at in ends if 0 < at < cut.width - 1]
    beyond = {at: at - 1 if at < place.at else at + 1 for at in inside}
    return any(
        frame[at] in b".," and frame[beyond[at]] in _DIGITS
        for at in inside
        for frame in _usual(cut)
    )


def _carries(cut: Cut, place: Place, at: int) -> bool:
    """Whether a column that is a nought under every known display is a digit of the number all the
    same, because the weight passes through its tens while it moves: from frame to frame the number
    moves less with that digit than without it. A mark that is a digit makes it jump."""
    narrow = replace(place, end=at) if place.order == "low-first" else replace(place, at=at + 1)
    wide_way = narrow_way = Decimal(0)
    for frames in cut.frames.values():
        read = [(place.reads(frame), narrow.reads(frame)) for frame in frames]
        known = [(wide, thin) for wide, thin in read if wide is not None and thin is not None]
        for before, now in pairwise(known):
            wide_way += abs(now[0] - before[0])
            narrow_way += abs(now[1] - before[1])
    return wide_way < narrow_way


def _goes_on(cut: Cut, at: int) -> bool:
    """Whether the number may go on in the column in front of it: a nought, whenever the display was
    known. Any other digit there is none of it, since the display shows none."""
    if at not in range(cut.width):
        return False
    known = {frame[at] for step in SETTLED for frame in cut.last(step)}
    return known == {0x30} and all(frame[at] in _DIGITS for frame in _usual(cut))


def _usual(cut: Cut) -> Iterable[bytes]:
    return (f for step, frames in cut.frames.items() if step != "over" for f in frames)


def _proved(cut: Cut, place: Place, wanted: Shown) -> set[int]:
    """The columns from the first digit on that is no nought, in a step with a known display."""
    columns = list(range(place.at, place.end))
    if place.order == "low-first":
        columns.reverse()
    firsts = [
        n
        for step in wanted
        for frame in cut.last(step)
        for n, at in enumerate(columns)
        if frame[at] in b"123456789"
    ]
    return set(columns[min(firsts, default=len(columns)) :])


def _trimmed(cut: Cut, place: Place) -> Place:
    """Without blanks that never hold anything, beside a column that always does."""
    frames = list(_usual(cut))
    at, end = place.at, place.end
    blank = [all(frame[n] == 0x20 for frame in frames) for n in range(cut.width)]
    filled = [all(frame[n] != 0x20 for frame in frames) for n in range(cut.width)]
    if place.order == "high-first":
        first = next((n for n in range(at, end) if not blank[n]), at)
        at = first if filled[first] else at
    else:
        last = next((n for n in range(end - 1, at - 1, -1) if not blank[n]), end - 1)
        end = last + 1 if filled[last] else end
    return Place(at, end, place.decimal, place.order, place.places)


def _with_point(cut: Cut, place: Place) -> Place:
    """With the column of its point, where that is always the same."""
    mark = place.decimal.encode()[0]
    columns = set[int]()
    for frame in _usual(cut):
        there = [at for at in range(place.at, place.end) if frame[at] == mark]
        columns.add(there[0] if len(there) == 1 else -1)
    if place.places is not None or len(columns) != 1 or columns == {-1}:
        return place
    (point,) = columns
    if not place.at < point < place.end - 1:
        return place
    return Place(place.at, place.end, place.decimal, place.order, None, point)
