"""`station formula`: a formula against the law, before anything is weighed."""

import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from station.batch.preview import preview
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
from station.cli.scaling import compare, list_formulas, scale
from station.cli.sheet import sheet
from station.formula import curing
from station.formula.law import findings
from station.formula.limits import AUTHORITIES, LimitRow, about
from station.formula.model import Formula
from station.formula.scaling import ingoing_masses, mix_of, salt_g
from station.formula.sheet import parse_formula
from station.opening import planned_meat, read_rules, sealed
from station.resources import Config
from station.settings import load_settings
from station.units import plain
from station.weighing.commands import Refusal

_MEAT = "10 kg"
"""The meat a formula is checked with unless told otherwise; what hangs on it is said."""


@click.group(epilog="Example: station formula check garlic-ring.toml")
def formula() -> None:
    """Formulas: check them against the law before anything is weighed."""


for verb in (sheet, scale, compare, list_formulas):
    formula.add_command(verb)


@formula.command(epilog="Example: station formula check garlic-ring.toml --json")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--authority",
    type=click.Choice(AUTHORITIES),
    help="Whose limits; else those of station.toml.",
)
@click.option("--meat", default=_MEAT, show_default=True, help="The weight of the meat block.")
@config_option
@json_option
def check(file: Path, authority: str | None, meat: str, config: Path | None, as_json: bool) -> None:
    """Check FILE: exit status 0 if nothing is broken, 1 if a rule is, 2 if the file is wrong."""
    text = read_text(file)
    try:
        with files():
            found, least = _check(text, str(file), Config(config), authority, meat)
    except Refusal as refusal:
        fail(refusal.sentence, refusal.next, WRONG_USE)
    if as_json:
        print_json(found)
    else:
        _print(found, least)
    sys.exit(NO if any(f["severity"] == "broken" for f in found["findings"]) else 0)


def _check(
    text: str, filename: str, config: Config, authority: str | None, meat: str
) -> tuple[dict[str, Any], list[bool]]:
    """What is printed, and which of its agents' figures are a least instead of a most."""
    formula = parse_formula(text, filename)
    meat_g, _ = planned_meat(formula, {"meat": meat})
    settings = load_settings(config)
    authority = authority or settings.authority
    bands, law = read_rules(config, authority, formula)
    told = [finding._asdict() for finding in findings(formula, law, meat_g)]
    opened = sealed(formula, bands, law.rows, settings, False, meat_g, "check", "")
    at_bench = preview(opened) if formula.method == "comminuted" else []
    told += [
        {
            "line": word.line,
            "severity": "warning" if word.warning == "aim" else "advice",
            "text": word.text,
            "source": f"station.toml, {plain(meat_g)} g of meat",
        }
        for word in at_bench
    ]
    masses = ingoing_masses(formula, meat_g)
    salt = salt_g(masses, curing.contents(formula))
    judged = [
        row
        for row in about(formula, law.rows)
        if row.kind == "required"
        or any(set(row.agents) & set(line.contains) for line in formula.additions)
    ]
    found = {
        "formula": formula.name,
        "revision": formula.revision,
        "authority": authority,
        "product": " ".join(formula.product),
        "salt_percent_of_meat": plain(salt / meat_g * 100),
        "salt_percent_of_mix": plain(salt / mix_of(formula, meat_g) * 100),
        "agents": [_agent(formula, row, masses, meat_g) for row in judged],
        "findings": told,
    }
    return found, [row.kind == "required" for row in judged]


def _agent(
    formula: Formula, row: LimitRow, masses: dict[str, Fraction], meat_g: Fraction
) -> dict[str, Any]:
    grams = curing.counted_g(masses, curing.contents(formula), row)
    on, basis = curing.basis_of(formula, row, meat_g)
    return {
        "agent": " or ".join(row.agents),
        "ppm": curing.shown_ppm(row, grams, basis, 6),
        "basis": on,
        "limit": None if row.kind == "as needed" else plain(Fraction(row.maximum) * 1_000_000),
        "unit": row.unit,
        "verdict": curing.verdict(row, grams, basis),
        "source": row.source,
        "seen": row.seen,
    }


def _print(found: dict[str, Any], least: list[bool]) -> None:
    say(f"{found['formula']} revision {found['revision']}: {found['product']}")
    meat, mix = found["salt_percent_of_meat"], found["salt_percent_of_mix"]
    say(f"total salt {meat} % of the meat, {mix} % of the mix")
    for row, is_least in zip(found["agents"], least, strict=True):
        memory = "" if row["seen"] else "; from memory, advice only"
        limit = f"{'at least' if is_least else 'limit'} {row['limit'] or 'as needed'}"
        say(
            f"{row['agent']}: {row['ppm']} {row['unit']} of the {row['basis']},"
            f" {limit}: {row['verdict']} ({row['source']}{memory})"
        )
    for finding in found["findings"]:
        say(f"{finding['severity']}: {finding['line']}: {finding['text']} ({finding['source']})")
    if not any(finding["severity"] == "broken" for finding in found["findings"]):
        say("nothing is broken")
