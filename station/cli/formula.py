"""`station formula`: a formula against the law, before anything is weighed."""

import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from station.batch.events import BatchOpened, Warned
from station.batch.preview import preview
from station.batch.unfit import unfit
from station.cli.blend import blend
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
from station.cli.keep import keep
from station.cli.scaling import authority_option, compare, file_argument, list_formulas, scale
from station.cli.sheet import sheet
from station.cli.solve import solve
from station.formula import ingoing
from station.formula.law import Law, findings, other_words
from station.formula.limits import LimitRow, about
from station.formula.lowered import highest_lawful
from station.formula.model import Addition, Formula
from station.formula.scaling import ingoing_masses, mix_of, planned_masses, salt_g
from station.formula.sheet import parse_formula
from station.formula.solve import largest_lawful, smallest_required
from station.opening import judge_of, planned_meat, read_rules, sealed
from station.resources import Config
from station.settings import load_settings
from station.units import plain
from station.weighing.commands import Refusal

_MEAT = "10 kg"
"""The meat a formula is checked with unless told otherwise; what hangs on it is said."""


@click.group(epilog="Example: station formula check garlic-ring.toml")
def formula() -> None:
    """Formulas: check them against the law before anything is weighed."""


for verb in (sheet, scale, compare, blend, solve, keep, list_formulas):
    formula.add_command(verb)


@formula.command(epilog="Example: station formula check garlic-ring.toml --json")
@file_argument
@authority_option
@click.option("--meat", default=_MEAT, show_default=True, help="The weight of the meat block.")
@config_option
@json_option
def check(file: Path, authority: str | None, meat: str, config: Path | None, as_json: bool) -> None:
    """Check FILE: exit status 0 if nothing is broken, 1 if a rule is, 2 if the file is wrong."""
    text = read_text(file)
    try:
        with files():
            found = _check(text, str(file), Config(config), authority, meat)
    except Refusal as refusal:
        fail(refusal.sentence, refusal.next, WRONG_USE)
    if as_json:
        print_json(found)
    else:
        say("\n".join(told(found)))
    sys.exit(NO if _broken(found) else 0)


def _check(
    text: str, filename: str, config: Config, asked: str | None, meat: str
) -> dict[str, Any]:
    formula = parse_formula(text, filename)
    meat_g, _ = planned_meat(formula, {"meat": meat})
    settings = load_settings(config)
    authority, by = judge_of(settings, formula, asked)
    bands, law = read_rules(config, authority, formula)
    said = [
        {**finding._asdict(), "cause": None, "helps": []}
        for finding in findings(formula, law, meat_g)
    ]
    _lower(formula, law, meat_g, said)
    opened = sealed(formula, bands, law.rows, settings, False, meat_g, "check", "")
    if formula.method == "comminuted":
        said += [_at_bench(opened, word) for word in preview(opened)]
    masses = ingoing_masses(formula, meat_g)
    salt = salt_g(masses, ingoing.contents(formula))
    judged = [
        row
        for row in about(formula, law.rows, meat_g)
        if row.kind == "required"
        or any(set(row.agents) & set(line.contains) for line in formula.additions)
    ]
    return {
        "formula": formula.name,
        "revision": formula.revision,
        "authority": authority,
        "authority_by": by,
        "bench": {"authority": settings.authority, "file": config.read("station.toml")[1]},
        "as_of": law.day,
        "meat_g": plain(meat_g),
        "product": " ".join(formula.product),
        "salt_percent_of_meat": plain(salt / meat_g * 100),
        "salt_percent_of_mix": plain(salt / mix_of(formula, meat_g) * 100),
        "agents": [_agent(formula, row, masses, meat_g) for row in judged],
        "note": law.note,
        "findings": said,
        "words": other_words(formula, law, meat_g),
    }


def _lower(formula: Formula, law: Law, meat_g: Fraction, said: list[dict[str, Any]]) -> None:
    """Beside what is over a limit, the highest amount of each line that is under all of them."""
    for addition in formula.additions:
        per_kg = highest_lawful(formula, law.rows, addition.name, meat_g)
        first = next((f for f in said if _about(f, addition)), None)
        if first is not None and addition.in_pickle:
            first["helps"] += _lower_in_pickle(formula, law, addition.name, meat_g)
        short = next((f for f in said if _about(f, addition, "under")), None)
        needed = smallest_required(formula, law.rows, addition.name, meat_g) if short else None
        if short is not None and needed is not None:
            short["helps"].append(_of_line("at least", needed, addition.name, meat_g))
        if per_kg is None or first is None:
            continue
        grams = plain(Fraction(per_kg) * meat_g / 1000)
        most = f"at most {plain(per_kg)} g/kg of {addition.name}, {grams} g here"
        nothing = f"no {addition.name}, or less of the others that bring the same"
        first["helps"].append(most if per_kg else nothing)


def _lower_in_pickle(formula: Formula, law: Law, name: str, meat_g: Fraction) -> list[str]:
    try:
        made = largest_lawful(formula, law.rows, name, meat_g)
    except ValueError as error:
        return [f"less of the others that bring the same: {error}"]
    if made is None:
        return []
    return [_of_line("at most", made, name, meat_g)]


def _of_line(how: str, made: Formula, name: str, meat_g: Fraction) -> str:
    grams = planned_masses(made, meat_g)[name]
    return f"{how} {made.addition(name).amount.text} of {name}, {plain(grams)} g here"


def _about(finding: dict[str, Any], addition: Addition, side: str = "over") -> bool:
    of_it = addition.name in finding["line"].split(", ")
    return of_it and finding["severity"] == "broken" and f" is {side} " in finding["text"]


def _at_bench(opened: BatchOpened, word: Warned) -> dict[str, Any]:
    """What the scales make of a line: a line that cannot be weighed with whose doing that is."""
    why = unfit(opened, word.line) if word.warning == "unfit" else None
    loud = word.warning == "aim" or (why is not None and why.blocks)
    return {
        "line": word.line,
        "severity": "warning" if loud else "advice",
        "text": why.text if why else word.text,
        "source": f"station.toml, {plain(opened.plan_g)} g of meat",
        "cause": why.cause if why else None,
        "helps": list(why.helps) if why else [],
    }


def _agent(
    formula: Formula, row: LimitRow, masses: dict[str, Fraction], meat_g: Fraction
) -> dict[str, Any]:
    grams = ingoing.counted_g(masses, ingoing.contents(formula), row)
    on, basis = ingoing.basis_of(formula, row, meat_g)
    return {
        "agent": " or ".join(row.agents),
        "kind": row.kind,
        "ppm": ingoing.shown_ppm(row, grams, basis, 6),
        "basis": on,
        "limit": None if row.kind == "as needed" else plain(Fraction(row.maximum) * 1_000_000),
        "unit": row.unit,
        "verdict": ingoing.verdict(row, grams, basis),
        "source": row.source,
        "seen": row.seen,
        "own": row.own,
        "since": row.since,
    }


def _broken(found: dict[str, Any]) -> int:
    return sum(finding["severity"] == "broken" for finding in found["findings"])


def told(found: dict[str, Any]) -> list[str]:
    """What a check found, as lines for a person: the verdict, whose law, the salt, a line for each
    row that can be judged, then what is broken and one caution for each line of the formula."""
    broken = _broken(found)
    verdict = f"{broken} broken" if broken else "nothing is broken"
    lines = [
        f"{found['formula']}, revision {found['revision']}, {found['product']}: {verdict}",
        f"by the law of {found['authority']}, {_chosen(found)}, as of {found['as_of']},"
        f" for {found['meat_g']} g of meat",
        f"total salt {found['salt_percent_of_meat']} % of the meat,"
        f" {found['salt_percent_of_mix']} % of the mix",
    ]
    if found["note"]:
        lines.insert(2, f"note: {found['note']}")
    lines += [_row(row) for row in found["agents"] if row["kind"] != "residual"]
    return lines + _cautions(found["formula"], found["findings"]) + _words(found, broken)


def _words(found: dict[str, Any], broken: int) -> list[str]:
    """Product words with which less would be broken, if they are true; only where anything is."""
    better = [
        f"{word!r} ({f'{then} broken' if then else 'nothing is broken'})"
        for word, then in found["words"].items()
        if then < broken
    ]
    return [f"if one of these words is true, say it: {', '.join(better)}"] if better else []


def _chosen(found: dict[str, Any]) -> str:
    """How the law was chosen, and whether the bench has another."""
    bench, by = found["bench"], found["authority_by"]
    if by == "bench":
        return f"which the bench has ({bench['file']})"
    chosen = "which was asked for" if by == "asked" else "which the formula names"
    same = bench["authority"] == found["authority"]
    return chosen if same else f"{chosen} (the bench has {bench['authority']})"


def _row(row: dict[str, Any]) -> str:
    side = {"required": "at least ", "ingoing": "at most "}.get(row["kind"], "")
    limit = f"{side}{row['limit'] or 'as needed'}"
    known = "seen" if row["seen"] else "advice only"
    known = "a rule of your own" if row["own"] else known
    return (
        f"{row['agent']}: {row['ppm']} {row['unit']} of the {row['basis']}, {limit}:"
        f" {row['verdict']} ({row['source']}; {known}; as of {row['since']})"
    )


_RANKS = ("broken", "warning", "advice")


def _cautions(formula: str, findings: list[dict[str, Any]]) -> list[str]:
    """All that is broken, the first caution on each line of the formula, all on the whole of it."""
    lines, spoken, left = [], set(), 0
    for finding in sorted(findings, key=lambda finding: _RANKS.index(finding["severity"])):
        where = finding["line"]
        if finding["severity"] != "broken" and where != formula and where in spoken:
            left += 1
            continue
        spoken.add(where)
        lines.append(f"{finding['severity']}: {where}: {finding['text']} ({finding['source']})")
        if finding["helps"]:
            lines.append(f"  would help: {', or '.join(finding['helps'])}")
    return [*lines, f"and {left} more on these lines: --json tells all"] if left else lines
