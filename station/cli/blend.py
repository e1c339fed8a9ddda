"""`station formula blend`: how much of each meat at hand makes the fat that is wanted."""

import sys
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from station import units
from station.cli.common import NO, WRONG_USE, fail, files, json_option, print_json, read_text, say
from station.formula import blend as blending
from station.formula import quantities
from station.formula.blend import OutOfReachError, Shares, Stock
from station.formula.model import Formula
from station.formula.scaling import mix_of
from station.formula.sheet import parse_formula
from station.opening import planned_meat
from station.units import plain
from station.weighing.commands import Refusal

_MEAT = "10 kg"


@click.command(
    epilog='Example: station formula blend herb-link.toml --at-hand "pork belly=48 %" --meat 8kg'
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--fat", help='The fat that is wanted: "25 %" of the meat, or "20 % of mix".')
@click.option(
    "--at-hand", multiple=True, help='How fat a meat really is, such as "pork belly=48 %".'
)
@click.option("--price", multiple=True, help='What a kg costs, such as "pork belly=4.10".')
@click.option("--meat", default=_MEAT, show_default=True, help="The weight of the meat block.")
@json_option
def blend(
    file: Path,
    fat: str | None,
    at_hand: tuple[str, ...],
    price: tuple[str, ...],
    meat: str,
    as_json: bool,
) -> None:
    """How much of each meat of FILE makes the fat that is wanted: exit status 1 if none does.

    Without --fat it is the fat that FILE's own meats have together. Leaner meats keep their
    proportions among each other, fatter ones theirs. With a price of every meat the cheapest blend
    stands beside it.
    """
    with files():
        formula = parse_formula(read_text(file), str(file))
    try:
        meat_g, _ = planned_meat(formula, {"meat": meat})
        meats = _stock(formula, at_hand, price)
        aim = _aim(formula, fat, meat_g)
    except Refusal as refusal:
        fail(refusal.sentence, refusal.next, WRONG_USE)
    told: dict[str, Any] = {
        "formula": formula.name,
        "meat_g": plain(meat_g),
        "fat_percent": _percent(aim),
    }
    try:
        found = {"as the formula": blending.as_the_formula(meats, aim)}
    except OutOfReachError as out:
        reach = {"low_percent": _percent(out.low), "high_percent": _percent(out.high)}
        if as_json:
            print_json({**told, "reachable": reach, "blends": []})
        else:
            say(
                f"no blend of these meats has {_percent(aim)} % of fat:"
                f" {reach['low_percent']} to {reach['high_percent']} % can be made;"
                " add a leaner or a fatter meat to the file"
            )
        sys.exit(NO)
    if price:
        found["cheapest"] = blending.cheapest(meats, aim)
    told["blends"] = [_told(how, meats, each, meat_g, bool(price)) for how, each in found.items()]
    if as_json:
        print_json(told)
    else:
        say("\n".join(_lines(told)))


def _stock(formula: Formula, at_hand: tuple[str, ...], price: tuple[str, ...]) -> list[Stock]:
    """The formula's meats as they are at hand. Raises `Refusal`."""
    fats = _named(formula, "at-hand", at_hand, quantities.fat, "pork belly=48 %")
    prices = _named(formula, "price", price, _price, "pork belly=4.10")
    known = {m.name: m.fat if m.fat is not None else fats.get(m.name) for m in formula.meats}
    if missing := [name for name, fat in known.items() if fat is None]:
        names = ", ".join(missing)
        raise Refusal("bad-plan", f"nobody says how fat {names} is", "say --at-hand NAME=FAT")
    if prices and (missing := [name for name in known if name not in prices]):
        raise Refusal("bad-plan", f"no price of {', '.join(missing)}", "say --price for each meat")
    return [
        Stock(m.name, Fraction(m.share), Fraction(fats.get(m.name, m.fat or 0)), prices.get(m.name))
        for m in formula.meats
    ]


def _price(text: str) -> Fraction:
    value = units.number(text)
    if value < 0:
        raise ValueError(f"found {text!r}, expected a price of nothing or more")
    return Fraction(value)


def _named(
    formula: Formula, option: str, given: Iterable[str], read: Callable[[str], Any], example: str
) -> dict[str, Any]:
    """NAME=VALUE of an option, by name. Raises `Refusal`."""
    names = [meat.name for meat in formula.meats]
    found: dict[str, Any] = {}
    for text in given:
        name, _, value = (part.strip() for part in text.partition("="))
        if name not in names:
            raise Refusal("bad-plan", f"{name!r} is no meat of it", f"one of {', '.join(names)}")
        if name in found:
            raise Refusal("bad-plan", f"--{option} names {name} twice", "say it once")
        try:
            found[name] = read(value)
        except ValueError as error:
            raise Refusal("bad-plan", f"{option}: {error}", f'say --{option} "{example}"') from None
    return found


def _aim(formula: Formula, fat: str | None, meat_g: Fraction) -> Fraction:
    """The fat that is wanted, as a fraction of the meat. Raises `Refusal`."""
    if fat is None:
        if any(meat.fat is None for meat in formula.meats):
            raise Refusal(
                "bad-plan", "the file's meats do not all say their fat", 'say --fat "25 %"'
            )
        return sum((Fraction(m.share) * Fraction(m.fat or 0) for m in formula.meats), Fraction(0))
    bare, _, of = fat.partition(" of ")
    if of.strip() not in ("", "meat", "mix"):
        raise Refusal("bad-plan", f"found {fat!r}", 'say "25 %" of the meat, or "20 % of mix"')
    try:
        share = Fraction(quantities.fat(bare.strip()))
    except ValueError as error:
        raise Refusal("bad-plan", f"fat: {error}", 'say --fat "25 %"') from None
    return share * mix_of(formula, meat_g) / meat_g if of.strip() == "mix" else share


def _told(
    how: str, meats: list[Stock], shares: Shares, meat_g: Fraction, priced: bool
) -> dict[str, Any]:
    percents = blending.in_percent(shares)
    return {
        "blend": how,
        "fat_percent": _percent(blending.fat_of(meats, {n: p / 100 for n, p in percents.items()})),
        "price_per_kg": plain(round(blending.price_of(meats, shares), 4)) if priced else None,
        "meats": [
            {
                "name": meat.name,
                "fat_percent": _percent(meat.fat),
                "share_percent": plain(percents[meat.name]),
                "grams": plain(round(shares[meat.name] * meat_g, 1)),
            }
            for meat in meats
        ],
    }


def _percent(share: Fraction) -> str:
    return plain(round(share * 100, 2))


def _lines(told: dict[str, Any]) -> list[str]:
    lines = [f"{told['formula']}: {told['meat_g']} g of meat to {told['fat_percent']} % of fat"]
    for each in told["blends"]:
        cost = f", {each['price_per_kg']} a kg" if each["price_per_kg"] else ""
        lines.append(f"{each['blend']}, {each['fat_percent']} % of fat{cost}:")
        lines += [
            f"  {row['name']:<24}{row['share_percent']:>8} %{row['grams']:>12} g"
            f"   ({row['fat_percent']} % fat)"
            for row in each["meats"]
        ]
    return lines
