"""The formula file: TOML text to a `Formula`, with one message per mistake."""

import re
from collections.abc import Iterable
from decimal import Decimal
from typing import cast

from station import units
from station.formula.masses import agent_name
from station.formula.model import (
    ALONE_ROLES,
    ALWAYS_ASIDE,
    CONTRADICTING,
    METHODS,
    PRODUCT_WORDS,
    ROLES,
    SPECIES,
    Addition,
    Amount,
    Band,
    Formula,
    Meat,
    Role,
    Step,
)
from station.formula.names import WHICH, saltpetre, sounds_regulated
from station.tomlfile import Table, TomlFile, near

_BAND_PART = re.compile(r"([+-]\s*[0-9]+(?:\.[0-9]+)?)\s*(%|mg|g|kg)")
_COUNT = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s+sachets?\s*/\s*(.+)")


def parse_formula(text: str, filename: str) -> Formula:
    """Read a formula file. Raises `FileMistakes` with every mistake found."""
    file = TomlFile(text, filename)
    top = file.top
    name = top.text("name")
    revision = top.value("revision", int, "a whole number from 1", 0)
    if revision >= 1_000_000 or (revision < 1 and top.holds("revision", int)):
        top.mistake("revision", f"found {revision}, expected a whole number from 1 to 999999")
    product = tuple(top.text("product").split())
    for word in product:
        if word not in PRODUCT_WORDS:
            hint = near(word, PRODUCT_WORDS)
            allowed = ", ".join(PRODUCT_WORDS)
            top.mistake("product", f"found {word!r}, allowed words {allowed}{hint}")
    for one, other in CONTRADICTING:
        if one in product and other in product:
            top.mistake("product", f"a product cannot be both {one} and {other}")
    method = top.choice("method", METHODS, default="comminuted")
    if "bacon" in product and method == "comminuted":
        top.mistake("method", "bacon is pumped, immersion or dry")
    pump = top.parsed("pump", _below_one, None)
    pickle = top.table("pickle") if top.has("pickle") else None
    pickle_water = pickle.parsed("water", _positive_mass) if pickle else None
    if pickle:
        pickle.finish()
    piece = top.parsed("piece", _positive_mass, None)
    loss = top.parsed("loss", _below_one, Decimal(0))
    basis = top.choice("basis", ("meat block", "mix"), default="meat block")
    meats = [_meat(table) for table in top.tables("meat")]
    additions = [part for table in top.tables("addition") for part in _additions(table)]
    steps = [_step(table) for table in top.tables("step")]
    steps += [_stand(table) for table in top.tables("addition") if table.has("stand")]
    _check_whole(top, meats, additions, steps)
    _check_pickle(top, method, pump, pickle_water, additions)
    top.finish()
    file.finish()
    return Formula(
        name=name,
        revision=revision,
        product=product,
        method=method,
        meats=tuple(meats),
        additions=tuple(additions),
        steps=tuple(steps),
        piece_g=piece,
        loss=loss or Decimal(0),
        pump=pump,
        pickle_water_g=pickle_water,
        basis=basis,  # type: ignore[arg-type]
    )


def parse_amount(text: str) -> Amount:
    """An amount such as "0.20 %", "2 g/kg", "1.7 % of mix", "1 sachet / 100 kg", "35 g"."""
    if match := _COUNT.fullmatch(text.strip()):
        return Amount(text, "count", Decimal(match[1]), _positive(units.mass(match[2])))
    bare, _, of = text.partition(" of ")
    if of.strip() not in ("", "mix", "meat", "pickle"):
        raise ValueError(f"found 'of {of.strip()}', allowed 'of mix', 'of meat' or 'of pickle'")
    on = of.strip() or "meat"
    if re.search(r"/\s*[0-9]", bare):
        number, per = units.per_mass(bare)
        amount = Amount(text, on, number, _positive(per))  # type: ignore[arg-type]
    elif units.is_mass(bare):
        if of:
            raise ValueError(f"found {text!r}: a fixed mass is not 'of' anything")
        amount = Amount(text, "fixed", units.mass(bare))
    else:
        amount = Amount(text, on, units.fraction(bare))  # type: ignore[arg-type]
    units.more_than_nothing(amount.number, text)
    return amount


def parse_band(text: str) -> Band:
    """A band such as "-4 % +2 %", "-0.5 g +0.5 g" or both together."""
    found: dict[str, Decimal] = {}
    rest = _BAND_PART.sub("", text)
    for number, unit in _BAND_PART.findall(text):
        side = "lower" if number[0] == "-" else "upper"
        size = number[1:].strip()
        key = side if unit == "%" else f"{side}_g"
        if key in found:
            raise ValueError(f"found {text!r}: {side} side given twice")
        found[key] = units.fraction(f"{size} %") if unit == "%" else units.mass(f"{size} {unit}")
    sides = {key.removesuffix("_g") for key in found}
    if found.get("lower", Decimal(0)) >= 1:
        raise ValueError(f"found {text!r}: its lower side is nothing at all")
    if rest.strip() or sides != {"lower", "upper"}:
        raise ValueError(f'found {text!r}, expected both sides such as "-4 % +2 %" or "-1 g +1 g"')
    return Band(found.get("lower"), found.get("upper"), found.get("lower_g"), found.get("upper_g"))


def _below_one(text: str) -> Decimal:
    value = units.fraction(text)
    if not 0 <= value < 1:
        raise ValueError(f"found {text!r}, expected 0 % up to less than 100 %")
    return value


def _time_bound(text: str) -> str:
    return units.bound(text, lambda bare: units.more_than_nothing(units.seconds(bare), bare))


def _temperature_bound(text: str) -> str:
    return units.bound(text, units.celsius)


def _cost(text: str) -> str:
    units.cost_per_mass(text)
    return text


def _share(text: str) -> Decimal:
    value = units.fraction(text)
    if not 0 < value <= 1:
        raise ValueError(f"found {text!r}, expected more than 0 % and at most 100 %")
    return value


def _positive_mass(text: str) -> Decimal:
    return units.more_than_nothing(units.mass(text), text)


def _fat(text: str) -> Decimal:
    value = units.fraction(text)
    if not 0 <= value <= 1:
        raise ValueError(f"found {text!r}, expected 0 % to 100 %")
    return value


def _species(text: str) -> str:
    """A species of the list, by any of its everyday names."""
    name = text.strip().casefold()
    name = {"pig": "pork", "swine": "pork", "hog": "pork", "cow": "beef", "sheep": "mutton"}.get(
        name, name
    )
    if name not in SPECIES:
        raise ValueError(f"found {text!r}, allowed {', '.join(SPECIES)}{near(name, SPECIES)}")
    return name


def _positive(value: Decimal) -> Decimal:
    if value <= 0:
        raise ValueError("expected more than nothing after the stroke")
    return value


def _meat(table: Table) -> Meat:
    meat = Meat(
        name=table.text("name"),
        share=table.parsed("share", _share) or Decimal(0),
        species=table.parsed("species", _species, None),
        fat=table.parsed("fat", _fat, None),
    )
    table.finish()
    return meat


def _additions(table: Table) -> list[Addition]:
    """One `Addition` of the table, or one for each of its parts."""
    name = table.text("name")
    role = cast(Role, table.choice("role", ROLES))
    table.has("stand")  # read by _stand
    if not table.has("parts"):
        return [_addition(table, name, role, None)]
    for key in ("amount", "contains", "cost", "weigh", "alone", "required", "band"):
        if table.has(key):
            table.mistake(key, "belongs to the parts, not to the line made of them")
    table.texts("allergens")
    parts = []
    for part in table.tables("parts"):
        part_role = cast(Role, part.choice("role", ROLES, default=role))
        parts.append(_addition(part, part.text("name"), part_role, name))
    table.finish()
    return parts


def _addition(table: Table, name: str, role: Role, part_of: str | None) -> Addition:
    amount = table.parsed("amount", parse_amount)
    contains = _contains(table, role)
    weigh = table.choice("weigh", ("aside", "onto"), default="aside")
    if weigh == "onto" and role in ALWAYS_ASIDE:
        table.mistake("weigh", f"a {role} is always weighed aside, never onto the mix")
    elif weigh == "onto" and (limited := [a for a in contains if sounds_regulated(a)]):
        table.mistake("weigh", f"it contains {limited[0]}: weighed aside, never onto the mix")
    if amount and amount.on == "count" and (role in ALWAYS_ASIDE or contains):
        table.mistake("amount", f"a {role} must be weighed: give a mass, not sachets")
    addition = Addition(
        name=name,
        role=role,
        amount=amount or Amount("", "fixed", Decimal(1)),
        contains=contains,
        allergens=table.texts("allergens"),
        cost=table.parsed("cost", _cost, None),
        band=table.parsed("band", parse_band, None),
        onto=weigh == "onto",
        alone=table.flag("alone", role in ALONE_ROLES),
        required=table.flag("required", role == "cure"),
        part_of=part_of,
        in_pickle=table.choice("in", ("mix", "pickle"), default="mix") == "pickle",
    )
    table.finish()
    return addition


def _contains(table: Table, role: Role) -> dict[str, Decimal]:
    strengths = table.table("contains") if table.has("contains") else None
    if strengths is None:
        if role == "cure":
            table.mistake(
                "contains", "a cure without its strength is refused: say what it contains"
            )
        return {"salt": Decimal(1)} if role == "salt" else {}
    contains: dict[str, Decimal] = {}
    for key in strengths.names:
        agent = agent_name(key)
        if not agent.isprintable():
            strengths.mistake(key, f"found {key!r}, expected signs that can be shown")
        if saltpetre(agent):
            strengths.mistake(key, WHICH)
        if agent in contains:
            strengths.mistake(key, f"{agent} is there twice")
        contains[agent] = strengths.parsed(key, _share) or Decimal(0)
    if role == "salt" and "salt" not in contains:
        table.mistake("contains", "salt must say how much salt it contains")
    if (total := sum(contains.values(), Decimal(0))) > 1:
        table.mistake("contains", f"adds up to {units.plain(total * 100)} %")
    return contains


def _step(table: Table) -> Step:
    step = Step(
        name=table.text("name"),
        after=table.text("after", "") or None,
        before=table.text("before", "") or None,
        time=table.parsed("time", _time_bound, None),
        temperature=table.parsed("temperature", _temperature_bound, None),
    )
    if (step.after is None) == (step.before is None):
        table.mistake("name", "a step has one of after and before, which names a line or a step")
    table.finish()
    return step


def _stand(table: Table) -> Step:
    stand = table.table("stand")
    name = table.text("name")
    step = Step(
        name=f"{name} stands",
        after=name,
        time=stand.parsed("time", _time_bound, None),
        temperature=stand.parsed("temperature", _temperature_bound, None),
    )
    stand.finish()
    return step


def _check_whole(
    top: Table, meats: list[Meat], additions: list[Addition], steps: list[Step]
) -> None:
    """What only the whole file shows: shares, names used twice, places of steps."""
    for name in [m.name for m in meats] + [a.name for a in additions] + [s.name for s in steps]:
        if "," in name:
            top.mistake(
                "name", f"{name!r}: no comma in a name, lists of names are told apart by it"
            )
    if not meats:
        top.mistake("meat", "missing, expected at least one [[meat]]")
    elif (total := sum((meat.share for meat in meats), Decimal(0))) != 1:
        top.mistake("meat[1].share", f"shares add up to {units.plain(total * 100)} %, not 100 %")
    groups = {addition.part_of for addition in additions if addition.part_of}
    names = [m.name for m in meats] + [a.name for a in additions] + [s.name for s in steps]
    for name in sorted({name for name in names if names.count(name) > 1} | (groups & set(names))):
        if name:
            top.mistake("name", f"{name!r} names two lines; every line and step has its own name")
    mix = sum((a.amount.share for a in additions if a.amount.on == "mix"), 0)
    if mix >= 1:
        top.mistake("addition[1].amount", "amounts 'of mix' add up to 100 % or more")
    _check_places(top, steps, {*names, *groups})


def _check_pickle(
    top: Table,
    method: str,
    pump: Decimal | None,
    water: Decimal | None,
    additions: list[Addition],
) -> None:
    """Pumped and immersed products have a pickle, others none; its lines hang on its own water."""
    wet = method in ("pumped", "immersion")
    if wet and water is None:
        top.mistake("pickle", f'missing, a {method} product needs [pickle] with water = "10 kg"')
    if method == "pumped" and not pump:
        top.mistake("pump", 'missing, expected the share pumped in such as "10 %"')
    if not wet and (pump is not None or water is not None):
        top.mistake("pickle" if pump is None else "pump", f"a {method} product has none")
    for number, addition in enumerate(additions, 1):
        key = f"addition[{number}].amount"
        on = addition.amount.on
        if addition.in_pickle and (not wet or on not in ("pickle", "fixed")):
            what = "belongs to a pickle" if not wet else "in the pickle: a mass, or 'of pickle'"
            top.mistake(key, f"{addition.amount.text!r} {what}")
        if not addition.in_pickle and on == "pickle":
            top.mistake(key, f'{addition.amount.text!r} wants in = "pickle"')


def _check_places(top: Table, steps: Iterable[Step], places: set[str]) -> None:
    by_name = {step.name: step for step in steps}
    for number, step in enumerate(by_name.values(), 1):
        place = step.after or step.before
        if place and place not in places:
            key = "after" if step.after else "before"
            top.mistake(f"step[{number}].{key}", f"found {place!r}{near(place, places)}")
        seen = {step.name}
        while place in by_name:
            if place in seen:
                top.mistake(f"step[{number}].name", f"{step.name!r} waits for itself")
                return
            seen.add(place)
            place = by_name[place].after or by_name[place].before
