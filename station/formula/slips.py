"""Slips that no limit catches: the usual amount, what stands in one vessel, what comes too late."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from station.formula.finding import Finding
from station.formula.ingoing import mg_kg, nitrite_g, ppm
from station.formula.model import Addition, Formula
from station.formula.names import is_nitrite

_USUAL_NITRITE: Mapping[str, tuple[int, int]] = {"dry": (40, 625)}
_USUAL_MG_KG = (40, 200)
"""mg/kg of sodium nitrite that a formula usually brings (common practice), by its method: a tenth
of it, or ten times, is a slip of the decimal point or a premix of another strength."""


def called_out(formula: Formula, masses: Mapping[str, Fraction], meat_g: Fraction) -> list[Finding]:
    """Slips that no limit catches, or that it would catch too late; `masses` are the ingoing ones,
    grams by line."""
    return [
        *_unusual(formula, masses, meat_g),
        *_in_one_vessel(formula),
        *_late_phosphate(formula),
    ]


def _unusual(formula: Formula, masses: Mapping[str, Fraction], meat_g: Fraction) -> list[Finding]:
    """A cure that brings far more or less nitrite than is usual, all its lines together."""
    brings = nitrite_g(formula, masses)
    if not brings:
        return []
    found = ppm(sum(brings.values(), Fraction(0)), meat_g)
    low, high = _USUAL_NITRITE.get(formula.method, _USUAL_MG_KG)
    if low <= found <= high:
        return []
    text = (
        f"it would bring {mg_kg(found)} of sodium nitrite,"
        " which is far from what is usual: is the strength the one on the bag?"
    )
    return [Finding(", ".join(brings), "advice", text, "common practice")]


def _in_one_vessel(formula: Formula) -> list[Finding]:
    """Nitrite beside what it reacts with, or beside spice, in one cup, one pickle or one bag."""
    cups: dict[str, list[Addition]] = {}
    for addition in formula.additions:
        cup = addition.part_of or ("pickle" if addition.in_pickle else addition.name)
        if addition.part_of is None and not addition.in_pickle and not addition.alone:
            cup = "one cup" if addition.role in ("cure", "accelerator") else cup
        cups.setdefault(cup, []).append(addition)
    findings = []
    for cup, together in cups.items():
        names = ", ".join(addition.name for addition in together)
        agents = {agent for addition in together for agent in addition.contains}
        roles = {addition.role for addition in together}
        cured = any(is_nitrite(agent) for agent in agents) or "cure" in roles
        if cured and (any(_reduces(agent) for agent in agents) or "accelerator" in roles):
            text = "a cure and an accelerator in one vessel: they react"
            if cup == "pickle":  # where both are pumped there is no other way
                text += "; dissolve the accelerator last and use the pickle at once"
            findings.append(Finding(names, "advice", text, "common practice"))
        if any(is_nitrite(agent) for agent in agents) and "seasoning" in roles:
            text = "nitrite and spice held together: nitrite is never mixed with spice or soy"
            findings.append(Finding(names, "advice", text, "21 CFR 170.60"))
    return findings


def _late_phosphate(formula: Formula) -> list[Finding]:
    salted, findings = False, []
    for addition in formula.additions:
        phosphate = any("phosph" in agent for agent in addition.contains)
        if salted and (phosphate or addition.role == "phosphate"):
            text = "a phosphate after the salt dissolves badly: put it before"
            findings.append(Finding(addition.name, "advice", text, "common practice"))
        salty = "salt" in addition.contains and addition.contains["salt"] >= Decimal("0.5")
        salted = salted or addition.role == "salt" or salty
    return findings


def _reduces(agent: str) -> bool:
    return "ascorb" in agent or "erythorb" in agent
