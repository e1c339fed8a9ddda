"""Pieces and packs, weighed one after another: each is set down, settles, and counts when it is
taken off."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.drying import next_name
from station.batch.state import Batch
from station.batch.tally import Item, Tally, least_load_g, net_of
from station.formula.packs import fit_to_check
from station.metrology.scale import Scale
from station.pan.view import Lift, Pan
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight

MOST_LINKS = 999
_NOT_STILL = "it was not still before it was taken off"


@decides
def pieces(sight: Sight, command: do.CountPieces) -> Decision:
    """Begin to count pieces, or go on with those of the same name."""
    if "," in command.name:
        raise Refusal("bad-name", f"{command.name!r}: no comma in a name", "choose another name")
    batch, pan = _ready(sight, command.name, command.scale)
    known = batch.tallies.get(command.name)
    if known is not None and known.begun.what != "pieces":
        raise Refusal("name-taken", f"{command.name} are no pieces", "choose another name")
    if known is not None and known.begun.odd != command.odd:
        what = "the odd end" if known.begun.odd else "pieces of a weight"
        raise Refusal("name-taken", f"{command.name} are {what}", "choose another name")
    begun = ev.TallyBegun(
        command.name,
        "pieces",
        pan.scale.name,
        pan.scale.division_g,
        batch.who,
        odd=command.odd,
    )
    return Decision((begun,), answer=f"set the first of the {command.name} down on {command.scale}")


@decides
def packs(sight: Sight, command: do.CountPacks) -> Decision:
    """Begin to count packs, or go on with those of the same weight, place and date."""
    batch, pan = _ready(sight, command.name, command.scale)
    tare_g = Decimal(0)
    if command.vessel is not None:
        step = f"set it down empty and say: vessel {command.vessel} {command.scale}"
        tare_g = sight.facts.vessel(command.vessel, step).empty_g
    _must_be_fit(pan.scale, command, tare_g)
    begun = ev.TallyBegun(
        command.name,
        "packs",
        pan.scale.name,
        pan.scale.division_g,
        batch.who,
        tare_g,
        command.vessel,
        command.nominal_g,
        command.lacks_g,
        command.few,
        command.source,
        command.store,
        command.use_by,
    )
    return Decision((begun,), answer=f"set the first pack down on {command.scale}; {command.name}")


@decides
def dried(sight: Sight, command: do.WeighDried) -> Decision:
    """Begin to weigh pieces again that have hung since they were counted."""
    batch, pan = _ready(sight, command.name, command.scale)
    green = batch.tallies.get(command.name)
    if green is None or green.begun.what != "pieces" or not green.items:
        counted = ", ".join(tally.name for tally in batch.tallies_of("pieces"))
        step = f"one of: {counted}" if counted else "count them before they hang: pieces"
        raise Refusal("no-pieces", f"no pieces {command.name} were counted", step)
    begun = ev.TallyBegun(
        next_name(batch, green.name),
        "dried",
        pan.scale.name,
        pan.scale.division_g,
        batch.who,
        of=green.name,
    )
    answer = f"set the first of the {green.count} {green.name} down on {command.scale}"
    return Decision((begun,), answer=answer)


def _ready(sight: Sight, name: str, scale: str) -> tuple[Batch, Pan]:
    """The batch whose mix may be filled now, and the empty pan. Raises `Refusal`."""
    batch, pan = sight.facts.open_batch(), sight.well(scale)
    if (refusal := sight.facts.why_not_filled) is not None:
        raise refusal
    if name in batch.order or name in batch.meats:
        raise Refusal("name-taken", f"{name!r} cannot be their name", "choose another")
    if not pan.empty:
        raise Refusal("not-empty", f"{scale} is not empty", "lift everything off, and wait")
    return batch, pan


def _must_be_fit(scale: Scale, command: do.CountPacks, tare_g: Decimal) -> None:
    """Raise unless the scale takes such a pack, and is fine enough to tell one that is short."""
    if command.nominal_g + tare_g > scale.max_g or command.nominal_g < least_load_g(scale):
        what = f"{scale.name} weighs {plain(least_load_g(scale))} g to {plain(scale.max_g)} g"
        raise Refusal("unfit", what, "use another scale")
    if command.lacks_g is not None and not fit_to_check(scale.division_g, command.lacks_g):
        what = f"{scale.name} has {plain(scale.division_g)} g divisions"
        step = f"a pack may lack {plain(command.lacks_g)} g: use a scale with a sixth of that"
        raise Refusal("unfit", what, step)


@decides
def see_item(sight: Sight, command: do.SeeItem) -> Decision:
    """It counts with what was last settled, if that is sure; else it is said that it did not."""
    batch, pan = sight.facts.open_batch(), sight.pans[command.scale]
    tally, lift = batch.tally, pan.lift
    if tally is None:
        return Decision()
    if lift is None:
        missed_g = pan.missed_g
        return Decision(() if missed_g is None else (_missed(tally, missed_g, _NOT_STILL),))
    gross = lift.held.gross_g - lift.stayed_g
    if (why := _why_not(tally, pan, lift)) is not None:
        return Decision((_missed(tally, gross, why),))
    item = ev.ItemWeighed(
        tally.name,
        tally.next_number,
        net_of(tally, gross),
        gross,
        lift.held.raw,
        tally.links or 1,
        batch.who,
    )
    return Decision((item,))


def _missed(tally: Tally, gross_g: Decimal, why: str) -> ev.ItemMissed:
    return ev.ItemMissed(tally.name, gross_g, why)


def _why_not(tally: Tally, pan: Pan, lift: Lift) -> str | None:
    """Why the weight of what was taken off is not sure; None where it is."""
    if pan.troubles:
        return pan.troubles[0].sentence
    if not lift.at_once or lift.last_g is not None:
        return _NOT_STILL
    net = net_of(tally, lift.held.gross_g - lift.stayed_g)
    if net < (least := least_load_g(pan.scale)):
        return f"{shown(net, pan.scale.division_g)} g is under {plain(least)} g"
    return None


@decides
def links(sight: Sight, command: do.TellLinks) -> Decision:
    """The next item is a string of so many pieces."""
    batch, tally = sight.facts.open_batch(), _under_way(sight)
    if tally.begun.what == "packs":
        raise Refusal("no-pieces", f"{tally.called} are counted", "a pack counts as one")
    if not 0 < command.number <= MOST_LINKS:
        raise Refusal("bad-number", f"{command.number} links", f"1 to {MOST_LINKS}")
    told = ev.LinksTold(tally.name, command.number, batch.who)
    return Decision((told,), answer=f"the next string has {command.number} {tally.name}")


@decides
def again(sight: Sight, command: do.WeighAgain) -> Decision:
    """The next item takes the place of one that was counted."""
    batch, tally = sight.facts.open_batch(), _under_way(sight)
    item = _item(tally, command.number)
    told = ev.ItemAgain(tally.name, item.number, batch.who)
    return Decision((told,), answer=f"set {tally.numbered(item.number)} down again")


@decides
def strike(sight: Sight, command: do.StrikeItem) -> Decision:
    """One that was counted counts no more."""
    batch, tally = sight.facts.open_batch(), _under_way(sight)
    item = _item(tally, command.number)
    struck = ev.ItemStruck(tally.name, item.number, command.reason, batch.who)
    return Decision((struck,), answer=f"{tally.numbered(item.number)} counts no more")


def end(sight: Sight, tally: Tally) -> Decision:
    """End the count. What is still on the pan is not in it."""
    pan = sight.pans.get(tally.scale)
    if pan is not None and not pan.troubles and not pan.empty:
        what = f"something is on {tally.scale}: it is not counted yet"
        raise Refusal("not-empty", what, "take it off first", tally.name)
    batch = sight.facts.open_batch()
    return Decision((ev.TallyEnded(tally.name, batch.who),), answer=f"{tally.count} {tally.called}")


def _under_way(sight: Sight) -> Tally:
    """What is counted now. Raises `Refusal`."""
    tally = sight.facts.open_batch().tally
    if tally is None:
        raise Refusal("not-counting", "nothing is counted now", "begin with pieces or packs")
    return tally


def _item(tally: Tally, number: int) -> Item:
    item = tally.item(number)
    if item is None:
        numbers = f"1 to {tally.given}" if tally.given else "none yet"
        raise Refusal("no-number", f"no number {number} is counted", f"there are {numbers}")
    return item
