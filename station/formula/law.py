"""A formula before the law of one authority: everything that is to be said of it."""

from fractions import Fraction
from typing import NamedTuple

from msgspec.structs import replace

from station.formula.cautions import ALLERGENS, Quoted, cautions
from station.formula.cold import ColdRow, check_cold, cold_of
from station.formula.composition import Rule, judge, rules_of
from station.formula.counting import Counting
from station.formula.curing import check_targets
from station.formula.finding import Finding
from station.formula.ingoing import contents
from station.formula.labelling import label_salt, sodium_g
from station.formula.limits import LimitRow, about, in_force, limits_of
from station.formula.model import CONTRADICTING, PRODUCT_WORDS, Formula
from station.formula.names import cures, from_vegetable, is_sulphite
from station.formula.salting import SaltRow, check_salt
from station.formula.scaling import ingoing_masses, mix_of
from station.tomlfile import Table, TomlFile
from station.units import plain


class Common(NamedTuple):
    """What is told whoever the authority: what counts as meat and as salt, what the cautions quote,
    what is usual of salt."""

    counting: Counting
    quoted: Quoted
    salt: tuple[SaltRow, ...] = ()


class Sulphites(NamedTuple):
    """From how much on sulphites are an allergen, as text, and who says so."""

    over: str
    source: str


class Law(NamedTuple):
    """What one authority says: limits rows in force, composition rules, whether its labels count
    all sodium as salt, and the day (YYYY-MM-DD) as of which it is told; what is common to all; the
    allergens that must be declared, sulphites among them or not; what else is to be known of it;
    the source of its ban on nitrite from vegetables without approval, where it has one; how cold it
    must be."""

    rows: tuple[LimitRow, ...]
    rules: tuple[Rule, ...]
    label_salt: bool
    day: str
    common: Common
    allergens: tuple[str, ...] = ()
    sulphites: Sulphites | None = None
    note: str = ""
    vegetable_nitrite: str = ""
    cold: tuple[ColdRow, ...] = ()


def parse_law(text: str, filename: str, day: str, common: Common) -> Law:
    """A whole limits file as it is in force on a day, YYYY-MM-DD. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    rows, rules = limits_of(file), rules_of(file)
    label_salt = file.top.flag("label_salt", False)
    allergens = file.top.texts("allergens")
    file.top.known("allergens", allergens, ALLERGENS)
    note, vegetable = file.top.text("note", ""), file.top.text("vegetable_nitrite", "")
    sulphites = _parse_sulphites(file.top) if file.top.has("sulphites") else None
    cold = cold_of(file)
    file.finish()
    return Law(
        in_force(rows, day),
        rules,
        label_salt,
        day,
        common,
        allergens=allergens,
        sulphites=sulphites,
        note=note,
        vegetable_nitrite=vegetable,
        cold=cold,
    )


def _parse_sulphites(top: Table) -> Sulphites:
    table = top.table("sulphites")
    found = Sulphites(table.text("over"), table.text("source"))
    table.finish()
    return found


def with_own(law: Law, text: str, filename: str) -> Law:
    """The law and beside it the maker's own rows and rules, which only limit or advise. Raises
    `FileMistakes`."""
    own = parse_law(text, filename, law.day, law.common)
    return law._replace(
        rows=law.rows + own.rows, rules=law.rules + own.rules, cold=law.cold + own.cold
    )


_STATES = frozenset({"cooked", "fresh", "raw", "fermented", "dried"})


def findings(formula: Formula, law: Law, meat_g: Fraction) -> list[Finding]:
    """All that the law says of the targets for `meat_g` grams of meat."""
    found = check_targets(formula, law.rows, meat_g)
    found += judge(formula, law.rules, law.common.counting, meat_g)
    found += _from_vegetables(formula, law.vegetable_nitrite)
    found += check_salt(formula, law.common.salt, meat_g)
    rows = [row for row in about(formula, law.rows, meat_g) if row.words]
    if not rows and not any(rule.words and rule.holds(formula) for rule in law.rules):
        text = f"no limits row is about {' '.join(formula.product)}, {formula.method}"
        found.append(Finding(formula.name, "advice", text, "positive list"))
    if "sausage" in formula.product and not set(formula.product) & _STATES:
        text = f"what a sausage may hold hangs on its state: say {' or '.join(sorted(_STATES))}"
        found.append(Finding(formula.name, "advice", text, "common practice"))
    found += check_cold(formula, law.cold)
    found += cautions(formula, law.allergens, law.common.quoted) + _sulphited(formula, law)
    if law.label_salt:
        counting = law.common.counting
        masses = ingoing_masses(formula, meat_g)
        sodium = sodium_g(masses, contents(formula)) * 100 / mix_of(formula, meat_g)
        text = (
            f"on the label: {label_salt(sodium, counting)} g of salt in 100 g of mix"
            f" (sodium x {plain(counting.salt_per_sodium)}) from what is added;"
            " the meat's own and what drying takes away come on top"
        )
        found.append(Finding(formula.name, "advice", text, counting.salt_source))
    return found


def _sulphited(formula: Formula, law: Law) -> list[Finding]:
    """Sulphites that nobody lists as the allergen that they are."""
    listed = {allergen.casefold() for line in formula.additions for allergen in line.allergens}
    lines = [line.name for line in formula.additions if any(map(is_sulphite, line.contains))]
    if law.sulphites is None or not lines or listed & _SULPHITES_LISTED:
        return []
    text = f"more than {law.sulphites.over} of sulphites is an allergen: list it,"
    text += ' allergens = ["sulphites"]'
    return [Finding(", ".join(lines), "advice", text, law.sulphites.source)]


_SULPHITES_LISTED = {"sulphites", "sulfites", "sulphur dioxide"}


def _from_vegetables(formula: Formula, source: str) -> list[Finding]:
    """Nitrite that a name says is from a vegetable: an additive, which wants approval."""
    found = []
    for line in formula.additions if source else ():
        named = from_vegetable(line.name) or from_vegetable(line.part_of or "")
        if not named or not any(cures(agent) for agent in line.contains):
            continue
        if line.approved:
            text = f"nitrite from a vegetable, approved by {line.approved}, as the maker says"
            found.append(Finding(line.name, "advice", text, source))
        else:
            text = "nitrite from a vegetable is an additive that wants approval here:"
            text += ' approved = "by whom"'
            found.append(Finding(line.name, "broken", text, source))
    return found


def other_words(formula: Formula, law: Law, meat_g: Fraction) -> dict[str, int]:
    """Product words that would change the verdict if they were true, each alone beside the
    formula's own: word -> how much would be broken then."""

    def broken(product: tuple[str, ...]) -> int:
        found = findings(replace(formula, product=product), law, meat_g)
        return sum(finding.severity == "broken" for finding in found)

    have, now = set(formula.product), broken(formula.product)
    told = {}
    for word in PRODUCT_WORDS:
        against = {
            other for pair in CONTRADICTING if word in pair for other in pair if other != word
        }
        if word in have or against & have:
            continue
        then = broken((*formula.product, word))
        if then != now:
            told[word] = then
    return told
