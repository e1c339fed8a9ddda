"""What a mix is made of, as food law counts it: fat, added water, binders, meat. Exact fractions.

Only where the meat lines say their fat and species; what nobody gave is not judged.
"""

from fractions import Fraction
from typing import Literal, NamedTuple

import msgspec

from station import units
from station.formula.counting import Counting, meat_share
from station.formula.finding import Finding
from station.formula.limits import SOY
from station.formula.model import PRODUCT_WORDS, SPECIES, Addition, Formula, all_of
from station.formula.scaling import (
    binder_share,
    ingoing_masses,
    mix_of,
    pickle_water_g,
    planned_masses,
)
from station.tomlfile import Table, TomlFile
from station.units import plain, rounded

What = Literal[
    "fat",
    "added water",
    "fat and added water",
    "binders",
    "isolated soy protein",
    "meat",
    "meat block",
]


class Rule(msgspec.Struct, frozen=True):
    """One rule: `what`, of all ingredients or of the product as planned, at most `most` or at least
    `least` as a fraction.

    It holds when all its product words are among the formula's and none of `not_words` is; one of
    its species must be among the meat's where it names any, and where it names `only` no other than
    those; where it names `not_only` some other must be among them. In a file "birds" and "mammals"
    stand for all of them.
    """

    words: tuple[str, ...]
    not_words: tuple[str, ...]
    species: tuple[str, ...]
    not_only: tuple[str, ...]
    only: tuple[str, ...]
    what: What
    most: Fraction | None
    least: Fraction | None
    source: str
    seen: bool
    of: Literal["all ingredients", "product"] = "all ingredients"

    @property
    def by_species(self) -> bool:
        """Whether it hangs on what the meat is of."""
        return bool(self.species or self.not_only or self.only)

    def holds(self, formula: Formula) -> bool:
        """Whether it is about this formula."""
        words, species = set(formula.product), {meat.species for meat in formula.meats}
        return (
            set(self.words) <= words
            and not words & set(self.not_words)
            and (not self.species or bool(species & set(self.species)))
            and not (self.not_only and species <= set(self.not_only))
            and (not self.only or species <= set(self.only))
        )


class Composition(NamedTuple):
    """Shares of all ingredients; None where the meat lines do not say enough. `meat_most` is what
    counts as meat at most, whatever the fat."""

    fat: Fraction | None
    added_water: Fraction
    binders: Fraction
    soy: Fraction
    meat: Fraction | None
    meat_most: Fraction


def parse_rules(text: str, filename: str) -> tuple[Rule, ...]:
    """The [[composition]] tables of a limits file. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    rules = rules_of(file)
    file.finish()
    return rules


def rules_of(file: TomlFile) -> tuple[Rule, ...]:
    """The same of a file that is read already; mistakes are noted in it."""
    return tuple(_rule(table) for table in file.top.tables("composition"))


def _rule(table: Table) -> Rule:
    limits = {}
    for key in ("most", "least"):
        value = table.parsed(key, units.fraction, None) if table.has(key) else None
        limits[key] = None if value is None else Fraction(value)
    if limits["most"] is None and limits["least"] is None:
        table.mistake("most", "missing, expected most or least")
    rule = Rule(
        words=table.texts("words"),
        not_words=table.texts("not_words"),
        species=all_of(table.texts("species")),
        not_only=all_of(table.texts("not_only")),
        only=all_of(table.texts("only")),
        what=table.choice("what", What.__args__),  # type: ignore[arg-type,attr-defined]
        most=limits["most"],
        least=limits["least"],
        source=table.text("source"),
        seen=table.flag("seen", False),
        of=table.choice("of", ("all ingredients", "product"), default="all ingredients"),  # type: ignore[arg-type]
    )
    table.known("words", (*rule.words, *rule.not_words), PRODUCT_WORDS)
    table.known("species", (*rule.species, *rule.not_only, *rule.only), SPECIES)
    table.finish()
    return rule


def composition(
    formula: Formula, counting: Counting, meat_g: Fraction = Fraction(10_000)
) -> Composition:
    """The shares of all ingredients of a formula, from its masses planned for `meat_g` of meat."""
    mix = mix_of(formula, meat_g)
    grams = {meat.name: Fraction(meat.share) * meat_g for meat in formula.meats}
    fat = counted = None
    if all(meat.fat is not None for meat in formula.meats):
        parts = [grams[meat.name] * Fraction(meat.fat or 0) for meat in formula.meats]
        fat = sum(parts, Fraction(0)) / mix
    if (share := meat_share(formula, grams, counting)) is not None:
        counted = share * meat_g / mix
    water = _water_g(formula, meat_g) / mix
    masses = ingoing_masses(formula, meat_g)
    soy = sum(
        (mass * Fraction(formula.addition(n).contains.get(SOY, 0)) for n, mass in masses.items()),
        Fraction(0),
    )
    return Composition(fat, water, binder_share(formula, meat_g), soy / mix, counted, meat_g / mix)


def finished(found: Composition, loss: Fraction) -> Composition:
    """The same as shares of the product, where `loss` of the mix is lost: all of that is taken to
    be water, the added first (planned, not measured)."""
    left = 1 - loss
    return Composition(
        None if found.fat is None else found.fat / left,
        max(found.added_water - loss, Fraction(0)) / left,
        found.binders / left,
        found.soy / left,
        None if found.meat is None else found.meat / left,
        found.meat_most / left,
    )


def _water_g(formula: Formula, meat_g: Fraction) -> Fraction:
    """Grams of added water: the lines of water, what other lines contain of it, and what is pumped
    in or picked up."""
    water = pickle = wet = Fraction(0)
    for name, mass in planned_masses(formula, meat_g).items():
        addition = formula.addition(name)
        share = _water_share(addition)
        if addition.in_pickle:
            pickle, wet = pickle + mass, wet + mass * share
        else:
            water += mass * share
    if formula.pickle_water is not None and formula.pump is not None:
        own = pickle_water_g(formula, meat_g)
        water += Fraction(formula.pump) * meat_g * (own + wet) / (own + pickle)
    return water


def _water_share(addition: Addition) -> Fraction:
    if addition.role == "water":
        return Fraction(1)
    return Fraction(addition.contains.get("water", 0))


def judge(
    formula: Formula,
    rules: tuple[Rule, ...],
    counting: Counting,
    meat_g: Fraction = Fraction(10_000),
) -> list[Finding]:
    """What the rules say of a formula; a share that nobody knows is left out, and said so."""
    mixed = composition(formula, counting, meat_g)
    parts = {
        "all ingredients": _shares(mixed),
        "product": _shares(finished(mixed, Fraction(formula.loss))),
    }
    findings = [finding for line in formula.additions for finding in _by_its_name(line)]
    if not all(meat.species for meat in formula.meats):
        findings += _by_species(formula, rules)
        rules = tuple(rule for rule in rules if not rule.by_species)
    for rule in rules:
        if not rule.holds(formula):
            continue
        shares = parts[rule.of]
        share = shares[rule.what]
        if share is None and rule.what == "meat" and mixed.meat_most < (rule.least or 0):
            share = mixed.meat_most  # even if none of it were too fat
        if share is None:
            text = f"{rule.what} is not judged: the meat lines do not say their fat and species"
            if not any(finding.text == text for finding in findings):
                findings.append(Finding(formula.name, "advice", text, rule.source))
            continue
        over = rule.most is not None and share > rule.most
        under = rule.least is not None and share < rule.least
        if over or under:
            edge = (rule.most if over else rule.least) or Fraction(0)
            side = f"{'over' if over else 'under'} {plain(edge * 100)} %"
            shown = plain(rounded(share * 100, 2, up=over))
            text = f"{rule.what} {shown} % of {_of(formula, rule)} is {side}"
            severity: Literal["broken", "advice"] = "broken" if rule.seen else "advice"
            findings.append(Finding(formula.name, severity, text, rule.source))
    return findings


def _shares(found: Composition) -> dict[str, Fraction | None]:
    both = None if found.fat is None else found.fat + found.added_water
    return {
        "fat": found.fat,
        "added water": found.added_water,
        "fat and added water": both,
        "binders": found.binders,
        SOY: found.soy,
        "meat": found.meat,
        "meat block": found.meat_most,
    }


def _of(formula: Formula, rule: Rule) -> str:
    if rule.of == "all ingredients":
        return rule.of
    return f"the product, at a planned loss of {plain(formula.loss * 100)} %,"


def _by_species(formula: Formula, rules: tuple[Rule, ...]) -> list[Finding]:
    """What is not judged because a meat line does not say its species."""
    words = set(formula.product)
    unknown = {
        rule.what: Finding(
            formula.name,
            "advice",
            f"{rule.what} is not judged: a meat line does not say its species",
            rule.source,
        )
        for rule in rules
        if rule.by_species and set(rule.words) <= words and not words & set(rule.not_words)
    }
    return list(unknown.values())


_WATERY = ("water", "ice")


def _by_its_name(addition: Addition) -> list[Finding]:
    if _water_share(addition) or not set(addition.name.casefold().split()) & set(_WATERY):
        return []
    text = 'its name says water and it is not counted as such: role = "water"'
    return [Finding(addition.name, "advice", text, "common practice")]
