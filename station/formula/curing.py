"""Ingoing amounts of curing agents against their limits, before anything is weighed.

Ingoing amount = mass of agent / green weight of the meat block (FSIS Processing Inspectors'
Calculations Handbook, Directive 7620.3, 1995), agents counted by the row that limits them.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from station.formula.limits import LimitRow, about, agent_hint, agents_of, rows_for
from station.formula.masses import AGENTS, agent_name, factor
from station.formula.model import REGULATED_ROLES, Addition, Formula
from station.formula.names import WHICH, means_cure, saltpetre, sounds_regulated
from station.formula.scaling import (
    ingoing_masses,
    mix_of,
    pickle_counted_g,
    product_g,
    skin_share,
)
from station.units import plain, rounded

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


class Basis(NamedTuple):
    """What a row counts on: its name, and grams of it."""

    name: Literal["meat block", "meat without skin", "mix", "product", "pickle"]
    grams: Fraction


def basis_of(formula: Formula, row: LimitRow, meat_g: Fraction) -> Basis:
    """What a row really counts on: the meat block, which is the stricter, without its skin where
    the row says so. A row on the mix counts on the mix as made where the formula says so; one on
    the product on that, where less becomes product than there was meat."""
    if row.basis == "mix" and formula.basis == "mix":
        return Basis("mix", mix_of(formula, meat_g))
    if row.basis == "product" and (product := product_g(formula, meat_g)) < meat_g:
        return Basis("product", product)
    if row.basis == "pickle" and formula.pickle_water is not None:
        return Basis("pickle", pickle_counted_g(formula, meat_g))
    if row.skin_free:
        return Basis("meat without skin", meat_g * (1 - skin_share(formula)))
    return Basis("meat block", meat_g)


def basis_g(formula: Formula, row: LimitRow, meat_g: Fraction) -> Fraction:
    """Grams of what a row counts on."""
    return basis_of(formula, row, meat_g).grams


def verdict(row: LimitRow, agent_g: Fraction, basis_g: Fraction) -> str:
    """ "within", "over", "under", or "not judged": compared by multiplying out, never rounded."""
    if row.kind in ("residual", "as needed"):
        return "not judged"
    edge = Fraction(row.maximum) * basis_g
    if row.kind == "required":
        return "under" if agent_g < edge else "within"
    return "over" if agent_g > edge else "within"


def shown_ppm(row: LimitRow, agent_g: Fraction, basis_g: Fraction, places: int) -> str:
    """mg/kg to so many decimals, rounded to the side on which it does harm."""
    return plain(rounded(ppm(agent_g, basis_g), places, up=row.kind != "required"))


def lawful_most(
    formula: Formula, rows: Iterable[LimitRow], name: str, meat_g: Fraction
) -> Fraction | None:
    """The most of one line, grams, that the enforced rows leave beside the targets of all others;
    None where none limits it or only a share of it counts."""
    masses, contained = ingoing_masses(formula, meat_g), contents(formula)
    if formula.addition(name).in_pickle:
        return None
    most = []
    for row in rows_for(formula, rows, meat_g):
        if share := row.counted(contained[name]):
            others = counted_g({n: g for n, g in masses.items() if n != name}, contained, row)
            most.append((Fraction(row.maximum) * basis_g(formula, row, meat_g) - others) / share)
    return min(most) if most else None


def check_targets(formula: Formula, rows: Iterable[LimitRow], meat_g: Fraction) -> list[Finding]:
    """Every target against the law: what no row is about, and what is over or under one."""
    rows = tuple(rows)
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
        return f"; pure, it would be {_mg_kg(line_ppm)}; {WHICH}"
    if (agent := agent_name(name)) in AGENTS:
        return f"; pure, it would bring {_mg_kg(line_ppm)} of {agent}"
    found = _mg_kg(line_ppm * _USUAL_PREMIX)
    return f"; as the usual premix of 6.25 % it would bring {found} of sodium nitrite"


def _mg_kg(agent_ppm: Fraction) -> str:
    """As text, where it is compared with no limit: to a hundredth."""
    return f"{plain(round(agent_ppm, 2))} mg/kg"


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


def hangs_on_meat(formula: Formula, lines: Iterable[str]) -> bool:
    """Whether the mg/kg of these lines are others for another weight of meat: a fixed mass beside
    it, a pickle of fixed masses that is immersed in without a known pick-up (method two), or one
    whose water goes by the meat and a line of it does not."""
    of_them = [formula.addition(name) for name in lines]
    if any(line.amount.on == "fixed" and not line.in_pickle for line in of_them):
        return True
    water = formula.pickle_water
    if water is None or not any(line.in_pickle for line in of_them):
        return False
    fixed_inside = any(a.in_pickle and a.amount.on == "fixed" for a in formula.additions)
    if formula.method == "immersion" and formula.pump is None:
        return fixed_inside or water.on == "fixed"
    return fixed_inside and water.on == "meat"


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
    brings: dict[str, Fraction] = {}
    for name, mass in masses.items():
        for agent, share in formula.addition(name).contains.items():
            if agent in ("sodium nitrite", "potassium nitrite"):
                as_sodium = mass * Fraction(share) * factor(agent, "sodium nitrite")
                brings[name] = brings.get(name, Fraction(0)) + as_sodium
    if not brings:
        return []
    found = ppm(sum(brings.values(), Fraction(0)), meat_g)
    low, high = _USUAL_NITRITE.get(formula.method, _USUAL_MG_KG)
    if low <= found <= high:
        return []
    text = (
        f"it would bring {_mg_kg(found)} of sodium nitrite,"
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
        cured = any(_nitrite(agent) for agent in agents) or "cure" in roles
        if cured and (any(_reduces(agent) for agent in agents) or "accelerator" in roles):
            text = "a cure and an accelerator in one vessel: they react"
            if cup == "pickle":  # where both are pumped there is no other way
                text += "; dissolve the accelerator last and use the pickle at once"
            findings.append(Finding(names, "advice", text, "common practice"))
        if any(_nitrite(agent) for agent in agents) and "seasoning" in roles:
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


def _nitrite(agent: str) -> bool:
    return "nitrit" in agent


def cures(agent: str) -> bool:
    """Whether an agent is a nitrite or a nitrate."""
    return "nitrit" in agent or "nitrat" in agent


def _reduces(agent: str) -> bool:
    return "ascorb" in agent or "erythorb" in agent


def is_sulphite(agent: str) -> bool:
    """Whether an agent is sulphur dioxide or one of its salts."""
    return agent == "sulphur dioxide" or "sulphit" in agent


def _no_agent(role: str) -> str:
    return f"a {role} must say which agent it contains and how much of it"
