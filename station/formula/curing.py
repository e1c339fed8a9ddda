"""Ingoing amounts of curing agents against their limits, before anything is weighed.

Ingoing amount = mass of agent / green weight of the meat block (FSIS Processing Inspectors'
Calculations Handbook, Directive 7620.3, 1995), agents counted by the row that limits them.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from station.formula.limits import LimitRow, about, agents_of, sounds_regulated
from station.formula.model import REGULATED_ROLES, Addition, Formula
from station.formula.scaling import ingoing_masses
from station.units import plain

Severity = Literal["broken", "warning", "advice"]


class Finding(NamedTuple):
    """What is to be said of a formula under the law; `broken` refuses it, the others do not."""

    line: str
    severity: Severity
    text: str
    source: str


Contents = Mapping[str, Mapping[str, Decimal | Fraction]]


def counted_g(masses: Mapping[str, Fraction], contains: Contents, row: LimitRow) -> Fraction:
    """Grams of a row's agents in the lines' masses (grams), as the row expresses them."""
    return sum((mass * row.counted(contains[line]) for line, mass in masses.items()), Fraction(0))


def ppm(agent_g: Fraction, basis_g: Fraction) -> Fraction:
    """mg/kg of the basis."""
    return agent_g * 1_000_000 / basis_g


def contents(formula: Formula) -> dict[str, dict[str, Decimal]]:
    """Line -> what it contains, as the formula expects it."""
    return {addition.name: addition.contains for addition in formula.additions}


def verdict(row: LimitRow, agent_g: Fraction, basis_g: Fraction) -> str:
    """ "within", "over", "under", or "not judged": compared by multiplying out, never rounded."""
    if row.kind in ("residual", "as needed"):
        return "not judged"
    edge = Fraction(row.maximum) * basis_g
    if row.kind == "required":
        return "under" if 0 < agent_g < edge else "within"
    return "over" if agent_g > edge else "within"


def check_targets(formula: Formula, rows: Iterable[LimitRow], meat_g: Fraction) -> list[Finding]:
    """Every target against the law: what no row is about, and what is over or under one."""
    holding = about(formula, rows)
    allowed = {agent for row in holding if row.kind != "residual" for agent in row.agents}
    findings = []
    if not any(row.words for row in holding):
        text = f"no limits row is about {' '.join(formula.product)}, {formula.method}"
        findings.append(Finding(formula.name, "advice", text, "positive list"))
    for addition in formula.additions:
        findings += _positive_list(formula, addition, allowed)
    masses, found = ingoing_masses(formula, meat_g), contents(formula)
    present = {agent for line in found.values() for agent in line}
    for row in holding:
        findings += _judged(formula, row, masses, meat_g, present)
    return findings + called_out(formula)


def _positive_list(formula: Formula, addition: Addition, allowed: set[str]) -> list[Finding]:
    agents = agents_of(addition.contains)
    if addition.role in REGULATED_ROLES and not agents:
        return [Finding(addition.name, "broken", _no_agent(addition.role), "positive list")]
    findings = []
    for agent in agents:
        if agent in allowed:
            continue
        if addition.role in REGULATED_ROLES or sounds_regulated(agent):
            text = f"no limits row allows {agent} in {' '.join(formula.product)}"
            findings.append(Finding(addition.name, "broken", text, "positive list"))
        else:
            text = f"no limits row is about {agent}: it is not judged"
            findings.append(Finding(addition.name, "warning", text, "positive list"))
    return findings


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
    if not lines:
        return []
    agent_g, names = counted_g(masses, contents(formula), row), " and ".join(row.agents)
    severity: Severity = "broken" if row.seen else "advice"
    where, findings = ", ".join(lines), []
    amount = f"{plain(round(ppm(agent_g, meat_g), 2))} {row.unit} of {names}"
    found = verdict(row, agent_g, meat_g)
    if found in ("over", "under"):
        text = f"{amount} is {found} {row.text} of the {row.basis}"
        findings.append(Finding(where, severity, text, row.source))
    if row.kind == "residual":
        text = f"what is left of it may be {row.text} at most: no scale can judge that"
        findings.append(Finding(where, "advice", text, row.source))
    if row.only_with and not present & set(row.only_with):
        text = f"{names} only together with a curing agent"
        findings.append(Finding(where, severity, text, row.source))
    return findings


_USUAL_NITRITE = (Fraction(40), Fraction(200))
"""mg/kg that a cure usually brings (common practice): a tenth of it, or ten times, is a slip of the
decimal point or a premix of another strength."""


def called_out(formula: Formula) -> list[Finding]:
    """Slips that no limit catches, or that it would catch too late."""
    findings = []
    for addition in formula.additions:
        share = Fraction(addition.contains.get("sodium nitrite", Decimal(0)))
        if share and addition.amount.on == "meat":
            brings = share * addition.amount.share * 1_000_000
            if brings < _USUAL_NITRITE[0] or brings > _USUAL_NITRITE[1]:
                text = (
                    f"it would bring {plain(round(brings, 2))} mg/kg of sodium nitrite,"
                    " which is far from what is usual: is the strength the one on the bag?"
                )
                findings.append(Finding(addition.name, "warning", text, "common practice"))
    cup: dict[str, set[str]] = {}
    for addition in formula.additions:
        cup.setdefault(addition.part_of or addition.name, set()).add(addition.role)
        if _cured(addition) and any(word in a for a in addition.contains for word in _REDUCING):
            text = "nitrite and an accelerator stand in one vessel: they react"
            findings.append(Finding(addition.name, "warning", text, "21 CFR 170.60"))
    for name, roles in cup.items():
        if {"cure", "accelerator"} <= roles:
            text = "a cure and an accelerator in one vessel: they react"
            findings.append(Finding(name, "warning", text, "21 CFR 170.60"))
    roles_in_order = [addition.role for addition in formula.additions]
    if "phosphate" in roles_in_order and "salt" in roles_in_order:
        late = roles_in_order.index("phosphate") > roles_in_order.index("salt")
        if late:
            name = formula.additions[roles_in_order.index("phosphate")].name
            text = "a phosphate after the salt dissolves badly: put it before"
            findings.append(Finding(name, "warning", text, "common practice"))
    return findings


_REDUCING = ("ascorb", "erythorb")


def _cured(addition: Addition) -> bool:
    return any("nitrit" in agent for agent in addition.contains)


def _no_agent(role: str) -> str:
    return f"a {role} must say which agent it contains and how much of it"
