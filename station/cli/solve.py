"""`station formula solve`: amounts that meet an aim, as a new revision in a file of its own."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import click
from msgspec.structs import replace

from station import units
from station.cli.common import (
    NO,
    WRONG_USE,
    config_option,
    fail,
    files,
    json_option,
    print_json,
    read_text,
    say,
)
from station.cli.revision import write_revision
from station.cli.scaling import authority_option, file_argument
from station.formula.law import Law
from station.formula.model import Formula
from station.formula.sheet import parse_formula
from station.formula.solve import Goal, Solved, all_solved, brings, most_lawful
from station.opening import judge_of, planned_meat, read_rules
from station.resources import Config
from station.settings import load_settings
from station.units import plain, rounded
from station.weighing.commands import Refusal

_MEAT = "10 kg"


@click.command(epilog='Example: station formula solve garlic-ring.toml --ppm 150 --salt "1.9 %"')
@file_argument
@click.option("--ppm", help="mg of nitrite, as sodium nitrite, to a kg of meat.")
@click.option("--salt", help='All salt, of the meat, such as "1.8 %".')
@click.option("--sodium", help='All sodium that is added, of the mix, such as "0.7 %".')
@authority_option
@click.option("--meat", default=_MEAT, show_default=True, help="The weight of the meat block.")
@click.option("--to", type=click.Path(path_type=Path, dir_okay=False), help="The new file.")
@config_option
@json_option
def solve(
    file: Path,
    ppm: str | None,
    salt: str | None,
    sodium: str | None,
    authority: str | None,
    meat: str,
    to: Path | None,
    config: Path | None,
    as_json: bool,
) -> None:
    """Write FILE's next revision, with the most of its cure or salt that is within the aim.

    The new file stands beside FILE, or where --to says; no file is ever written over. Nothing is
    written that the law refuses: then the exit status is 1.
    """
    text = read_text(file)
    try:
        with files():
            formula = parse_formula(text, str(file))
            folders = Config(config)
            judge = judge_of(load_settings(folders), formula, authority)
            _, law = read_rules(folders, judge.authority, formula)
        meat_g, _ = planned_meat(formula, {"meat": meat})
        aims = _aims(ppm, salt, sodium)
    except Refusal as refusal:
        fail(refusal.sentence, refusal.next, WRONG_USE)
    try:
        steps = all_solved(formula, aims, meat_g)
        wanted = replace(steps[-1].formula, revision=formula.revision + 1)
    except ValueError as error:
        fail(str(error), "change the file by hand, and check it", NO)
    path = write_revision(
        (text, file),
        wanted,
        (judge.authority, law),
        meat_g,
        to,
        lambda: _way_out(wanted, law, meat_g),
    )
    found: dict[str, Any] = {
        "file": str(path),
        "formula": wanted.name,
        "revision": wanted.revision,
        "authority": judge.authority,
        "meat_g": plain(meat_g),
        "changed": [_step(formula, goal, step) for goal, step in zip(aims, steps, strict=True)],
        "salt_percent_of_meat": plain(brings(wanted, "salt", meat_g) * 100),
    }
    if as_json:
        print_json(found)
        return
    say(f"{path}: {wanted.name}, revision {wanted.revision}, by the law of {judge.authority}")
    for row in found["changed"]:
        say(f"  {row['line']}: {row['was']} -> {row['amount']}, {row['brings']}")
    was, now = (plain(brings(each, "salt", meat_g) * 100) for each in (formula, wanted))
    say(f"  all salt: {was} -> {now} % of the meat")


def _way_out(wanted: Formula, law: Law, meat_g: Fraction) -> str:
    """The next step where the law refuses what was solved: the most that it leaves."""
    try:
        most = most_lawful(wanted, law.rows, meat_g)
    except ValueError as error:
        return f"mend the file first: {error}"
    if most is None or brings(wanted, "ppm", meat_g) <= most:
        return "mend the file first"
    return f"the law leaves --ppm {plain(rounded(most, 6, up=False))} here"


def _aims(ppm: str | None, salt: str | None, sodium: str | None) -> dict[Goal, Fraction]:
    """What is aimed at, the cure before the salt that makes up for it. Raises `Refusal`."""
    if (ppm is None and salt is None and sodium is None) or (salt and sodium):
        wants = "say --ppm, and --salt or --sodium"
        raise Refusal("bad-plan", "an aim is --ppm, one of --salt and --sodium, or both", wants)
    given: dict[Goal, str | None] = {"ppm": ppm, "salt": salt, "sodium": sodium}
    aims: dict[Goal, Fraction] = {}
    for goal, value in given.items():
        if value is None:
            continue
        try:
            read = units.number if goal == "ppm" else units.fraction
            aims[goal] = Fraction(units.more_than_nothing(read(value), value))
        except ValueError as error:
            example = "150" if goal == "ppm" else '"1.8 %"'
            raise Refusal("bad-plan", f"{goal}: {error}", f"say --{goal} {example}") from None
    return aims


def _step(formula: Formula, goal: Goal, step: Solved) -> dict[str, Any]:
    percent = plain(rounded(step.found * 100, 4, up=True))
    return {
        "line": step.line,
        "was": formula.addition(step.line).amount.text,
        "amount": step.formula.addition(step.line).amount.text,
        "aim": goal,
        "brings": {
            "ppm": f"{plain(rounded(step.found, 3, up=True))} mg/kg of nitrite as sodium nitrite",
            "salt": f"salt {percent} % of the meat",
            "sodium": f"sodium {percent} % of the mix",
        }[goal],
    }
