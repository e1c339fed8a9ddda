"""`station plan`: what several batches need together, and from which lots to take it."""

import sys
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from station.audit.stock import LotStock, stock
from station.cli.answering import opened
from station.cli.common import (
    NO,
    WRONG_USE,
    config_option,
    fail,
    files,
    json_option,
    ledger_option,
    print_json,
    say,
)
from station.formula.needs import Batches, Lot, Need, Take, counted_of, expired, needs_of, taken
from station.formula.scaling import mix_of
from station.opening import formula_named, planned_meat
from station.received import load_received
from station.resources import Config
from station.units import plain, rounded
from station.weighing.commands import Refusal


@click.command(epilog='Example: station plan "garlic-ring=40kg" "herb-link=25kg"')
@click.argument("batches", nargs=-1, required=True, metavar="FORMULA=AMOUNT...")
@click.option(
    "--by",
    type=click.Choice(["meat", "mix", "pieces"]),
    default="meat",
    show_default=True,
    help="What the amounts are of.",
)
@ledger_option
@config_option
@json_option
def plan(
    batches: tuple[str, ...], by: str, ledger: Path, config: Path | None, as_json: bool
) -> None:
    """What those batches need of every meat and every line, and what is short.

    From what stock.toml says came and what was weighed since, the lot that expires first is taken
    first, none past its date. Exit status 1 where something is short.

    By the formulas' own amounts: at the bench each is worked out again by the meat that is weighed,
    and a curing line by the strength of its lot. What was voided or spilt is not taken off a lot.
    """
    folders = Config(config)
    with files():
        came = load_received(folders)
        planned = [_planned(folders, each, by) for each in batches]
    lots: tuple[LotStock, ...] = ()
    if came:
        with opened(ledger) as found:
            lots = stock(found.all_lots(), came)
    day = today()
    rows = [_row(need, lots, day) for need in needs_of(planned)]
    counted = [
        {"line": line, "pieces": plain(rounded(pieces, 0, up=True))}
        for line, pieces in counted_of(planned).items()
    ]
    if as_json:
        print_json({"batches": [_told(each) for each in planned], "lines": rows,
                    "counted": counted})  # fmt: skip
    else:
        _print(planned, rows, counted)
    sys.exit(NO if any(row["short_g"] not in (None, "0") for row in rows) else 0)


def today() -> str:
    """The day where the bench stands, as YYYY-MM-DD."""
    return datetime.now().astimezone().date().isoformat()


def _planned(config: Config, text: str, by: str) -> Batches:
    """A formula and its amount as people write them. Ends the command where one is wrong."""
    name, sign, amount = text.rpartition("=")
    example = "200" if by == "pieces" else "40kg"
    if not sign:
        fail(f"found {text!r}, expected FORMULA=AMOUNT", f'"garlic-ring={example}"', WRONG_USE)
    formula = formula_named(config, name.strip())
    try:
        return Batches(formula, planned_meat(formula, {by: amount.strip()})[0])
    except Refusal as refusal:
        fail(f"{name}: {refusal.sentence}", f'write "{name}={example}"', WRONG_USE)


def _told(each: Batches) -> dict[str, str]:
    return {
        "formula": each.formula.name,
        "meat_g": plain(each.meat_g),
        "mix_g": plain(mix_of(each.formula, each.meat_g)),
    }


def _row(need: Need, stocked: Sequence[LotStock], day: str) -> dict[str, Any]:
    """One line. `short_g` is null where nobody wrote down what came of it, and where two formulas
    mean different goods by its name."""
    lots = [
        Lot(each.lot, Fraction(Decimal(each.left_g)), each.expires)
        for each in stocked
        if each.line == need.line and each.left_g is not None
    ]
    known = bool(lots) and need.alike
    takes, short = taken(need.need_g, lots, day) if known else ((), None)
    return {
        "line": need.line,
        "formulas": need.formulas,
        "need_g": plain(need.need_g),
        "alike": need.alike,
        "lots": [_take(each) for each in takes],
        "expired": [lot.lot for lot in lots if expired(lot, day)],
        "short_g": None if short is None else plain(short),
    }


def _take(each: Take) -> dict[str, str | None]:
    return {
        "lot": each.lot.lot,
        "expires": each.lot.expires,
        "left_g": plain(each.lot.left_g),
        "take_g": plain(each.take_g),
    }


def _print(
    planned: Sequence[Batches], rows: Sequence[dict[str, Any]], counted: Sequence[dict[str, str]]
) -> None:
    for each in map(_told, planned):
        say(f"{each['formula']}: {each['meat_g']} g of meat, {each['mix_g']} g of mix")
    say()
    for row in rows:
        short = row["short_g"] not in (None, "0")
        word = f"   SHORT {_tenths(row['short_g'])} g" if short else ""
        say(f"{row['line']:<{_LINE}}{_tenths(row['need_g']):>9} g{word}")
        for lot in _from(row):
            say(f"    {lot}")
    for each in counted:
        say(f"{each['line']:<{_LINE}}{each['pieces']:>9} pieces")
    if unknown := [row["line"] for row in rows if row["short_g"] is None and row["alike"]]:
        say(f"\nnot in stock.toml: {', '.join(unknown)}")


_LINE = 24
"""Columns of a line's name."""


def _from(row: dict[str, Any]) -> list[str]:
    """From which lots to take a line, the first first."""
    if not row["alike"]:
        return [f"not the same goods in {' and '.join(row['formulas'])}"]
    found = []
    for each in row["lots"]:
        until = f", until {each['expires']}" if each["expires"] else ""
        found.append(f"{_tenths(each['take_g'])} g of {each['lot']}{until}")
    return found + [f"{lot} is past its date" for lot in row["expired"]]


def _tenths(grams: str) -> str:
    """For people, who shop and fetch by it: never too little."""
    return plain(rounded(Decimal(grams), 1, up=True))
