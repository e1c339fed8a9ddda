"""Bags by their labels: text, typed or scanned, becomes the lot, its date and its strength."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from station import gs1
from station.formula import quantities
from station.formula.limits import agents_of
from station.products import Product, fitting, strengths
from station.service.around import Bench
from station.tomlfile import near
from station.weighing import commands as do
from station.weighing.commands import Offer, Refusal

Params = dict[str, Any]
_DATE = "a date such as 2026-11-30"


def open_lot(bench: Bench, params: Params) -> do.OpenLot:
    """A lot with the strength that was said, or that its product has. Raises `Refusal`, as a
    question where a product of lots.toml may be meant."""
    pairs = [text.partition("=")[::2] for text in params["contains"]]
    try:
        contains = strengths(pairs)
    except ValueError as error:
        step = 'as on the bag: "sodium nitrite=6.25 %", once for each'
        raise Refusal("bad-params", f"contains: {error}", step) from None
    label = read(bench, params["lot"], params["expires"])
    size_g = price = None
    if params["product"] is not None:
        if contains:
            raise Refusal("bad-params", "product and contains both say a strength", "say one")
        product = _named(bench.products, params["product"])
        contains, size_g, price = product.contains, product.bag_g, product.price
    if contains:
        _must_be_what_its_label_says(bench, params["line"], label, contains)
    else:
        _ask_which(bench, params, label)
    return do.OpenLot(
        params["line"],
        label.lot,
        contains,
        label.expires_text,
        today(bench).isoformat(),
        params["rescale"],
        params["second"],
        size_g,
        price,
    )


def next_bag(bench: Bench, params: Params) -> do.NextBag:
    """The bag that is poured from now on. Raises `Refusal`."""
    label = read(bench, params["lot"], None)
    return do.NextBag(params["line"], label.lot, label.expires_text, today(bench).isoformat())


def meat_lot(bench: Bench, params: Params) -> do.NameMeatLot:
    """A delivery of meat by its label. Raises `Refusal`."""
    label = read(bench, params["lot"], params["use_by"])
    packed = label.packed
    if params["packed"] is not None:
        packed = _day("packed", params["packed"])
    return do.NameMeatLot(
        params["line"],
        label.lot,
        params["supplier"],
        packed.isoformat() if packed else None,
        label.expires_text,
        today(bench).isoformat(),
        params["second"],
        _price(params["cost"]),
    )


def _price(text: str | None) -> Decimal | None:
    try:
        return None if text is None else quantities.price(text)
    except ValueError as error:
        raise Refusal("bad-params", f"cost: {error}", "as on the invoice") from None


def named(bench: Bench, text: str | None) -> str | None:
    """The lot of what is in the mix already, whatever its date. Raises `Refusal`."""
    return None if text is None else read(bench, text, None).lot


def today(bench: Bench) -> date:
    """The day where the bench stands: a bag expires by the calendar on its wall."""
    return bench.desk.clock.utc().astimezone().date()


def read(bench: Bench, text: str, told: str | None) -> gs1.Label:
    """What a bag says, typed or scanned; `told` is its date where a person said it. Raises
    `Refusal`."""
    label = gs1.Label(text.strip(), None)
    if gs1.looks_like(text):
        try:
            label = gs1.read_label(text, today(bench))
        except gs1.NotGs1 as error:
            step = "scan it again, or type lot and expiry"
            raise Refusal("bad-params", f"lot: {error}", step) from None
    if told is None:
        return label
    expires = _day("expires", told)
    if label.expires and expires != label.expires:
        what = f"the label expires on {label.expires}, you say {expires}"
        raise Refusal("bad-params", what, "read the bag again")
    return replace(label, expires=expires)


def _day(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        what = f"{name}: found {text!r}, expected {_DATE}"
        raise Refusal("bad-params", what, "as on the bag") from None


def _named(products: tuple[Product, ...], name: str) -> Product:
    for product in products:
        if product.name == name:
            return product
    names = [product.name for product in products]
    step = f"one of {', '.join(names)}" if names else "enter it in lots.toml, or say contains"
    raise Refusal("unknown-product", f"lots.toml has no {name!r}{near(name, names)}", step)


def _must_be_what_its_label_says(
    bench: Bench, line: str, label: gs1.Label, contains: dict[str, Decimal]
) -> None:
    """Raise where the code on the label is that of a product of another strength."""
    for product in bench.products:
        if product.gtin is None or product.gtin != label.gtin:
            continue
        told = agents_of(contains)
        if {a: contains[a] for a in told} != {
            a: product.contains[a] for a in agents_of(product.contains)
        }:
            what = f"the label is that of {product.says}, you say otherwise"
            raise Refusal("other-product", what, "read the bag again, or mend lots.toml", line)


def _ask_which(bench: Bench, params: Params, label: gs1.Label) -> None:
    """Ask which product a bag is that must have a strength: the one whose code is on the label, or
    one of those that fit the line. No strength is ever taken without a person."""
    batch = bench.desk.station.open
    line = batch.lines.get(params["line"]) if batch else None
    if batch is None or line is None or not batch.regulated(line.name):
        return
    fits = fitting(bench.products, batch.formula.addition(line.name).contains)
    coded = [p for p in bench.products if p.gtin is not None and p.gtin == label.gtin]
    if coded and coded[0] not in fits:
        what = f"this is the label of {coded[0].says}, and no {line.name}"
        raise Refusal("other-product", what, f"scan the label of {line.name}", line.name)
    bag = f"lot {label.lot} of {line.name}"
    bag += f", expires {label.expires_text}" if label.expires else ""
    choice = coded or [p for p in fits if not (p.gtin and label.gtin)]
    if not choice:
        return
    given = {key: value for key, value in params.items() if value not in (None, False, ())}
    given.pop("contains", None)
    offers = [Offer("lot", {**given, "product": p.name}, danger=True, means=p.says) for p in choice]
    which = "is it this?" if coded else "which product is it?"
    step = "say yes, or type its strength" if coded else "say which, or type its strength"
    raise Refusal("which-product", f"{bag}: {which}", step, line.name, offers)
