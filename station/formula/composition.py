"""What a mix is made of, as food law counts it: fat, added water, binders, meat. Exact fractions.

Only where the meat lines say their fat and species; what nobody gave is not judged.
"""

from fractions import Fraction
from typing import Literal, NamedTuple

import msgspec

from station import units
from station.formula.curing import Finding
from station.formula.model import Formula
from station.formula.scaling import mix_of, planned_masses
from station.tomlfile import Table, TomlFile
from station.units import plain

What = Literal["fat", "added water", "fat and added water", "binders", "meat"]

FAT_LIMIT = {"pork": Fraction(30, 100), "poultry": Fraction(15, 100), "rabbit": Fraction(15, 100)}
"""Fat that still counts as meat, by species; 25 % for every other mammal and for mixtures with one
(Regulation (EU) No 1169/2011, Annex VII, part B, point 17; connective tissue is left out)."""
OTHER_FAT_LIMIT = Fraction(25, 100)


class Rule(msgspec.Struct, frozen=True):
    """One rule: `what`, of all ingredients, at most `most` or at least `least` as a fraction.

    It holds when all its product words are among the formula's, and one of its species is among the
    meat's where it names any.
    """

    words: tuple[str, ...]
    species: tuple[str, ...]
    what: What
    most: Fraction | None
    least: Fraction | None
    source: str
    seen: bool


class Composition(NamedTuple):
    """Shares of all ingredients; None where the meat lines do not say enough."""

    fat: Fraction | None
    added_water: Fraction
    binders: Fraction
    meat: Fraction | None


def parse_rules(text: str, filename: str) -> tuple[Rule, ...]:
    """The [[composition]] tables of a limits file. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    rules = tuple(_rule(table) for table in file.top.tables("composition"))
    file.finish()
    return rules


def _rule(table: Table) -> Rule:
    limits = {}
    for key in ("most", "least"):
        value = table.parsed(key, units.fraction, None) if table.has(key) else None
        limits[key] = None if value is None else Fraction(value)
    if limits["most"] is None and limits["least"] is None:
        table.mistake("most", "missing, expected most or least")
    rule = Rule(
        words=table.texts("words"),
        species=table.texts("species"),
        what=table.choice("what", What.__args__),  # type: ignore[arg-type,attr-defined]
        most=limits["most"],
        least=limits["least"],
        source=table.text("source"),
        seen=table.flag("seen", False),
    )
    table.finish()
    return rule


def meat_counted(fat: Fraction, limit: Fraction) -> Fraction:
    """How much of a meat counts as meat: fat above the limit does not.

    With F of fat and a limit L, what counts is (1 - F) / (1 - L) of it, since of what counts L may
    be fat (computed from the definition).
    """
    return Fraction(1) if fat <= limit else (1 - fat) / (1 - limit)


def composition(formula: Formula) -> Composition:
    """The shares of all ingredients of a formula, from its planned masses."""
    meat_g = Fraction(1000)
    masses, mix = planned_masses(formula, meat_g), mix_of(formula, meat_g)
    roles = {addition.name: addition.role for addition in formula.additions}
    water = sum((g for name, g in masses.items() if roles[name] == "water"), Fraction(0))
    binders = sum((g for name, g in masses.items() if roles[name] == "binder"), Fraction(0))
    fat = counted = None
    if all(meat.fat is not None for meat in formula.meats):
        shares = [(Fraction(meat.share), Fraction(meat.fat or 0)) for meat in formula.meats]
        in_meat = sum((share * part for share, part in shares), Fraction(0))
        fat = in_meat * meat_g / mix
        if all(meat.species for meat in formula.meats):
            counted = meat_counted(in_meat, _fat_limit(formula)) * meat_g / mix
    return Composition(fat, water / mix, binders / mix, counted)


def _fat_limit(formula: Formula) -> Fraction:
    """The species' own limit; a mixture falls under the one of other mammals, unless all are birds
    or rabbits."""
    limits = {FAT_LIMIT.get(meat.species or "", OTHER_FAT_LIMIT) for meat in formula.meats}
    return limits.pop() if len(limits) == 1 else OTHER_FAT_LIMIT


def judge(formula: Formula, rules: tuple[Rule, ...]) -> list[Finding]:
    """What the rules say of a formula; a share that nobody knows is left out."""
    words = set(formula.product)
    species = {meat.species for meat in formula.meats}
    found = composition(formula)
    both = None if found.fat is None else found.fat + found.added_water
    shares: dict[str, Fraction | None] = {
        "fat": found.fat,
        "added water": found.added_water,
        "fat and added water": both,
        "binders": found.binders,
        "meat": found.meat,
    }
    findings = []
    for rule in rules:
        share = shares[rule.what]
        if not set(rule.words) <= words or (rule.species and not species & set(rule.species)):
            continue
        if share is None:
            continue
        over = rule.most is not None and share > rule.most
        under = rule.least is not None and share < rule.least
        if over or under:
            edge = rule.most if over else rule.least
            side = f"{'over' if over else 'under'} {_percent(edge)} %"
            text = f"{rule.what} {_percent(share)} % of all ingredients is {side}"
            severity: Literal["broken", "advice"] = "broken" if rule.seen else "advice"
            findings.append(Finding(formula.name, severity, text, rule.source))
    return findings


def _percent(share: Fraction | None) -> str:
    return plain(round((share or Fraction(0)) * 100, 2))
