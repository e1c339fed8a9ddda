"""Ingoing amounts of curing agents against their limits, before anything is weighed.

Ingoing amount = mass of agent / green weight of the meat block (FSIS Processing Inspectors'
Calculations Handbook, Directive 7620.3, 1995), agents counted by the row that limits them.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from station.formula.limits import LimitRow, agents_of, rows_for, sounds_regulated
from station.formula.model import REGULATED_ROLES, Formula
from station.formula.scaling import planned_masses
from station.units import plain


class Finding(NamedTuple):
    """What is wrong with a formula under the law; `broken` refuses it, `warning` does not."""

    line: str
    severity: Literal["broken", "warning"]
    text: str
    source: str


def ingoing(
    masses: Mapping[str, Fraction],
    contains: Mapping[str, Mapping[str, Decimal]],
    agents: Iterable[str],
) -> Fraction:
    """Grams of `agents` together in the lines' masses (grams)."""
    agents = tuple(agents)
    return sum(
        (
            mass * Fraction(contains[line].get(agent, Decimal(0)))
            for line, mass in masses.items()
            for agent in agents
        ),
        Fraction(0),
    )


def ppm(agent_g: Fraction, basis_g: Fraction) -> Fraction:
    """mg/kg of the basis."""
    return agent_g * 1_000_000 / basis_g


def contents(formula: Formula) -> dict[str, dict[str, Decimal]]:
    """Line -> what it contains, as the formula expects it."""
    return {addition.name: addition.contains for addition in formula.additions}


def check_targets(formula: Formula, rows: Iterable[LimitRow], meat_g: Fraction) -> list[Finding]:
    """Every target against the law: no covering row, or a target over a limit, is broken."""
    holding = rows_for(formula, rows)
    allowed = {agent for row in holding for agent in row.agents}
    findings = []
    for addition in formula.additions:
        agents = agents_of(addition.contains)
        if addition.role in REGULATED_ROLES and not agents:
            findings.append(
                Finding(addition.name, "broken", _no_agent(addition.role), "positive list")
            )
        for agent in agents:
            if agent in allowed:
                continue
            if addition.role in REGULATED_ROLES or sounds_regulated(agent):
                text = f"no limits row allows {agent} in {' '.join(formula.product)}"
                findings.append(Finding(addition.name, "broken", text, "positive list"))
            else:
                text = f"no limits row is about {agent}: it is not judged"
                findings.append(Finding(addition.name, "warning", text, "positive list"))
    masses = planned_masses(formula, meat_g)
    for row in holding:
        agent_g = ingoing(masses, contents(formula), row.agents)
        if agent_g > Fraction(row.maximum) * meat_g:
            lines = [n for n in masses if set(row.agents) & set(formula.addition(n).contains)]
            text = (
                f"{plain(ppm(agent_g, meat_g))} mg/kg of {' and '.join(row.agents)} is over"
                f" {row.text} of the {row.basis}"
            )
            findings.append(Finding(", ".join(lines), "broken", text, row.source))
    return findings


def _no_agent(role: str) -> str:
    return f"a {role} must say which agent it contains and how much of it"
