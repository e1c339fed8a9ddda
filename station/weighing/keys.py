"""The keys that mean one thing for meat and another for an addition, and the next bag."""

from station.batch.line import MeatLine
from station.weighing import additions, lots, meat, tallying
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight


@decides
def accept(sight: Sight, command: do.Accept) -> Decision:
    """Take a load of meat; for an addition the key of `additions.accept`."""
    found = sight.facts.line(command.line)
    if isinstance(found, MeatLine):
        return meat.accept(sight, found, command.sure)
    return additions.accept(sight.look(found), command)


@decides
def end(sight: Sight, command: do.End) -> Decision:
    """End a meat line, a load of several, or a count of pieces or packs."""
    tally = sight.facts.open_batch().tally
    if tally is not None and tally.name == command.line:
        return tallying.end(sight, tally)
    found = sight.facts.line(command.line)
    if isinstance(found, MeatLine):
        return meat.end(sight, found, command.sure)
    return additions.end_load(sight.look(found))


@decides
def next_bag(sight: Sight, command: do.NextBag) -> Decision:
    """End a load with the vessel left on, and go on from another bag."""
    batch, line = sight.facts.open_batch(), sight.facts.addition(command.line)
    if batch.opened.ahead:
        what = "a bag that is weighed ahead is of one lot"
        raise Refusal("ahead", what, "void it, and weigh it from the other lot", line.name)
    known = line.lots.get(command.lot)
    expires = lots.bag_expires(line, command.lot, command.expires)
    today = max(command.today, sight.station.day)
    lots.must_be_in_date(batch, line, command.lot, expires, today)
    if known is not None:
        lots.must_fit(line, command.lot)
    elif batch.regulated(line.name):
        raise Refusal(
            "no-lot",
            f"lot {command.lot} of {line.name} is not open",
            "open it with the strength on the bag; another strength voids the line",
            line.name,
        )
    return additions.end_load(sight.look(line), command.lot, expires)
