"""The way back from too much in the mix, as the socket tells it: a preview, nothing is done."""

from collections.abc import Mapping
from typing import Any

from station import units, wire
from station.batch.state import Batch
from station.batch.way_back import Over, TopUp, way_back, with_meat_at_hand
from station.service.around import Bench
from station.service.clock import stamp
from station.units import plain, shown
from station.weighing.commands import READING, Refusal


def told(bench: Bench, params: Mapping[str, Any]) -> wire.WayBack:
    """For the batch that is named, else the one at the bench. Raises `Refusal`."""
    wrong = set(params) - {param.name for param in READING["way-back"].params}
    for name in sorted(wrong):
        raise Refusal("bad-params", f"way-back has no {name}", "it takes batch and meat")
    batch = _batch(bench, params.get("batch"))
    found = way_back(batch, stamp(bench.desk.clock.utc()))
    stays = None
    if (meat := params.get("meat")) is not None:
        try:
            grams = units.mass(str(meat))
        except units.UnitError as error:
            raise Refusal("bad-params", f"meat: {error}", "such as 2 kg") from None
        stays = tuple(map(_over, with_meat_at_hand(batch, grams)))
    return wire.WayBack(
        batch=batch.id,
        over=tuple(map(_over, found.over)),
        meat_g=None if found.meat_g is None else plain(found.meat_g),
        add_meat_g=None if found.add_meat_g is None else plain(found.add_meat_g),
        top_up=tuple(map(_top_up, found.top_up)),
        possible=found.possible,
        why_not=found.why_not,
        stays_over=stays,
    )


def _batch(bench: Bench, name: str | None) -> Batch:
    station = bench.desk.station
    batch = station.open if name is None else station.find(name)
    if batch is None:
        what = "no batch is at the bench" if name is None else f"no open batch is {name}"
        raise Refusal("no-batch", what, "name one that is open")
    return batch


def _over(over: Over) -> wire.LineOver:
    actual, upper = (shown(grams, over.division_g) for grams in (over.actual_g, over.most_g))
    return wire.LineOver(over.line, actual, upper)


def _top_up(top: TopUp) -> wire.TopUp:
    add, target = (shown(grams, top.division_g) for grams in (top.add_g, top.target_g))
    return wire.TopUp(top.line, add, target)
