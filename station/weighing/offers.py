"""What can be done now, as calls: for the keys of the display, for programs, for tests.

The most wanted comes first. A key belongs to one offer at most at any moment.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from station.batch.line import Line, MeatLine
from station.batch.progress import stands_before
from station.batch.state import Batch
from station.formula.model import Step
from station.weighing.acceptance import key_first
from station.weighing.commands import WHY, Offer
from station.weighing.filling import waits_for_filling
from station.weighing.offering import by_thermometer, rinsing
from station.weighing.offering_product import to_count, to_keep, to_use, while_counting
from station.weighing.offering_tasting import to_taste
from station.weighing.portions import to_use as to_use_ahead
from station.weighing.proofs import proofs
from station.weighing.questions import Ask, vessels
from station.weighing.retracting import takes_back
from station.weighing.sight import Look, Sight
from station.weighing.vessels import new_name


@dataclass(frozen=True, slots=True)
class Menu:
    """What can be chosen from without a batch: people, and formulas that pass the check, by the
    names of their files."""

    people: tuple[str, ...] = ()
    formulas: tuple[str, ...] = ()


def new_vessels(sight: Sight) -> list[Offer]:
    """To put what stands on a scale on record as an empty vessel, by the next name of its kind."""
    return [
        Offer(
            "vessel",
            {"name": name, "scale": pan.scale.name},
            danger=True,
            means=f"what is on {pan.scale.name} is {name}, empty: record it",
        )
        for pan in sight.pans.values()
        if pan.loaded and pan.settled is not None and not pan.troubles
        if sight.station.weighed_on(pan.scale.name) is None
        and sight.facts.counted_on(pan.scale.name) is None
        and (name := new_name(sight.station.vessels.values(), pan.scale))
    ]


def offered(sight: Sight, name: str | None, ask: Ask | None, menu: Menu, now: str) -> list[Offer]:
    """All that can be done at the moment `now` (RFC 3339), the answers to a question first. `name`:
    the line or step that is shown."""
    batch = sight.station.batch
    found = list(ask.answers) if ask else []
    if batch is None or batch.end is not None:
        found += [
            Offer("take-up", {"batch": parked}, "take-up" if n == 0 else None, danger=True)
            for n, parked in enumerate(sight.station.parked)
        ]
        found += _openings(sight, menu)
    else:
        if batch.tally is not None:
            found += while_counting(sight.facts, batch.tally)
        elif name in batch.meats:
            found += _meat(sight, batch, batch.meats[name])
            found += to_use(sight, batch, batch.meats[name], now)
        elif name in batch.lines:
            found += _addition(sight, sight.look(batch.lines[name]))
        elif name is not None and stands_before(batch, name) is None:
            found += _step(sight, batch, name)
        found += _tips(batch)
        found += to_taste(sight)
        found += to_count(sight.facts)
        found += to_keep(sight)
        if batch.tally is None or batch.hold:
            found += _ends(sight, batch, name)
    found += new_vessels(sight)
    found += _next_person(sight, menu.people)
    return _once(found)


def _step(sight: Sight, batch: Batch, name: str) -> list[Offer]:
    """To end a step, with what the one thermometer shows where it wants a temperature; which of
    several hangs in the mix nobody knows. To leave it out."""
    step, ends = batch.step(name), Offer("step", {"name": name}, "accept")
    if not isinstance(step, Step):
        return [ends]
    skips = Offer("skip", {"line": name, "reason": WHY}, "skip", danger=True)
    if waits_for_filling(batch, step):  # no slip of a key ends it before the filling
        return [replace(ends, danger=True), skips]
    read = by_thermometer(sight.thermometers, name) if step.temperature else []
    if len(read) == 1:
        read = [replace(read[0], key="accept")]
    if batch.changes.get(name, 0) < step.changes:
        read.append(rinsing(batch, step))
    return [*read, ends, skips]


def _openings(sight: Sight, menu: Menu) -> list[Offer]:
    """Each formula that can be opened, by who is at the bench."""
    who = sight.station.last_who
    if who not in menu.people:
        return []
    return [Offer("open", {"formula": name, "who": who}, means=name) for name in menu.formulas]


def _once(offers: Iterable[Offer]) -> list[Offer]:
    """Each call once, each key at its first offer only."""
    found: list[Offer] = []
    keys: set[str] = set()
    for offer in offers:
        if any((offer.verb, offer.params) == (o.verb, o.params) for o in found):
            continue
        key = None if offer.key in keys else offer.key
        keys |= {offer.key} if offer.key else set()
        found.append(replace(offer, key=key))
    return found


def _meat(sight: Sight, batch: Batch, meat: MeatLine, use_for: str | None = None) -> list[Offer]:
    pan = sight.meat_pan(meat)
    found = []
    if pan is not None and pan.loaded and meat.tub is not None:
        found.append(Offer("accept", {"line": meat.name}, "accept"))
    found.append(Offer("end", {"line": meat.name, "sure": False}, "done", danger=True))
    last = sight.station.deliveries.get(meat.name)
    if last is not None and meat.lot is None:
        said = {"lot": last.lot, "supplier": last.supplier, "packed": last.packed}
        said |= {"use_by": last.use_by}
        params = {"line": meat.name, **{key: value for key, value in said.items() if value}}
        found.append(Offer("meat-lot", params, "same", danger=True, means=f"lot {last.lot} again"))
    if pan is not None:
        tubs = _after(meat.tub, sight.facts.free_like(pan.scale)[::-1])
        if use_for:  # chosen from a list, unseen: none that was made for a pinch
            tubs = [n for n in tubs if sight.station.vessels[n].division_g == pan.scale.division_g]
        found += vessels(tubs, use_for)
    if pan is not None and pan.loaded and meat.tub is not None and meat.net_g > 0:
        found.append(Offer("meat-out", {"line": meat.name}, danger=True))
    return found


def _addition(sight: Sight, look: Look) -> list[Offer]:
    line, batch = look.line, look.batch
    found: list[Offer] = []
    void = Offer("void", {"line": line.name, "reason": WHY}, "void", danger=True)
    if line.voiding is not None:
        return [void]
    if line.tare is not None:
        return [*_pouring(look), void, *_went_in(batch, line)]
    free = [vessel.name for vessel in sight.facts.free]
    found += to_use_ahead(sight.facts, batch, line)
    if not look.troubles or line.skipped:
        found += vessels(_after(line.used, free))
        found += _other_scales(look)
    if line.standing:
        found.append(void)
    elif not line.loads and not line.skipped and sight.facts.phase == "additions":
        skip = {"line": line.name, "reason": WHY}
        found.append(Offer("skip", skip, "skip", danger=True))
    if not batch.hold and not line.standing and not line.loads:
        found += _went_in(batch, line)
    return found


def _went_in(batch: Batch, line: Line) -> list[Offer]:
    """To say that a line went in unaccepted; not where bags are weighed ahead of any mix."""
    if batch.opened.ahead:
        return []
    return [Offer("tip", {"line": line.name, "unaccepted": True}, "in-mix", danger=True)]


def _other_scales(look: Look) -> list[Offer]:
    """The other scales that are fit for the line."""
    name = look.line.name
    return [
        Offer("weigh-on", {"line": name, "scale": scale.name}, means=f"weigh it on {scale.name}")
        for scale in look.batch.scales
        if scale != look.scale
        and (choice := look.facts.choice_on(name, scale.name)) is not None
        and not choice.unfit
    ]


def _pouring(look: Look) -> list[Offer]:
    """What the key does for the weighing under way."""
    line, net = look.line, look.settled_g
    if look.troubles or net is None or look.pan is None or look.pan.keyed:
        return []
    accept = Offer("accept", {"line": line.name}, "accept", danger=key_first(look.batch, line))
    if look.limits().accepts(net):
        wants = look.facts.onto(line.name) or key_first(look.batch, line)
        return [accept] if wants else []
    found = []
    if look.choice is not None and look.choice.loads > 1 and net < look.limits().accept_lower:
        found.append(Offer("end", {"line": line.name}, "done", danger=True))
    if not look.batch.guarded(line.name):
        params = {"line": line.name, "as_weighed": True}
        found.append(Offer("accept", params, "as-weighed", danger=True))
    return found


def _tips(batch: Batch) -> list[Offer]:
    if batch.opened.ahead:
        return []
    standing: list[Line] = [line for line in batch.lines.values() if line.standing]
    return [Offer("tip", {"line": line.name}, "tip", danger=True) for line in standing]


def _ends(sight: Sight, batch: Batch, name: str | None) -> list[Offer]:
    """Closing, giving up, making room."""
    facts, found = sight.facts, []
    line = batch.lines.get(name or "")
    last = name is None or (line is not None and line.put_off)
    if facts.phase == "additions" and last and not facts.under_way:
        found.append(Offer("close", {"named": []}, "done", danger=True))
    held = facts.phase == "on hold"
    idle = facts.stands is None and not facts.under_way
    if idle and (held or (last and facts.too_much)):
        for meat in batch.meats.values():  # more meat is a way out
            more = _meat(sight, batch, meat, meat.name)
            found += [replace(o, key=o.key if o.key in _OF_MORE_MEAT else None) for o in more]
    if idle and held:
        found.append(Offer("abandon", {"reason": WHY}, danger=True))
    found += proofs(sight, batch)
    found += takes_back(sight, batch)
    if not facts.under_way:
        found.append(Offer("park", {}, "park", danger=True))
    return found


_OF_MORE_MEAT = ("accept", "vessel")
"""Keys that take more meat; the others keep what they mean for the batch."""


def _next_person(sight: Sight, people: Sequence[str]) -> list[Offer]:
    batch = sight.station.batch
    names = list(batch.opened.people if batch and batch.end is None else people)
    after = _after(sight.station.last_who, names)
    return [Offer("who", {"name": name}, "who" if n == 0 else None) for n, name in enumerate(after)]


def _after(name: str | None, names: Sequence[str]) -> list[str]:
    """The names in turn, beginning after that one."""
    at = names.index(name) + 1 if name in names else 0
    return [*names[at:], *names[:at]]
