"""The formula file: TOML text to a `Formula`, with one message per mistake."""

from collections.abc import Sequence
from decimal import Decimal
from typing import cast

from station import units
from station.formula import quantities, words
from station.formula.leftover import rework_of
from station.formula.limits import AUTHORITIES
from station.formula.masses import agent_name
from station.formula.model import (
    ALONE_ROLES,
    ALWAYS_ASIDE,
    CONTRADICTING,
    FILLING,
    FIRST_MEAT,
    METHODS,
    SOAKS,
    STANDS,
    Addition,
    Amount,
    Casing,
    Formula,
    Meat,
    Pack,
    Role,
    Step,
)
from station.formula.names import WHICH, saltpetre, sounds_regulated
from station.formula.nutrition import nutrition_of
from station.tomlfile import Table, TomlFile, near

MOST_CHANGES = 99


def parse_formula(text: str, filename: str) -> Formula:
    """Read a formula file. Raises `FileMistakes` with every mistake found."""
    file = TomlFile(text, filename)
    top = file.top
    name = top.text("name")
    revision = top.value("revision", int, "a whole number from 1", 0)
    if revision >= 1_000_000 or (revision < 1 and top.holds("revision", int)):
        top.mistake("revision", f"found {revision}, expected a whole number from 1 to 999999")
    product = top.parsed("product", words.product) or ()
    for one, other in CONTRADICTING:
        if one in product and other in product:
            top.mistake("product", f"a product cannot be both {one} and {other}")
    method = top.choice("method", METHODS, default="comminuted")
    if "bacon" in product and method == "comminuted":
        top.mistake("method", "bacon is pumped, immersion or dry")
    pump = top.parsed("pump", quantities.below_one, None)
    pickle = top.table("pickle") if top.has("pickle") else None
    pickle_water = pickle.parsed("water", quantities.pickle_water) if pickle else None
    if pickle:
        pickle.finish()
    piece = top.parsed("piece", quantities.positive_mass, None)
    piece_band = top.parsed("piece_band", quantities.parse_band, None)
    if piece_band is not None and piece is None and not top.has("piece"):
        top.mistake("piece_band", 'what a piece weighs is missing, such as piece = "180 g"')
    loss = top.parsed("loss", quantities.below_one, Decimal(0))
    basis = top.choice("basis", ("meat block", "mix"), default="meat block")
    authority = top.choice("authority", AUTHORITIES, default="") or None
    declaration = top.text("declaration", "") or None
    meats = [_meat(table) for table in top.tables("meat")]
    additions = [part for table in top.tables("addition") for part in _additions(table)]
    steps = [_step(table) for table in top.tables("step")]
    casing, soaks = _casing(top) if top.has("casing") else (None, [])
    steps += soaks
    steps += [_stand(table) for table in top.tables("addition") if table.has("stand")]
    packs = _packs(top)
    rework = rework_of(top)
    _check_whole(top, meats, additions, steps)
    _check_pickle(top, method, pump, pickle is not None, additions)
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
        pickle_water=pickle_water,
        basis=basis,  # type: ignore[arg-type]
        authority=authority,
        declaration=declaration,
        piece_band=piece_band,
        packs=packs,
        casing=casing,
        rework=rework,
    )


def _meat(table: Table) -> Meat:
    fat = table.parsed("fat", quantities.fat, None)
    meat = Meat(
        name=table.text("name"),
        share=table.parsed("share", quantities.share) or Decimal(0),
        species=table.parsed("species", words.species, None),
        fat=fat,
        skin=table.parsed("skin", quantities.below_one, None),
        price=table.parsed("cost", quantities.price, None),
        nutrition=nutrition_of(table, fat),
    )
    table.finish()
    return meat


def _additions(table: Table) -> list[Addition]:
    """One `Addition` of the table, or one for each of its parts."""
    name = table.text("name")
    role = cast(Role, table.parsed("role", words.role) or "other")
    table.has("stand")  # read by _stand
    if not table.has("parts"):
        return [_addition(table, name, role, None)]
    for key in ("amount", "contains", "weigh", "alone", "required", "band", "cost", "nutrition"):
        table.refuse(key, "belongs to the parts, not to the line made of them")
    table.texts("allergens")
    parts = []
    for part in table.tables("parts"):
        part_role = cast(Role, part.parsed("role", words.role, role) or role)
        parts.append(_addition(part, part.text("name"), part_role, name))
    table.finish()
    return parts


def _addition(table: Table, name: str, role: Role, part_of: str | None) -> Addition:
    amount = table.parsed("amount", quantities.parse_amount)
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
        band=table.parsed("band", quantities.parse_band, None),
        onto=weigh == "onto",
        alone=table.flag("alone", role in ALONE_ROLES),
        required=table.flag("required", role == "cure"),
        part_of=part_of,
        in_pickle=table.choice("in", ("mix", "pickle"), default="mix") == "pickle",
        approved=table.text("approved", "") or None,
        cereal=table.flag("cereal", False),
        price=table.parsed("cost", quantities.price, None),
        nutrition=nutrition_of(table),
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
        contains[agent] = strengths.parsed(key, quantities.share) or Decimal(0)
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
        time=table.parsed("time", quantities.time_bound, None),
        temperature=table.parsed("temperature", quantities.temperature_bound, None),
        since=table.text("since", "") or None,
    )
    if step.since is not None and step.time is None:
        table.mistake("since", f"counts a time from {step.since!r}, and there is no time")
    if (step.after is None) == (step.before is None):
        table.mistake("name", "a step has one of after and before, which names a line or a step")
    table.finish()
    return step


def _stand(table: Table) -> Step:
    stand = table.table("stand")
    name = table.text("name")
    step = Step(
        name=f"{name}{STANDS}",
        after=name,
        time=stand.parsed("time", quantities.time_bound, None),
        temperature=stand.parsed("temperature", quantities.temperature_bound, None),
    )
    stand.finish()
    return step


def _casing(top: Table) -> tuple[Casing, list[Step]]:
    """The casing, and the step that its soaking is."""
    table = top.table("casing")
    name = table.text("name")
    soak = table.parsed("soak", quantities.time_bound, None)
    changes = table.value("changes", int, "a whole number such as 2", 0)
    if not 0 <= changes <= MOST_CHANGES:
        table.mistake("changes", f"found {changes}, expected 0 to {MOST_CHANGES}")
    casing = Casing(name, table.parsed("fills", quantities.grams_a_metre, None))
    table.finish()
    if soak is None and not changes:
        return casing, []
    return casing, [Step(f"{name}{SOAKS}", before=FILLING, time=soak, changes=changes)]


def _packs(top: Table) -> tuple[Pack, ...]:
    """The packs that the product goes into, each weight and place once."""
    packs: list[Pack] = []
    for table in top.tables("pack"):
        pack = Pack(
            nominal_g=table.parsed("nominal", quantities.positive_mass) or Decimal(1),
            store=table.text("store"),
            keeps_days=table.parsed("keeps", quantities.whole_days) or 1,
        )
        if not pack.store.isprintable() or "," in pack.store:
            table.mistake("store", f"found {pack.store!r}, expected a place such as fridge")
        if any((pack.nominal_g, pack.store) == (p.nominal_g, p.store) for p in packs):
            table.mistake("nominal", "the same weight for the same place is there already")
        table.finish()
        packs.append(pack)
    return tuple(packs)


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
    for name in sorted({*names, *groups} & {FILLING, FIRST_MEAT}):
        top.mistake("name", f"{name!r} is the name of a place, choose another")
    _check_places(top, steps, {*names, *groups, FILLING})
    _check_beginnings(top, steps)


def _check_pickle(
    top: Table,
    method: str,
    pump: Decimal | None,
    has_pickle: bool,
    additions: list[Addition],
) -> None:
    """Pumped and immersed products have a pickle, others none; its lines hang on its own water."""
    wet = method in ("pumped", "immersion")
    if wet and not has_pickle:
        top.mistake(
            "pickle", f'missing, a {method} product needs [pickle] with water = "10 % of meat"'
        )
    if method == "pumped" and not pump:
        top.mistake("pump", 'missing, expected the share pumped in such as "10 %"')
    if not wet and (pump is not None or has_pickle):
        top.mistake("pickle" if pump is None else "pump", f"a {method} product has none")
    for number, addition in enumerate(additions, 1):
        key = f"addition[{number}].amount"
        on = addition.amount.on
        if addition.in_pickle and (not wet or on not in ("pickle", "fixed")):
            what = "belongs to a pickle" if not wet else "in the pickle: a mass, or 'of pickle'"
            top.mistake(key, f"{addition.amount.text!r} {what}")
        if not addition.in_pickle and on == "pickle":
            top.mistake(key, f'{addition.amount.text!r} wants in = "pickle"')


def _check_places(top: Table, steps: Sequence[Step], places: set[str]) -> None:
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


def _check_beginnings(top: Table, steps: Sequence[Step]) -> None:
    """A time is counted from the first meat or the end of another step, and not in a circle."""
    since = {step.name: step.since for step in steps}
    for number, step in enumerate(steps, 1):
        if step.since is None or step.since == FIRST_MEAT:
            continue
        if step.since not in since:
            told = f"found {step.since!r}{near(step.since, [FIRST_MEAT, *since])}"
            top.mistake(f"step[{number}].since", told)
            continue
        seen, at = {step.name}, step.since
        while at in since and at not in seen:
            seen.add(at)
            at = since[at] or ""
        if at == step.name:
            top.mistake(f"step[{number}].since", f"{step.name!r} waits for itself")
