"""The way back from too much in the mix, as the socket tells it: a preview, nothing is done."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from station import units, wire
from station.batch.state import Batch
from station.batch.way_back import Over, way_back, with_meat_at_hand
from station.metrology.band import inward
from station.service.around import Bench
from station.units import plain, shown
from station.weighing.commands import READING, Refusal


def told(bench: Bench, params: Mapping[str, Any]) -> wire.WayBack:
    """For the batch that is named, else the one at the bench. Raises `Refusal`."""
    wrong = set(params) - {param.name for param in READING["way-back"].params}
    for name in sorted(wrong):
        raise Refusal("bad-params", f"way-back has no {name}", "it takes batch and meat")
    batch = _batch(bench, params.get("batch"))
    found = way_back(batch)
    stays = None
    if (meat := params.get("meat")) is not None:
        try:
            grams = units.mass(str(meat))
        except units.UnitError as error:
            raise Refusal("bad-params", f"meat: {error}", "such as 2 kg") from None
        stays = tuple(_over(batch, with_meat_at_hand(batch, grams)))
    return wire.WayBack(
        batch=batch.id,
        over=tuple(_over(batch, found.over)),
        meat_g=None if found.meat_g is None else plain(found.meat_g),
        add_meat_g=None if found.add_meat_g is None else plain(found.add_meat_g),
        top_up=tuple(
            wire.TopUp(top.line, _grams(batch, top.line, top.add_g),
                       _grams(batch, top.line, top.target_g))
            for top in found.top_up
        ),
        possible=found.possible,
        why_not=found.why_not,
        stays_over=stays,
    )  # fmt: skip


def _batch(bench: Bench, name: str | None) -> Batch:
    station = bench.desk.station
    batch = station.open if name is None else station.find(name)
    if batch is None:
        what = "no batch is at the bench" if name is None else f"no open batch is {name}"
        raise Refusal("no-batch", what, "name one that is open")
    return batch


def _over(batch: Batch, found: Iterable[Over]) -> Iterable[wire.LineOver]:
    """Each with its limit rounded to the side that shows the breach."""
    for over in found:
        division = _division(batch, over.line)
        upper = inward(Fraction(0), over.upper_g, division)[1]
        yield wire.LineOver(over.line, shown(over.actual_g, division), shown(upper, division))


def _grams(batch: Batch, line: str, grams: Fraction) -> str:
    return shown(grams, _division(batch, line))


def _division(batch: Batch, line: str) -> Decimal:
    """The division of the scale that weighed the line."""
    return max(load.division_g for load in batch.lines[line].loads)
