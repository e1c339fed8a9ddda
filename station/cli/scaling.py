"""`station formula scale`, `compare` and `list`: formulas in grams, before anything is weighed."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from station import units
from station.cli.common import (
    WRONG_USE,
    config_option,
    fail,
    files,
    json_option,
    print_json,
    read_text,
    say,
)
from station.formula.compare import compared, differing
from station.formula.ingoing import lawful_most
from station.formula.law import findings
from station.formula.limits import AUTHORITIES
from station.formula.model import Formula
from station.formula.pickle import Pickle, pickle_of
from station.formula.scaling import mix_of, planned_masses
from station.formula.sheet import parse_formula
from station.metrology.band import tolerance
from station.opening import bench_rules, bounded, planned_meat
from station.resources import Config
from station.settings import load_settings
from station.units import UnitError, plain
from station.weighing.commands import Refusal

file_argument = click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
authority_option = click.option(
    "--authority",
    type=click.Choice(AUTHORITIES),
    help="Whose limits; else those that the formula names, else the bench's.",
)


@click.command(epilog="Example: station formula scale garlic-ring.toml --meat 7340g")
@file_argument
@click.option("--meat", help="The weight of the meat block.")
@click.option("--mix", help="The weight of the whole mix.")
@click.option("--pieces", help="A number of pieces.")
@click.option("--have", multiple=True, help='What there is of a meat, such as "pork belly=3kg".')
@config_option
@json_option
def scale(
    file: Path,
    meat: str | None,
    mix: str | None,
    pieces: str | None,
    have: tuple[str, ...],
    config: Path | None,
    as_json: bool,
) -> None:
    """Every target of FILE for so much meat or mix, so many pieces, or for the meat there is.

    With --have, a meat that is not named is taken to be there. No upper end is over a limit; what
    the law says of the targets themselves goes to standard error.
    """
    text = read_text(file)
    with files():
        formula = parse_formula(text, str(file))
        folders = Config(config)
        settings = load_settings(folders)
    given = {"meat": meat, "mix": mix, "pieces": pieces}
    plan = {kind: value for kind, value in given.items() if value is not None}
    try:
        with files():
            bands, law = bench_rules(folders, settings, formula)
        if have and plan:
            raise Refusal("bad-plan", "a plan is one of meat, mix, pieces or have", "say one")
        meat_g = _from_stock(formula, have) if have else planned_meat(formula, plan)[0]
    except Refusal as refusal:
        fail(refusal.sentence, refusal.next, WRONG_USE)
    masses = planned_masses(formula, meat_g)
    for finding in findings(formula, law, meat_g):
        if finding.severity == "broken":
            say(f"station: {finding.line}: {finding.text} ({finding.source})", err=True)
    rows = []
    for addition in formula.additions:
        if addition.name not in masses:
            continue
        lower, upper = tolerance(masses[addition.name], bands[addition.name])
        most = lawful_most(formula, law.rows, addition.name, meat_g)
        upper = upper if most is None else min(upper, most)
        rows.append(
            {
                "name": addition.name,
                "role": addition.role,
                "target_g": plain(masses[addition.name]),
                "lower_g": plain(lower),
                "upper_g": plain(upper),
            }
        )
    pickle = pickle_of(formula, meat_g)
    told = {
        "meat_g": plain(meat_g),
        "mix_g": plain(mix_of(formula, meat_g)),
        "additions": rows,
        "pickle": None if pickle is None else _pickle(pickle),
    }
    if as_json:
        print_json(told)
        return
    say(f"{formula.name}: {told['meat_g']} g of meat, {told['mix_g']} g of mix")
    for part in formula.meats:
        say(f"  {part.name:<24}{plain(Fraction(part.share) * meat_g):>14} g")
    for row in rows:
        band = f"{row['lower_g']} to {row['upper_g']}"
        say(f"  {row['name']:<24}{row['target_g']:>14} g   {band}")
    if pickle is not None:
        say("\n".join(_of_pickle(pickle)))


def _pickle(pickle: Pickle) -> dict[str, Any]:
    enough, left = pickle.just_enough(), pickle.left_g
    return {
        "water_g": plain(pickle.water_g),
        "made_g": plain(pickle.made_g),
        "salt_percent": plain(pickle.salt * 100),
        "taken_g": None if pickle.takes_g is None else plain(pickle.takes_g),
        "left_g": None if left is None else plain(left),
        "just_enough": None
        if enough is None
        else {
            "water_g": plain(enough.water_g),
            "lines_g": {name: plain(mass) for name, mass in enough.lines_g.items()},
        },
    }


def _of_pickle(pickle: Pickle) -> list[str]:
    """The pickle as lines for a person; one that is too little comes with what is enough."""
    lines = [
        f"pickle: {plain(pickle.made_g)} g, {plain(pickle.water_g)} g of that water,"
        f" salt {plain(round(pickle.salt * 100, 2))} % of it"
    ]
    enough, left = pickle.just_enough(), pickle.left_g
    if enough is None or left is None:
        return [*lines, "  what the meat takes of it is not said: give pump, its pick-up"]
    if left >= 0:
        lines.append(f"  the meat takes {plain(enough.made_g)} g, {plain(left)} g is left over")
    else:
        lines.append(
            f"  TOO LITTLE: the meat takes {plain(enough.made_g)} g, {plain(-left)} g more"
        )
    parts = {"water": enough.water_g, **enough.lines_g}
    told = ", ".join(f"{name} {plain(round(mass, 2))} g" for name, mass in parts.items())
    return [*lines, f"  just enough, as strong: {told}"]


def _from_stock(formula: Formula, have: tuple[str, ...]) -> Fraction:
    """The largest meat block that what there is allows. Raises `Refusal`."""
    shares = {meat.name: Fraction(meat.share) for meat in formula.meats}
    blocks: list[Fraction] = []
    named: set[str] = set()
    for text in have:
        name, _, amount = text.partition("=")
        if name.strip() not in shares:
            known = ", ".join(shares)
            raise Refusal("bad-plan", f"{name.strip()!r} is no meat of it", f"one of {known}")
        try:
            mass = Fraction(units.mass(amount.strip()))
        except UnitError as error:
            raise Refusal("bad-plan", f"have: {error}", 'say --have "pork belly=3kg"') from None
        if name.strip() in named:
            raise Refusal("bad-plan", f"{name.strip()} is named twice", "add it up")
        named.add(name.strip())
        blocks.append(mass / shares[name.strip()])
    if min(blocks) <= 0:
        raise Refusal("bad-plan", "there is no meat at all", 'say --have "pork belly=3kg"')
    return bounded(min(blocks))


@click.command(epilog="Example: station formula compare garlic-ring.toml garlic-ring-2.toml")
@click.argument("first", type=click.Path(path_type=Path, dir_okay=False))
@click.argument("second", type=click.Path(path_type=Path, dir_okay=False))
@json_option
def compare(first: Path, second: Path, as_json: bool) -> None:
    """What differs between two formulas, in grams to a kg of meat."""
    with files():
        one = parse_formula(read_text(first), str(first))
        two = parse_formula(read_text(second), str(second))
    rows: list[dict[str, Any]] = [
        {
            "name": row.name,
            "role": row.role,
            "first_g_per_kg": None if row.first is None else plain(row.first),
            "second_g_per_kg": None if row.second is None else plain(row.second),
            "contains_differs": list(row.contains),
            "differs": list(row.other),
        }
        for row in compared(one, two)
        if not row.same
    ]
    whole = differing(one, two)
    if as_json:
        told = {"first": _named(one), "second": _named(two)}
        print_json({**told, "whole": whole, "differences": rows})
        return
    say(f"{_named(one)} and {_named(two)}, g a kg of meat:")
    for name, (first_is, second_is) in whole.items():
        say(f"  {name}: {first_is or '-'} | {second_is or '-'}")
    for row in rows:
        also = [f"strength of {agent}" for agent in row["contains_differs"]] + row["differs"]
        say(
            f"  {row['name']:<24}{row['first_g_per_kg'] or '-':>12}"
            f"{row['second_g_per_kg'] or '-':>12}   {', '.join(also)}".rstrip()
        )
    if not rows and not whole:
        say("  nothing differs")


def _named(formula: Formula) -> str:
    return f"{formula.name} revision {formula.revision}"


@click.command("list", epilog="Example: station formula list")
@config_option
@json_option
def list_formulas(config: Path | None, as_json: bool) -> None:
    """The formulas that `station open` knows."""
    with files():
        folders = Config(config)
        found = []
        for name in folders.names("formulas"):
            formula = parse_formula(*folders.read(f"formulas/{name}.toml"))
            product = " ".join(formula.product)
            found.append(
                {
                    "file": name,
                    "formula": formula.name,
                    "revision": formula.revision,
                    "product": product,
                }
            )
    if as_json:
        print_json(found)
        return
    for row in found:
        named = f"{row['formula']} revision {row['revision']}"
        say(f"{row['file']:<20} {named}: {row['product']}")
