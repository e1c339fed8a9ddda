"""Lots of regulated goods: no strength, no weighing; another strength stops for the maker."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from station.formula.limits import CARRIERS
from station.formula.model import Amount
from station.formula.rescale import filled_up, rescaled, salt_made_up
from station.units import plain
from station.weighing import commands as do
from station.weighing import events as ev
from station.weighing.commands import Decision, Refusal
from station.weighing.state import Batch, Line


def open_lot(batch: Batch, line: Line, command: do.OpenLot) -> Decision:
    """Open a lot with the strength on its bag; with `rescale`, work the line out by it."""
    expected = line.addition.contains
    if command.expires is not None and command.expires < command.today:
        what = f"lot {command.lot} expired on {command.expires}"
        raise Refusal("expired", what, "use another bag", line.name)
    regulated = batch.regulated(line.name)
    if regulated and not command.contains:
        what = f"lot {command.lot} of {line.name} without its strength"
        raise Refusal("no-strength", what, "read what it contains from the bag", line.name)
    carried = {name: share for name, share in expected.items() if name in CARRIERS}
    contains = {**carried, **command.contains} if command.contains else expected
    differs = _differing(expected, contains)
    opened = ev.LotOpened(line.name, command.lot, dict(contains), command.expires, batch.who)
    fixed = regulated or line.loads or (differs and differs not in CARRIERS)
    if not (differs and fixed):  # an agent never differs; a carrier not once something is weighed
        return Decision((opened,), answer=f"lot {command.lot} of {line.name} open")
    if command.rescale:
        return _rescale(batch, line, command)
    bag, formula = (plain(c.get(differs, Decimal(0)) * 100) for c in (contains, expected))
    raise Refusal(
        "other-strength",
        f"the bag {command.lot} says {bag} % {differs}, the formula {formula} %",
        "send it back, or lot with --rescale",
        line.name,
    )


def _differing(expected: Mapping[str, Decimal], found: Mapping[str, Decimal]) -> str | None:
    """The first agent whose strength differs; an agent the bag does not name is not in it."""
    for agent in sorted({*expected, *found}, key=lambda name: (name in CARRIERS, name)):
        if expected.get(agent, 0) != found.get(agent, 0):
            return agent
    return None


def _rescale(batch: Batch, line: Line, command: do.OpenLot) -> Decision:
    """The line and the salt by the strength on the bag, while nothing of either is weighed."""
    salt = next((ln for ln in batch.lines.values() if ln.addition.role == "salt"), None)
    begun = [ln.name for ln in (line, salt) if ln is not None and (ln.loads or ln.tare)]
    if begun:
        what = f"{begun[0]} is weighed already: it cannot be worked out anew"
        raise Refusal("weighed", what, "void it while it stands, or send the bag back", begun[0])
    expected = line.addition.contains
    contains = filled_up(expected, command.contains)
    agents = [name for name in expected if name not in CARRIERS]
    strange = {name for name in contains if name not in CARRIERS} ^ set(agents)
    if strange or len(agents) != 1 or contains[agents[0]] <= 0:
        what = f"the bag {command.lot} is not the formula's cure at another strength"
        raise Refusal("other-agents", what, "send it back, or write a formula for it", line.name)
    try:
        amount = rescaled(line.addition, agents[0], contains)
        made_up = None
        if salt is not None and salt.name != line.name:
            made_up = salt_made_up(salt.addition, line.addition, amount, contains)
    except ValueError as error:
        raise Refusal("no-rescale", str(error), "send the bag back", line.name) from None
    opened = ev.LotOpened(line.name, command.lot, contains, command.expires, batch.who)
    events: list[ev.Event] = [opened, ev.Rescaled(line.name, amount, command.lot, batch.who)]
    told = f"{line.name} is {_per_kg(amount)} g a kg now"
    if salt is not None and made_up is not None:
        events.append(ev.Rescaled(salt.name, made_up, command.lot, batch.who))
        told += f", {salt.name} {_per_kg(made_up)}"
    return Decision(tuple(events), answer=f"lot {command.lot} of {line.name} open: {told}")


def _per_kg(amount: Amount) -> str:
    return plain(round(amount.share * Fraction(1000), 3))
