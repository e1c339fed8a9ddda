"""The usual cautions of the trade, each where it applies and nowhere else. None of them refuses."""

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

import msgspec

from station import units
from station.formula.finding import Finding
from station.formula.masses import ATOMS, molar_g
from station.formula.model import SPECIES, Addition, Formula, Step
from station.formula.names import cures
from station.formula.salting import eaten_raw
from station.tomlfile import TomlFile
from station.units import plain, rounded

_TRICHINAE = frozenset({"pork", "wild boar", "horse"})

_HOT_C = 50
_HEATS = re.compile(r"\b(?:cook|heat|scald|poach|boil|simmer|steam|bake|roast)")
_COOLS = re.compile(r"\b(?:cool|chill|ice bath|cold water|shower)")

_NAMES_OF: Mapping[str, str] = MappingProxyType(
    {
        "milk": r"milk|lactose|whey|casein\w*|cream|butter|cheese",
        "wheat": r"wheat|rusk|bread|(?:bread ?)?crumbs?|semolina|spelt",
        "gluten": r"wheat|gluten|rusk|bread|(?:bread ?)?crumbs?|barley|rye|spelt|semolina|beer",
        "soya": r"soya?|tofu",
        "egg": r"eggs?|albumen",
        "mustard": r"mustard",
        "celery": r"celery|celeriac",
        "sesame": r"sesame|tahini",
        "lupin": r"lupins?",
        "fish": r"fish|anchov\w+",
        "peanut": r"peanuts?|groundnuts?",
        "nuts": r"almonds?|hazelnuts?|walnuts?|pistachios?|cashews?|pecans?",
    }
)
"""Words in a line's name that mean an allergen (common practice)."""
_ALSO: Mapping[str, str] = MappingProxyType({"gluten": r"wheat|barley|rye|oats?|spelt|cereals?"})
"""What else an allergen is listed as."""
ALLERGENS = tuple(_NAMES_OF)


class Quoted(msgspec.Struct, frozen=True):
    """What the cautions quote, as texts with their sources: how fast what was heated cools, without
    and with a cure in it, and how meat is frozen against trichinae."""

    cooling: str
    cooling_cured: str
    cooling_source: str
    frozen: str
    frozen_source: str


def parse_quoted(text: str, filename: str) -> Quoted:
    """Read cautions.toml. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    cooling, trichinae = file.top.table("cooling"), file.top.table("trichinae")
    quoted = Quoted(
        cooling.text("within"),
        cooling.text("cured"),
        cooling.text("source"),
        trichinae.text("frozen"),
        trichinae.text("source"),
    )
    for table in (cooling, trichinae, file.top):
        table.finish()
    file.finish()
    return quoted


def cautions(formula: Formula, allergens: Iterable[str], quoted: Quoted) -> list[Finding]:
    """What a colleague would say of the work; `allergens` are those that must be declared."""
    return [
        *_raw(formula, quoted),
        *_cooling(formula, quoted),
        *(found for line in formula.additions for found in _of_line(formula, line, allergens)),
    ]


def _raw(formula: Formula, quoted: Quoted) -> list[Finding]:
    species = {meat.species for meat in formula.meats}
    if not eaten_raw(formula) or not species & _TRICHINAE:
        return []
    names = " and ".join(name for name in SPECIES if name in species & _TRICHINAE)
    text = (
        f"{names} that is eaten raw: only meat that was tested for trichinae, or frozen long enough"
        f" ({quoted.frozen}); ask the local authority"
    )
    return [Finding(formula.name, "advice", text, quoted.frozen_source)]


def _cooling(formula: Formula, quoted: Quoted) -> list[Finding]:
    """Where the steps tell of heat and not of what comes after it."""
    cooled = any(_COOLS.search(step.name.casefold()) for step in formula.steps)
    if cooled or not any(map(heats, formula.steps)):
        return []
    cured = any(cures(agent) for line in formula.additions for agent in line.contains)
    within = quoted.cooling_cured if cured else quoted.cooling
    text = f"no step says how it cools after the heat: from 130 to 80 degF within {within}"
    return [Finding(formula.name, "advice", text, quoted.cooling_source)]


def heats(step: Step) -> bool:
    """Whether a step heats what it is done to, by its temperature or its name."""
    if step.temperature is not None:
        least, most = units.least_and_most(step.temperature, units.celsius)
        if (most if least is None else least) >= _HOT_C:  # type: ignore[operator]
            return True
    return bool(_HEATS.search(step.name.casefold()))


def _of_line(formula: Formula, line: Addition, allergens: Iterable[str]) -> list[Finding]:
    texts = [*_nitrate(formula, line), *_accelerator(formula, line), *_monohydrate(line)]
    found = [Finding(line.name, "advice", text, "common practice") for text in texts]
    return found + _allergens(formula, line, allergens)


def _nitrate(formula: Formula, line: Addition) -> list[str]:
    slow = {"dried", "fermented"} & set(formula.product) or formula.method == "dry"
    if slow or not any("nitrat" in agent for agent in line.contains):
        return []
    return ["nitrate works only after weeks of ripening: in a quick product it is left unused"]


def _accelerator(formula: Formula, line: Addition) -> list[str]:
    """An accelerator that the cure would come after; in one vessel with it another word is said."""
    if line.role != "accelerator" or line.in_pickle:
        return []
    behind = formula.additions[formula.additions.index(line) :]
    if not any(other.role == "cure" for other in behind):
        return []
    return ["an accelerator goes in last, behind the cure, and the mix is used at once"]


_WATER_G = 2 * ATOMS["H"] + ATOMS["O"]


def _monohydrate(line: Addition) -> list[str]:
    agent = "sodium erythorbate"
    pure = molar_g(agent)
    most = rounded(pure * 100 / (pure + _WATER_G), 2, up=False)
    if agent not in line.contains or line.contains[agent] * 100 <= most:
        return []
    return [f"sold as the monohydrate it is {plain(most)} % {agent}: compare the bag"]


def _allergens(formula: Formula, line: Addition, allergens: Iterable[str]) -> list[Finding]:
    """Allergens that the name of a line, or of what it is a part of, says and nobody listed."""
    name = f"{line.name} {line.part_of or ''}".casefold()
    group = line.part_of or line.name
    cup = [other for other in formula.additions if (other.part_of or other.name) == group]
    listed = " ".join(text for other in cup for text in other.allergens).casefold()
    missing = [
        allergen
        for allergen in allergens
        if re.search(rf"\b(?:{_NAMES_OF[allergen]})\b", name)
        and not re.search(rf"\b(?:{_NAMES_OF[allergen]}|{_ALSO.get(allergen, allergen)})", listed)
    ]
    return [
        Finding(
            line.name,
            "advice",
            f'its name says {allergen}, an allergen: list it, allergens = ["{allergen}"]',
            "the allergens of the limits file; what is in a bag stands on the bag",
        )
        for allergen in missing
    ]
