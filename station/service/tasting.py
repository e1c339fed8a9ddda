"""A sample and what is wished, as people write them; what is said of cooking it by its file."""

from typing import Any

from station import units
from station.formula import tasting as advice
from station.service.around import Bench, parsed
from station.weighing import commands as do
from station.weighing.commands import Refusal

Params = dict[str, Any]


def sample(bench: Bench, params: Params) -> do.TakeSample:
    """A sample, with what is said of cooking it. Raises `Refusal`."""
    net = params["net"]
    try:
        net_g = None if net is None else units.mass(net)
    except units.UnitError as error:
        raise Refusal("bad-params", f"net: {error}", "such as 180 g") from None
    return do.TakeSample(params["scale"], params["vessel"], net_g, _advice(bench))


def _advice(bench: Bench) -> str:
    batch = bench.desk.station.open
    if batch is None:
        return ""
    found = parsed(bench, advice.FILE, advice.parse_advice)
    return found.of(batch.formula, batch.opened.authority)


def taste(bench: Bench, params: Params) -> do.Wish:
    """What is wished of a line. Raises `Refusal`."""
    try:
        share = units.fraction(params["wish"])
        if not 0 < share < 1:
            raise units.UnitError(f"found {params['wish']!r}, expected a share such as 1.9 %")
    except units.UnitError as error:
        raise Refusal("bad-params", str(error), "of the meat, such as 1.9 %") from None
    return do.Wish(params["line"], share)
