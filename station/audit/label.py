"""What a label may say of a batch as it was weighed: ingredients, allergens, meat, salt. The maker
and local law decide what it must say."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import msgspec

from station.batch.amounts import actual_g
from station.batch.amounts import found as weighed_as
from station.batch.line import Line
from station.batch.state import Batch
from station.formula.counting import Counting, meat_share
from station.formula.labelling import label_salt, sodium_g
from station.formula.leftover import MEAT
from station.formula.model import Addition, Meat
from station.formula.nutrition import NUTRIENTS, Table100, brings, in_100g
from station.units import plain

NOTE = "The maker and local law decide what a label must say."


class NoLabel(ValueError):
    """The batch cannot have a label; the message says why."""


class Ingredient(msgspec.Struct, frozen=True):
    """`percent`: of all ingredients at the time of mixing; `made_of`: its own ingredients, where it
    is a compound one."""

    name: str
    percent: str
    allergens: tuple[str, ...]
    made_of: tuple[str, ...] = ()


class Nutrient(msgspec.Struct, frozen=True):
    """A row of the nutrition table: energy in kJ and in kcal, the others in g."""

    name: str
    per_100g: str
    unit: str


class Label(msgspec.Struct, frozen=True, kw_only=True):
    """`meat_percent`: meat as the law counts it, of the finished product, None where the lines of
    meat do not all give species and fat. `salt_g_per_100g`: what was added, of the product, and the
    meat's own where every line tells what is in it; then there is a `nutrition` table, too. `notes`
    say what those figures leave out."""

    batch: str
    formula: str
    simulated: bool
    ingredients: tuple[Ingredient, ...]
    allergens: tuple[str, ...]
    meat_percent: str | None
    salt_g_per_100g: str
    nutrition: tuple[Nutrient, ...]
    notes: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class _Part:
    """One thing that went in, grams; `of`: the ingredient that it counts as, `compound` where that
    is made of several; `agents`: what its bag holds, `blend` how much of each."""

    name: str
    grams: Fraction
    allergens: tuple[str, ...]
    of: str
    agents: tuple[str, ...] = ()
    compound: bool = False
    blend: Mapping[str, Fraction] = field(default_factory=dict)


def label(batch: Batch, counting: Counting) -> Label:
    """From what was weighed in, less what clung to the vessels.

    Ingredients stand in descending order of weight at the time of mixing (Regulation (EU) No
    1169/2011, Art. 18; 21 CFR 101.4). A quantity is the ingoing weight to that of the finished
    product where moisture is lost (the same, Annex VIII). Raises `NoLabel`.
    """
    parts = [*_meats(batch), *_lines(batch), *_leftovers(batch), *_counted(batch)]
    mix = sum((part.grams for part in parts), Fraction(0))
    if mix <= 0:
        raise NoLabel("nothing was weighed in")
    product = mix * (1 - Fraction(batch.formula.loss))
    ingredients = tuple(_ingredients(parts, mix))
    weighed = {name: meat.meat_g for name, meat in batch.meats.items()}
    counted = meat_share(batch.formula, weighed, counting)
    meat = None if counted is None else quantity(counted * Fraction(batch.meat_g), product)
    told, lacking = _in_100g(batch, parts, product, counting)
    sodium = sodium_g(actual_g(batch), weighed_as(batch)) * 100 / product
    if told is not None:
        sodium = told.sodium
    salt = plain(label_salt(sodium, counting))
    nutrition = () if told is None else tuple(_rows(told, salt))
    allergens = tuple(dict.fromkeys(name for one in ingredients for name in one.allergens))
    notes = tuple(_notes(batch, counted, counting, nutrition, lacking))
    return Label(
        batch=batch.id,
        formula=batch.formula.name,
        simulated=batch.opened.simulated,
        ingredients=ingredients,
        allergens=allergens,
        meat_percent=meat,
        salt_g_per_100g=salt,
        nutrition=nutrition,
        notes=notes,
        text=_text(batch, ingredients, meat, product, salt, nutrition, notes),
    )


def quantity(ingoing_g: Fraction, product_g: Fraction) -> str:
    """Percent of the finished product, one decimal: more than 100 where moisture is lost."""
    return plain(round(ingoing_g * 100 / product_g, 1))


def said_quantity(name: str, ingoing_g: Fraction, product_g: Fraction) -> str:
    """The quantity in the words of a label: over 100 % in grams to 100 g of product."""
    percent = quantity(ingoing_g, product_g)
    if ingoing_g > product_g:
        return f"made with {round(ingoing_g * 100 / product_g)} g of {name} per 100 g"
    return f"{name} {percent} %"


def _meats(batch: Batch) -> Iterator[_Part]:
    for meat in batch.formula.meats:
        if (grams := Fraction(batch.meats[meat.name].fresh_g)) > 0:
            yield _Part(meat.name, grams, (), meat.species or meat.name)


def _leftovers(batch: Batch) -> Iterator[_Part]:
    """What went in with what is left of other batches: its meat as the meat that it was weighed as,
    a line of the formula as that one, any other under its own name."""
    wholes = {line.addition.name: line.addition.part_of for line in batch.lines.values()}
    for load, lot in batch.reworked:
        (meat,) = (one for one in batch.formula.meats if one.name == load.line)
        for part in lot.parts:
            grams = Fraction(load.net_g) * Fraction(part.share)
            if part.role == MEAT:
                yield _Part(meat.name, grams, (), meat.species or meat.name)
                continue
            whole = wholes.get(part.name)
            agents = tuple(part.contains) if len(part.contains) > 1 else ()
            of, compound = whole or part.name, whole is not None
            blend = {name: Fraction(share) for name, share in part.contains.items()}
            yield _Part(part.name, grams, part.allergens, of, agents, compound, blend)


def _lines(batch: Batch) -> Iterator[_Part]:
    for line in batch.lines.values():
        if line.unknown:
            raise NoLabel(f"nobody knows how much {line.name} is in the mix")
        if line.standing:
            raise NoLabel(f"{line.name} still stands")
        grams = line.counts_g
        if grams > 0:
            addition = line.addition
            of = addition.part_of or addition.name
            whole = of == addition.name
            yield _Part(
                addition.name, grams, addition.allergens, of, _agents(line), not whole, line.blend
            )


def _counted(batch: Batch) -> Iterator[_Part]:
    """What went in by the piece, and what a leftover brought of such: without a weight, and with
    its allergens."""
    for addition in batch.formula.additions:
        if addition.amount.on == "count" and addition.name in batch.steps_done:
            yield _Part(addition.name, Fraction(0), addition.allergens, addition.name)
    for load, lot in batch.reworked:
        if lot.besides:
            yield _Part(f"leftover {load.lot}", Fraction(0), lot.besides, f"leftover {load.lot}")


def _agents(line: Line) -> tuple[str, ...]:
    """What a line is made of by its bag, most first; nothing where that is one thing."""
    found = sorted(line.blend.items(), key=lambda item: (-item[1], item[0]))
    return tuple(agent for agent, _ in found) if len(found) > 1 else ()


def _ingredients(parts: list[_Part], mix: Fraction) -> Iterator[Ingredient]:
    groups: dict[str, list[_Part]] = {}
    for part in parts:
        groups.setdefault(part.of, []).append(part)

    def grams(name: str) -> Fraction:
        return sum((part.grams for part in groups[name]), Fraction(0))

    for name in sorted(groups, key=lambda name: (-grams(name), name)):
        mine = sorted(groups[name], key=lambda part: -part.grams)
        of_parts = [part for part in mine if part.compound]
        made_of = tuple(_with_allergens(part.name, part.allergens) for part in of_parts)
        made_of = made_of or mine[0].agents
        allergens = tuple(dict.fromkeys(word for part in mine for word in part.allergens))
        yield Ingredient(name, quantity(grams(name), mix), allergens, made_of)


def _with_allergens(name: str, allergens: tuple[str, ...]) -> str:
    """The name, and each allergen that it does not say itself, emphasised."""
    more = [word.upper() for word in allergens if word.lower() not in name.lower()]
    for word in allergens:
        name = name.replace(word, word.upper())
    return f"{name} ({', '.join(more)})" if more else name


def _in_100g(
    batch: Batch, parts: list[_Part], product: Fraction, counting: Counting
) -> tuple[Table100 | None, list[str]]:
    """What is in 100 g, None where a line does not tell what is in it, or nobody says what energy
    that is; and which ones those are. No line is asked where none tells it."""
    formula, known, lacking = batch.formula, [], []
    lines: dict[str, Meat | Addition] = {meat.name: meat for meat in formula.meats}
    lines |= {addition.name: addition for addition in formula.additions}
    for part in parts:
        if not part.grams:
            continue
        line = lines.get(part.name)
        found = None if line is None else brings(line, part.blend)
        if found is None or (found.sodium is None and isinstance(line, Meat)):
            lacking.append(part.name)
            continue
        known.append(
            (part.grams, found, sodium_g({part.name: part.grams}, {part.name: part.blend}))
        )
    if not any(line.nutrition for line in lines.values()):
        return None, []
    if lacking or counting.energy is None:
        return None, lacking or ["energy in label.toml"]
    return in_100g(known, product, counting.energy), []


def _rows(told: Table100, salt: str) -> Iterator[Nutrient]:
    """In the order of Regulation (EU) No 1169/2011, Annex XV (from memory)."""
    yield Nutrient("energy", str(round(told.kj)), "kJ")
    yield Nutrient("energy", str(round(told.kcal)), "kcal")
    for name in NUTRIENTS:
        if name != "fibre" or told.grams[name]:
            called = f"of which {name}" if name in ("saturates", "sugars") else name
            yield Nutrient(called, plain(round(told.grams[name], 1)), "g")
    yield Nutrient("salt", salt, "g")


def _notes(
    batch: Batch,
    counted: Fraction | None,
    counting: Counting,
    nutrition: tuple[Nutrient, ...],
    lacking: list[str],
) -> Iterator[str]:
    if counted is None:
        yield "the meat content is not worked out: a meat line lacks its species or its fat"
    elif counted < 1:
        percent = quantity(1 - counted, Fraction(1))
        source = counting.fat_limit(batch.formula).source
        yield f"{percent} % of the meat is fat above the limit, and counts as fat ({source})"
    if nutrition and counting.energy is not None:
        yield (
            "the nutrition table is worked out from what the formula tells of each line, before"
            f" it is cooked; energy by {counting.energy.source}"
        )
    else:
        if lacking:
            yield f"there is no nutrition table: nutrition is not told of {', '.join(lacking)}"
        yield "salt is what was added; the meat's own is not in it"
    for lot in dict.fromkeys(load.lot for load, _ in batch.reworked):
        yield f"{lot} is in it, left of another batch: its meat is counted as that of its line"
    if batch.end != "closed":
        yield f"the batch is {batch.end or 'not closed'}"
    if batch.hold:
        yield "the batch is on hold"


def _text(
    batch: Batch,
    ingredients: tuple[Ingredient, ...],
    meat: str | None,
    product: Fraction,
    salt: str,
    nutrition: tuple[Nutrient, ...],
    notes: tuple[str, ...],
) -> str:
    species = {meat.species or meat.name for meat in batch.formula.meats}
    words = []
    for one in ingredients:
        said = one.name if one.made_of else _with_allergens(one.name, one.allergens)
        if one.name in species:
            said += f" {one.percent} %"
        words.append(f"{said} ({', '.join(one.made_of)})" if one.made_of else said)
    lines = [batch.formula.name, f"Ingredients: {', '.join(words)}."]
    if meat is not None:
        grams = Fraction(meat) * product / 100
        lines.append(f"Meat content: {said_quantity('meat', grams, product)}.")
    if nutrition:
        told = ", ".join(f"{row.name} {row.per_100g} {row.unit}" for row in nutrition)
        lines.append(f"In 100 g: {told}.")
    else:
        lines.append(f"Salt: {salt} g per 100 g.")
    return "\n".join([*lines, *(f"Note: {note}." for note in notes), NOTE])
