"""A batch at one look: each line planned and actual, what is not as planned."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from station.batch.line import Line
from station.batch.state import Batch
from station.units import shown

Stage = Literal["left", "under way", "stands", "in", "skipped", "done"]


@dataclass(frozen=True, slots=True)
class Row:
    """A meat line, an addition or a step; grams. `target_g` is None before it is known and for a
    step, `actual_g` where nothing was weighed; `at_least`: more went in, and nobody knows how
    much."""

    name: str
    stage: Stage
    target_g: Fraction | None = None
    actual_g: Decimal | None = None
    division_g: Decimal | None = None
    at_least: bool = False


def rows(batch: Batch) -> tuple[Row, ...]:
    """The lines and steps in the order of the bench."""
    meats = () if batch.opened.ahead else _meats(batch)
    return (*meats, *_items(batch))


def _meats(batch: Batch) -> Iterator[Row]:
    for meat in batch.meats.values():
        plan = batch.plan_g
        target = None if plan is None else Fraction(meat.share) * plan
        stage: Stage = "in" if meat.ended else "under way" if meat.loads else "left"
        division = max((load.division_g for load in meat.loads), default=None)
        yield Row(meat.name, stage, target, meat.net_g if meat.loads else None, division)


def _items(batch: Batch) -> Iterator[Row]:
    for name in batch.order:
        line = batch.lines.get(name)
        if line is None:
            yield Row(name, "done" if name in batch.steps_done else "left")
            continue
        yield Row(
            name,
            _stage(line),
            batch.target(name) if batch.meat_ended else None,
            line.actual_g if line.loads else None,
            max((load.division_g for load in line.weighed), default=None),
            line.unknown,
        )


def _stage(line: Line) -> Stage:
    if line.tare is not None or line.voiding is not None:
        return "under way"
    if line.standing:
        return "stands"
    if line.loads:
        return "in"
    return "skipped" if line.skipped else "left"


def not_as_planned(batch: Batch) -> tuple[str, ...]:
    """Each addition whose figure is more than three divisions off its target, and what was left
    out, a sentence each."""
    return tuple(text for row in _items(batch) if (text := _off(row)) is not None)


def _off(row: Row) -> str | None:
    if row.stage == "skipped":
        return f"{row.name} left out"
    if row.at_least:
        return f"{row.name}: nobody knows how much"
    if row.actual_g is None or row.target_g is None or row.division_g is None:
        return None
    off = Fraction(row.actual_g) - row.target_g
    if abs(off) <= 3 * row.division_g:
        return None
    actual, target, by = (
        shown(grams, row.division_g) for grams in (row.actual_g, row.target_g, abs(off))
    )
    return f"{row.name} {actual} of {target} g, {'over' if off > 0 else 'under'} by {by}"
