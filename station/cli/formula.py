"""`station formula`: a formula against the law, before anything is weighed."""

import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from station.cli.common import NO, config_option, files, json_option, print_json, read_text
from station.cli.scaling import compare, list_formulas, scale
from station.cli.sheet import sheet
from station.formula import curing
from station.formula.composition import judge, parse_rules
from station.formula.limits import LimitRow, about
from station.formula.model import Formula
from station.formula.scaling import ingoing_masses, mix_of, salt_g
from station.formula.sheet import parse_formula
from station.resources import Config
from station.service.opening import read_rules, sealed
from station.settings import AUTHORITIES, load_settings
from station.units import plain
from station.weighing.preview import preview

_MEAT_G = Fraction(10_000)
"""The meat a formula is checked with: figures per kilogram come out the same for any other."""


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
@config_option
@json_option
def check(file: Path, authority: str | None, config: Path | None, as_json: bool) -> None:
    """Check FILE: exit status 0 if nothing is broken, 1 if a rule is, 2 if the file is wrong."""
    text = read_text(file)
    with files():
        found = _check(text, str(file), Config(config), authority)
    if as_json:
        print_json(found)
    else:
        _print(found)
    sys.exit(NO if any(f["severity"] == "broken" for f in found["findings"]) else 0)


def _check(text: str, filename: str, config: Config, authority: str | None) -> dict[str, Any]:
    formula = parse_formula(text, filename)
    settings = load_settings(config)
    authority = authority or settings.authority
    bands, rows = read_rules(config, authority, formula)
    findings = [finding._asdict() for finding in curing.check_targets(formula, rows, _MEAT_G)]
    rules = parse_rules(*config.read(f"limits/{authority}.toml"))
    findings += [finding._asdict() for finding in judge(formula, rules)]
    opened = sealed(formula, bands, rows, settings, False, _MEAT_G, "check", "")
    at_bench = preview(opened) if formula.method == "comminuted" else []
    findings += [
        {
            "line": word.line,
            "severity": "warning",
            "text": word.text,
            "source": "station.toml, 10 kg of meat",
        }
        for word in at_bench
    ]
    masses = ingoing_masses(formula, _MEAT_G)
    salt = salt_g(masses, curing.contents(formula))
    return {
        "formula": formula.name,
        "revision": formula.revision,
        "authority": authority,
        "product": " ".join(formula.product),
        "salt_percent_of_meat": plain(salt / _MEAT_G * 100),
        "salt_percent_of_mix": plain(salt / mix_of(formula, _MEAT_G) * 100),
        "agents": [
            _agent(formula, row, masses)
            for row in about(formula, rows)
            if any(set(row.agents) & set(line.contains) for line in formula.additions)
        ],
        "findings": findings,
    }


def _agent(formula: Formula, row: LimitRow, masses: dict[str, Fraction]) -> dict[str, Any]:
    grams = curing.counted_g(masses, curing.contents(formula), row)
    return {
        "agent": " or ".join(row.agents),
        "ppm": plain(curing.ppm(grams, _MEAT_G)),
        "basis": row.basis,
        "limit": plain(Fraction(row.maximum) * 1_000_000),
        "unit": row.unit,
        "verdict": curing.verdict(row, grams, _MEAT_G),
        "source": row.source,
        "seen": row.seen,
    }


def _print(found: dict[str, Any]) -> None:
    click.echo(f"{found['formula']} revision {found['revision']}: {found['product']}")
    meat, mix = found["salt_percent_of_meat"], found["salt_percent_of_mix"]
    click.echo(f"total salt {meat} % of the meat, {mix} % of the mix")
    for row in found["agents"]:
        memory = "" if row["seen"] else "; from memory, advice only"
        click.echo(
            f"{row['agent']}: {row['ppm']} {row['unit']} of the {row['basis']},"
            f" limit {row['limit']}: {row['verdict']} ({row['source']}{memory})"
        )
    for finding in found["findings"]:
        click.echo(
            f"{finding['severity']}: {finding['line']}: {finding['text']} ({finding['source']})"
        )
    if not found["findings"]:
        click.echo("nothing is broken")
