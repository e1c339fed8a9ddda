"""Lots of regulated goods: no strength, no weighing; another strength stops for the maker.

A line is worked out for one strength, the formula's or that of the bag it was rescaled by; only
bags of that strength may be weighed for it. Working out always begins from the formula as it was
opened, so saying it twice changes nothing.
"""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.line import Line
from station.batch.state import Batch
from station.batch.strength import differing
from station.formula.limits import CARRIERS, agents_of
from station.formula.model import Amount
from station.formula.names import cures
from station.formula.rescale import Bag, filled_up, rescaled, salt_made_up
from station.units import plain
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.people import second_person
from station.weighing.sight import Sight

USUAL_FACTOR = 2
"""A bag so many times stronger or weaker than the formula's is read by two people: a slipped
decimal point looks like this (common practice: premixes in use differ more, one kitchen's do not).
"""

NEAR_PURE = Fraction(10, 100)
"""Nitrite or nitrate in a bag, above which two people read it. Pure nitrite is sold for food only
mixed with salt (note to SI 2007/1778); the figure is the house's, in every country."""


@decides
def open_lot(sight: Sight, command: do.OpenLot) -> Decision:
    """Open a lot with the strength on its bag; with `rescale`, work the line out by it."""
    batch, line = sight.facts.open_batch(), sight.facts.addition(command.line)
    known = line.lots.get(command.lot)
    expires = bag_expires(line, command.lot, command.expires)
    contains = _contains(batch, line, command)
    if known is not None and known.contains != contains:
        second_person(batch, line.name, command.second, f"another strength of lot {command.lot}")
    opened = ev.LotOpened(
        line.name,
        command.lot,
        contains,
        expires,
        batch.who,
        second=command.second,
        size_g=command.size_g,
        price=command.price,
    )
    if _has_happened(line, command.lot, contains):
        _must_be_read_twice(batch, line, opened, line.stands_for)
        _must_be_two_for_a_strong_cure(batch, line, opened)
        answer = f"lot {command.lot} of {line.name}: judged by what it says"
        return Decision((opened,), happened=True, answer=answer)
    must_be_in_date(batch, line, command.lot, expires, max(command.today, sight.station.day))
    _must_be_two_for_a_strong_cure(batch, line, opened)
    differs = differing(line.stands_for, contains)
    free = not batch.guarded(line.name) and not line.loads
    if differs is None or (free and differs in CARRIERS):
        answer = f"lot {command.lot} of {line.name} is open"
        if known and (known.contains, known.expires) == (contains, expires) and line.lot == known:
            return Decision(answer=answer)
        if line.tare is not None and line.lot is not None:
            answer += f"; {line.lot.lot} is in use until next-bag, or void"
        return Decision((opened,), answer=answer)
    if command.rescale:
        return _rescale(batch, line, command, opened)
    bag, meant = (plain(c.get(differs, Decimal(0)) * 100) for c in (contains, line.stands_for))
    whose = "the formula" if line.stands_for == _formulas(batch, line) else "the line is made for"
    raise Refusal(
        "other-strength",
        f"the bag {command.lot} says {bag} % {differs}, {whose} {meant} %",
        "send it back, or work line and salt out by it",
        line.name,
    )


@decides
def review_lot(sight: Sight, command: do.ReviewLot) -> Decision:
    """Two people say after a review, with a reason, that what was last told of a lot is right. Only
    this ends that it is judged by the stronger, and required amounts by the weaker."""
    batch, line = sight.facts.open_batch(), sight.facts.addition(command.line)
    lot = line.lots.get(command.lot)
    if lot is None or not lot.before:
        what = f"of lot {command.lot} of {line.name} one strength was told"
        raise Refusal("told-once", what, "tell the other strength first", line.name)
    second_person(batch, line.name, command.second, f"the review of lot {command.lot}")
    assert command.second is not None
    event = ev.LotReviewed(
        line.name, lot.lot, lot.contains, command.reason, batch.who, command.second
    )
    said = ", ".join(f"{agent} {plain(lot.contains[agent] * 100)} %" for agent in lot.contains)
    return Decision((event,), answer=f"lot {lot.lot} of {line.name} is {said}, after review")


def _contains(batch: Batch, line: Line, command: do.OpenLot) -> dict[str, Decimal]:
    """What the bag contains, its carrier filled up as in the formula. Raises `Refusal`."""
    formulas = batch.formula.addition(line.name).contains
    agents = set(agents_of(formulas))
    if batch.regulated(line.name) and not agents_of(command.contains):
        what = f"lot {command.lot} of {line.name} without its strength"
        step = f"read from the bag how much {' and '.join(sorted(agents))} it contains"
        raise Refusal("no-strength", what, step, line.name)
    if not command.contains:
        return dict(line.stands_for)
    try:
        return filled_up(formulas, command.contains)
    except ValueError as error:
        raise Refusal("bad-params", str(error), "read the bag again", line.name) from None


def _must_be_read_twice(
    batch: Batch, line: Line, opened: ev.LotOpened, expected: Mapping[str, Decimal]
) -> None:
    """Raise unless a strength that is far off was read by a second person too."""
    for agent in agents_of(expected):
        meant, found = expected[agent], opened.contains.get(agent, Decimal(0))
        if max(meant, found) > USUAL_FACTOR * min(meant, found):
            what = f"the bag {opened.lot} says {plain(found * 100)} % {agent},"
            what += f" {plain(meant * 100)} % was meant: that"
            second_person(batch, line.name, opened.second, what)


def _must_be_two_for_a_strong_cure(batch: Batch, line: Line, opened: ev.LotOpened) -> None:
    """Raise unless a cure that is nearly pure was read by a second person too."""
    for agent, share in opened.contains.items():
        if cures(agent) and share > NEAR_PURE:
            what = f"lot {opened.lot} of {line.name}, {plain(share * 100)} % {agent},"
            second_person(batch, line.name, opened.second, what)


def bag_expires(line: Line, lot: str, said: str | None) -> str | None:
    """The date of a bag: what is said now, else what was known of it, the earlier of two."""
    known = line.lots.get(lot)
    dates = [said, known.expires if known and said is None else None, line.refused.get(lot)]
    return min((date for date in dates if date), default=None)


def must_be_in_date(batch: Batch, line: Line, lot: str, expires: str | None, today: str) -> None:
    """Raise for a bag that has expired, and keep that it has. Dates as YYYY-MM-DD."""
    if expires is not None and expires < today:
        what = f"lot {lot} expired on {expires}"
        keep = () if line.refused.get(lot) else (ev.BagRefused(line.name, lot, expires, batch.who),)
        raise Refusal("expired", what, "use another bag", line.name, records=keep)


def must_fit(line: Line, lot: str) -> None:
    """Raise unless an open lot may be weighed for the line as it is worked out now."""
    differs = differing(line.stands_for, line.lots[lot].contains)
    if differs is not None:
        what = f"lot {lot} has another share of {differs} than {line.name} is worked out for"
        step = "open a bag of that strength, or void the line and rescale by this one"
        raise Refusal("other-strength", what, step, line.name)


def _formulas(batch: Batch, line: Line) -> Mapping[str, Decimal]:
    return batch.formula.addition(line.name).contains


def _has_happened(line: Line, lot: str, contains: Mapping[str, Decimal]) -> bool:
    """Whether it is told of what is in the mix already: its lot was never opened, or its bag was
    read wrongly. Such is recorded, whatever it says."""
    mine = [load for load in line.loads if load.lot in (None, lot)]
    if not mine or line.standing or line.tare is not None:
        return False
    known = line.lots.get(lot)
    return known is None or known.contains != contains or any(load.lot is None for load in mine)


def _rescale(batch: Batch, line: Line, command: do.OpenLot, opened: ev.LotOpened) -> Decision:
    """The line and the salt by the strength on the bag, while nothing of either is weighed."""
    salt = next((ln for ln in batch.lines.values() if ln.addition.role == "salt"), None)
    begun = [ln.name for ln in (line, salt) if ln is not None and (ln.loads or ln.tare)]
    if begun:
        what = f"{begun[0]} is weighed already: it cannot be worked out anew"
        raise Refusal("weighed", what, "void it while it stands, or send the bag back", begun[0])
    formulas, contains = batch.formula.addition(line.name), opened.contains
    agents = [name for name in formulas.contains if name not in CARRIERS]
    strange = {name for name in contains if name not in CARRIERS} ^ set(agents)
    if strange or len(agents) != 1 or contains[agents[0]] <= 0:
        what = f"the bag {command.lot} is not the formula's cure at another strength"
        raise Refusal("other-agents", what, "send it back, or write a formula for it", line.name)
    bags = {
        other.name: Bag(batch.formula.addition(other.name), other.addition.amount, other.stands_for)
        for other in batch.lines.values()
        if salt is None or other.name != salt.name
    }
    try:
        amount = rescaled(formulas, agents[0], contains)
        bags[line.name] = Bag(formulas, amount, contains)
        made_up = None
        if salt is not None and salt.name != line.name:
            made_up = salt_made_up(batch.formula.addition(salt.name), bags.values())
    except ValueError as error:
        raise Refusal("no-rescale", str(error), "send the bag back", line.name) from None
    _must_be_read_twice(batch, line, opened, formulas.contains)
    events: list[ev.Event] = [opened, ev.Rescaled(line.name, amount, command.lot, batch.who)]
    told = f"{line.name} is {_per_kg(amount)} g a kg now"
    if salt is not None and made_up is not None:
        events.append(ev.Rescaled(salt.name, made_up, command.lot, batch.who))
        told += f", {salt.name} {_per_kg(made_up)}"
    elif salt is None and formulas.contains.get("salt") != contains.get("salt"):
        told += "; no salt line is there to make up for it: the total salt is another"
    return Decision(tuple(events), answer=f"lot {command.lot} of {line.name} open: {told}")


def _per_kg(amount: Amount) -> str:
    return plain(round(amount.share * Fraction(1000), 3))
