"""The batch at one look, as lines of text, and the pages that they make. Pure."""

import textwrap
from collections.abc import Iterator, Sequence

from station.wire import LineShown, Snapshot

_STAGES = {"left": "left", "under way": "now", "in": "in the mix", "skipped": "left out"}


def overview(shown: Snapshot) -> tuple[str, ...]:
    """Meat and salt so far, why it is on hold, each line planned and actual, what stands, bags near
    their date, what the thermometers show, and the batches that are parked."""
    found = [*_sums(shown), *(f"ON HOLD: {reason}" for reason in shown.hold)]
    found += [_line(line) for line in shown.lines]
    found += _standing(shown)
    found += [f"{lot.line}: lot {lot.lot} expires {lot.expires}" for lot in shown.lots_near]
    found += [f"{lot.line}: lot {lot.lot} is low, {lot.left_g} g left" for lot in shown.lots_low]
    found += _thermometers(shown)
    found += _parked(shown)
    return tuple(found) or ("nothing stands, no batch is parked",)


def _sums(shown: Snapshot) -> Iterator[str]:
    if shown.meat_g is not None:
        yield f"meat {shown.meat_g} g"
    if shown.salt is not None:
        least = "at least " if shown.salt.at_least else ""
        yield f"salt {least}{shown.salt.actual} % of the meat, planned {shown.salt.planned} %"


def _line(line: LineShown) -> str:
    stage = _STAGES.get(line.stage, line.stage)
    if line.actual_g is None:
        planned = f" {line.target_g} g" if line.target_g is not None else ""
        return f"{line.name}{planned}: {stage}"
    least = "at least " if line.at_least else ""
    of = f" of {line.target_g}" if line.target_g is not None else ""
    return f"{line.name} {least}{line.actual_g}{of} g: {stage}"


def _standing(shown: Snapshot) -> Iterator[str]:
    for cup in shown.standing:
        vessel = f" in {cup.vessel}" if cup.vessel else ""
        hand = ", by hand" if cup.by_hand else ""
        since = cup.since[11:16]
        yield f"standing: {cup.line} {cup.net_g} g{vessel} since {since} UTC, {cup.who}{hand}"


def _thermometers(shown: Snapshot) -> Iterator[str]:
    for one in shown.thermometers:
        if one.at_port:
            yield f"{one.name}: {one.shows or one.says or 'nothing yet'}"


def _parked(shown: Snapshot) -> Iterator[str]:
    for batch in shown.parked:
        cups = f", standing: {', '.join(batch.standing)}" if batch.standing else ""
        since = (batch.since or "")[11:16]
        yield f"parked: {batch.batch} {batch.formula} since {since} UTC{cups}"
        yield from (f"{batch.batch} is on hold: {reason}" for reason in batch.hold)


def pages(lines: Sequence[str], columns: int, rows: int) -> tuple[tuple[str, ...], ...]:
    """The lines on as many pages as it takes, wrapped to the width; what is wrapped is indented."""
    wrapped = [
        row for line in lines for row in textwrap.wrap(line, columns, subsequent_indent="  ")
    ]
    return tuple(tuple(wrapped[at : at + rows]) for at in range(0, len(wrapped), rows))
