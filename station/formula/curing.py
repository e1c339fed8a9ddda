"""Targets against the law before anything is weighed: what no row allows, what is over or under."""

from collections.abc import Iterable, Mapping
from fractions import Fraction

from station.formula.finding import Finding, Severity
from station.formula.ingoing import (
    basis_of,
    contents,
    counted_g,
    hangs_on_meat,
    mg_kg,
    ppm,
    shown_ppm,
    verdict,
)
from station.formula.limits import LimitRow, about, agent_hint, agents_of
from station.formula.masses import AGENTS, agent_name
from station.formula.model import REGULATED_ROLES, Addition, Formula
from station.formula.names import WHICH, cures, means_cure, saltpetre, sounds_regulated
from station.formula.scaling import ingoing_masses
from station.formula.slips import called_out
from station.units import plain


def check_targets(formula: Formula, rows: tuple[LimitRow, ...], meat_g: Fraction) -> list[Finding]:
    """Every target against the law: what no row is about, and what is over or under one."""
    holding = about(formula, rows, meat_g)
    allowing = [r for r in holding if r.kind in ("ingoing", "as needed") and not r.own]
    allowed = {agent for row in allowing for agent in row.agents}
    masses, found = ingoing_masses(formula, meat_g), contents(formula)
    findings = []
    for addition in formula.additions:
        findings += _positive_list(formula, addition, allowed, rows)
        findings += _named(formula, addition, masses, meat_g)
    present = {agent for line in found.values() for agent, share in line.items() if share}
    for row in holding:
        findings += _judged(formula, row, masses, meat_g, present)
    return (
        list(dict.fromkeys(findings))
        + _missing(formula, present)
        + _skin(formula, holding)
        + called_out(formula, masses, meat_g)
    )


def _positive_list(
    formula: Formula, addition: Addition, allowed: set[str], rows: tuple[LimitRow, ...]
) -> list[Finding]:
    agents = agents_of(addition.contains)
    if addition.role in REGULATED_ROLES and not agents:
        return [Finding(addition.name, "broken", _no_agent(addition.role), "positive list")]
    findings = []
    for agent in agents:
        if agent in allowed:
            continue
        if addition.role in REGULATED_ROLES or sounds_regulated(agent):
            text = f"no limits row allows {agent} in {' '.join(formula.product)}"
            text += agent_hint(formula, rows, agent)
            findings.append(Finding(addition.name, "broken", text, "positive list"))
        else:
            text = f"no limits row is about {agent}: it is not judged"
            text += agent_hint(formula, (), agent)
            findings.append(Finding(addition.name, "advice", text, "positive list"))
    return findings


_USUAL_PREMIX = Fraction("0.0625")
"""Sodium nitrite in the usual premix that salt is mistaken for (common practice)."""


def _named(
    formula: Formula, addition: Addition, masses: Mapping[str, Fraction], meat_g: Fraction
) -> list[Finding]:
    """A line whose name, or the name of what it is a part of, says more than its `contains`."""
    parts = [part for part in formula.additions if part.part_of == addition.part_of]
    findings = []
    for name, lines in ((addition.name, [addition]), (addition.part_of or "", parts)):
        agents = {agent for line in lines for agent in line.contains}
        if means_cure(name) and not any(cures(agent) for agent in agents):
            line_g = sum((masses.get(line.name, Fraction(0)) for line in lines), Fraction(0))
            text = f"the name {name!r} says that it is a cure: say what it contains"
            text += _would_bring(name, ppm(line_g, meat_g))
            findings.append(Finding(addition.name, "broken", text, "common practice"))
        elif sounds_regulated(name) and not any(sounds_regulated(agent) for agent in agents):
            text = f"the name {name!r} says that it holds a regulated agent: say what it contains"
            findings.append(Finding(addition.name, "broken", text, "positive list"))
    return findings


def _would_bring(name: str, line_ppm: Fraction) -> str:
    """What a line so named would bring if it were what it says; `line_ppm` is mg of it per kg."""
    if not line_ppm:
        return ""  # counted in pieces
    if saltpetre(name):
        return f"; pure, it would be {mg_kg(line_ppm)}; {WHICH}"
    if (agent := agent_name(name)) in AGENTS:
        return f"; pure, it would bring {mg_kg(line_ppm)} of {agent}"
    found = mg_kg(line_ppm * _USUAL_PREMIX)
    return f"; as the usual premix of 6.25 % it would bring {found} of sodium nitrite"


def _judged(
    formula: Formula,
    row: LimitRow,
    masses: Mapping[str, Fraction],
    meat_g: Fraction,
    present: set[str],
) -> list[Finding]:
    """What one row says of the targets."""
    agents = set(row.agents)
    lines = [name for name in masses if agents & set(formula.addition(name).contains)]
    if not lines and row.kind != "required":
        return []
    agent_g = counted_g(masses, contents(formula), row)
    on, basis = basis_of(formula, row, meat_g)
    names = " and ".join(row.agents)
    severity: Severity = "broken" if row.seen else "advice"
    where, findings = ", ".join(lines) or formula.name, []
    amount = f"{shown_ppm(row, agent_g, basis, 2)} {row.unit} of {names}"
    found = verdict(row, agent_g, basis)
    if found in ("over", "under"):
        text = f"{amount} is {found} {row.text} of the {on}"
        findings.append(Finding(where, severity, text, row.source))
    if row.kind == "residual":
        text = f"what is left of it may be {row.text} at most: no scale can judge that"
        findings.append(Finding(where, "advice", text, row.source))
    if row.declared:
        text = (
            f"by the maker's declaration ({formula.declaration}) only what is left of it is"
            " limited, and no scale can judge that: have it judged"
        )
        findings.append(Finding(where, "advice", text, row.source))
    if row.only_with and not present & set(row.only_with):
        text = f"{names} only together with a curing agent"
        findings.append(Finding(where, severity, text, row.source))
    if lines and hangs_on_meat(formula, lines):
        text = f"judged for {plain(meat_g)} g of meat; with less it is more: check --meat"
        findings.append(Finding(where, "advice", text, "arithmetic"))
    return findings


def _missing(formula: Formula, present: set[str]) -> list[Finding]:
    """What the formula's own words promise and its lines do not bring."""
    if "cured" not in formula.product or any(cures(agent) for agent in present):
        return []
    text = "it is called cured, and no curing agent is in it"
    return [Finding(formula.name, "advice", text, "common practice")]


def _skin(formula: Formula, rows: Iterable[LimitRow]) -> list[Finding]:
    """A row counts without the skin, and a meat does not say how much of it is skin."""
    row = next((row for row in rows if row.skin_free), None)
    unsaid = [meat.name for meat in formula.meats if meat.skin is None]
    if row is None or not unsaid:
        return []
    text = 'counted without its skin: say how much that is, skin = "10 %", or "0 %" for none'
    return [Finding(", ".join(unsaid), "advice", text, row.source)]


def _no_agent(role: str) -> str:
    return f"a {role} must say which agent it contains and how much of it"
