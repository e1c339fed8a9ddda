"""`station formula sheet`: the targets of a planned batch on one page of paper."""

import textwrap
from io import BytesIO
from pathlib import Path

import click
import msgspec
import segno

from station.audit.rows import TargetLine, TargetSheet, TargetStep
from station.audit.targets import NoPlan, target_sheet
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
    write_new,
)
from station.formula.law import findings
from station.formula.sheet import parse_formula
from station.opening import bench_rules, planned_meat, sealed
from station.resources import Config
from station.settings import load_settings
from station.weighing.commands import Refusal
from station.wire import FORMULA

WIDE = 80


@click.command(epilog='Example: station formula sheet garlic-ring.toml --meat "12 kg"')
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--meat", required=True, help="The weight of the meat block.")
@click.option(
    "--code",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the code, as SVG, that opens the formula at the bench when it is scanned.",
)
@config_option
@json_option
def sheet(file: Path, meat: str, code: Path | None, config: Path | None, as_json: bool) -> None:
    """The targets of FILE for so much meat, on one page: for the wall, and for a power cut.

    A formula that breaks a limit gets no sheet; exit status 1.
    """
    text = read_text(file)
    try:
        with files():
            found = _sheet(text, str(file), meat, Config(config))
    except Refusal as refusal:
        fail(refusal.sentence, refusal.next, WRONG_USE)
    except NoPlan as error:
        fail(str(error), "plan less, or in more batches", NO)
    if code is not None:
        _write_code(code, file.stem)
    if as_json:
        print_json(msgspec.to_builtins(found))
    else:
        say("\n".join(page(found)))


def _write_code(path: Path, formula: str) -> None:
    """The code that a scanner at the bench types as `formula NAME`: a file of its own, since
    letters on paper are no squares."""
    code = BytesIO()
    segno.make(f"{FORMULA}{formula}", micro=False).save(code, kind="svg", scale=4)
    write_new(path, code.getvalue(), "name another file", status=WRONG_USE)


def _sheet(text: str, filename: str, meat: str, config: Config) -> TargetSheet:
    formula, settings = parse_formula(text, filename), load_settings(config)
    bands, law = bench_rules(config, settings, formula)
    if formula.method != "comminuted":
        raise Refusal("method", f"{formula.name} is {formula.method}", "comminuted ones only")
    meat_g, planned_by = planned_meat(formula, {"meat": meat})
    for finding in findings(formula, law, meat_g):
        if finding.severity == "broken":
            fail(f"{finding.line}: {finding.text} ({finding.source})", "correct the formula", NO)
        if finding.severity == "warning":
            say(f"station: {finding.line}: {finding.text} ({finding.source})", err=True)
    opened = sealed(formula, bands, law.rows, settings, False, meat_g, planned_by, "")
    return target_sheet(opened)


def page(found: TargetSheet) -> list[str]:
    """The page as lines of at most 80 signs."""
    rule = "-" * WIDE
    head = f"{found.formula}, revision {found.revision}"
    lines = [
        head,
        f"targets for {found.meat_g} g of meat, {found.station}",
        "",
        *_wrap(
            "Every figure hangs on the meat actually weighed. If it is another weight, work out"
            " each target anew: g a kg, times the meat in kg; the limits move along with it."
        ),
        "",
        f"{'meat':<22}{'target g':>20}{'weighed g':>14}   tub, who, when",
        rule,
    ]
    for part in found.meat:
        lines.append(f"{part.name[:22]:<22}{part.target_g:>20}{'_' * 10:>14}   {'_' * 20}")
    lines += [
        "",
        f"{'line':<19}{'g a kg':>8}{'aim g':>9}{'from':>9}{'to':>9} {'scale':<8}{'weighed':>9} who",
        rule,
    ]
    for item in found.items:
        lines += _item(item)
    lines += [rule, f"total salt {found.salt_percent} % of the meat"]
    for row in found.limits:
        lines += _wrap(
            f"{' and '.join(row.agents)}: {row.planned} {row.unit} of the {row.basis},"
            f" limit {row.limit} ({row.source})"
        )
    lines += ["", f"{'_' * 24} date and time   {'_' * 24} read by", ""]
    if any(isinstance(item, TargetLine) and item.key_first for item in found.items):
        lines += _wrap(
            "* A second person reads the scale, and signs. Typed in afterwards with"
            " station by-hand LINE NET SCALE REASON --second NAME."
        )
    return [*lines, *_wrap(found.caution)]


def _item(item: TargetLine | TargetStep) -> list[str]:
    name = item.name
    if isinstance(item, TargetStep):
        return [f"  [ ] {name}: {item.step}"[:WIDE]]
    scale = item.scale + (f" x{item.loads}" if item.loads > 1 else "")
    star = "*" if item.key_first else ""
    aim, low, high = (grams or "-" for grams in (item.aim_g, item.from_g, item.to_g))
    lines = [
        f"{name[:18] + star:<19}{item.g_per_kg:>8}{aim:>9}{low:>9}{high:>9} {scale:<8}"
        f"{'_' * 8:>9} {'_' * 6}"
    ]
    if item.unfit:
        lines += _wrap(f"    NOT ON {item.scale}: {item.unfit}")
    if item.allergens:
        lines.append(f"    allergens: {', '.join(item.allergens)}"[:WIDE])
    if item.key_first:
        lines.append(f"    lot {'_' * 16}   strength {'_' * 10}   second person {'_' * 16}")
    return lines


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDE)
