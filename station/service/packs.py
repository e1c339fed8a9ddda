"""Pieces and packs as people write them: numbers, weights, shelf life; the law by its file."""

from datetime import timedelta
from typing import Any

from station import units
from station.formula import packs as law
from station.formula.quantities import positive_mass, whole_days
from station.service.around import Bench, parsed
from station.service.lots import today
from station.weighing import commands as do
from station.weighing.commands import Refusal

Params = dict[str, Any]


def packs(bench: Bench, params: Params) -> do.CountPacks:
    """Packs of a weight, by the law of the batch's authority. Raises `Refusal`."""
    try:
        nominal_g, days = positive_mass(params["nominal"]), whole_days(params["keeps"])
    except ValueError as error:
        raise Refusal("bad-params", str(error), 'such as "400 g" and --keeps "4 d"') from None
    try:
        use_by = today(bench) + timedelta(days)
    except OverflowError:
        raise Refusal("bad-params", f"nothing keeps {days} days", "such as 4 d") from None
    where = (params["scale"], params["store"], use_by.isoformat(), params["vessel"])
    lawful = _shortfall(bench)
    if lawful is None or (lacks_g := lawful.of(nominal_g)) is None:
        return do.CountPacks(nominal_g, *where, None, None, None)
    return do.CountPacks(nominal_g, *where, lacks_g, lawful.few, lawful.source)


def _shortfall(bench: Bench) -> law.Shortfall | None:
    """What the law of the batch at the bench tolerates; None where none was read."""
    batch = bench.desk.station.open
    if batch is None:
        return None
    return parsed(bench, law.FILE, law.parse_shortfalls).get(batch.opened.authority)


def number(params: Params) -> int:
    """The whole number that a text is, with or without "links" behind it. Raises `Refusal`."""
    text = params["number"].removesuffix("links").strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise Refusal("bad-params", f"found {text!r}, expected a number", "such as 7")
    return int(text)


def links(bench: Bench, params: Params) -> do.TellLinks:
    return do.TellLinks(number(params))


def casing(bench: Bench, params: Params) -> do.TakeCasing:
    """A casing's lot and length. Raises `Refusal`."""
    length = params["length"]
    try:
        metres = None
        if length is not None:
            metres = units.more_than_nothing(units.metres(length), length)
    except units.UnitError as error:
        raise Refusal("bad-params", f"length: {error}", "such as 12 m") from None
    return do.TakeCasing(params["lot"], metres)


def again(bench: Bench, params: Params) -> do.WeighAgain:
    return do.WeighAgain(number(params))


def strike(bench: Bench, params: Params) -> do.StrikeItem:
    return do.StrikeItem(number(params), params["reason"])
