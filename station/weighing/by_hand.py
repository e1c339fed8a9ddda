"""A figure that a person read and typed: the scale's line is dead, or the power was out."""

from decimal import Decimal
from fractions import Fraction

from station.units import plain, shown
from station.weighing import commands as do
from station.weighing import events as ev
from station.weighing.acceptance import accepted, key_first
from station.weighing.additions import must_be_open_to
from station.weighing.commands import Decision, Pans, Refusal
from station.weighing.fitness import why_unfit
from station.weighing.meat import may_take
from station.weighing.plan import limits_on
from station.weighing.scale import Scale
from station.weighing.state import Batch, Line, MeatLine, Station


def by_hand(
    station: Station, batch: Batch, found: Line | MeatLine, command: do.ByHand, pans: Pans
) -> Decision:
    """Take a typed net weight: judged like any other, marked wherever it is shown.

    What is in the mix already (`in_mix`) is recorded whatever it is; everything else is refused
    while the scale itself can be read. A cure, and every line with a hard limit, wants a second
    person.
    """
    scale = _scale(batch, command)
    if command.net_g <= 0:
        raise Refusal("bad-net", "a net weight is more than nothing", "say what was weighed in")
    if command.net_g > scale.max_g:
        raise Refusal(
            "over-max",
            f"{plain(command.net_g)} g is over Max of {scale.name}",
            "name the scale it was weighed on",
        )
    if command.net_g % scale.division_g:
        raise Refusal(
            "off-grid",
            f"{scale.name} cannot show {plain(command.net_g)} g",
            f"its division is {plain(scale.division_g)} g: read it again",
        )
    pan = pans.get(scale.name)
    if not command.in_mix and pan is not None and not pan.troubles:
        raise Refusal("scale-is-well", f"{scale.name} can be read", "weigh it there", command.line)
    typed = ev.ByHand(command.reason, command.second)
    if isinstance(found, MeatLine):
        return _meat(batch, found, scale, command, typed)
    _second(batch, found, command)
    if command.in_mix:
        return _in_mix(found, scale, command, typed, batch.who)
    return _accept(batch, found, scale, command, typed)


def _scale(batch: Batch, command: do.ByHand) -> Scale:
    for scale in batch.opened.scales:
        if scale.name == command.scale:
            return scale
    names = ", ".join(scale.name for scale in batch.opened.scales)
    raise Refusal("unknown-scale", f"no scale is named {command.scale}", f"one of {names}")


def _second(batch: Batch, line: Line, command: do.ByHand) -> None:
    """Raise unless the second person is there where one is wanted, and is another."""
    if command.second is None:
        if not key_first(batch, line):
            return
        what = f"{line.name} by hand wants a second person to read it"
        raise Refusal("second-wanted", what, "say --second NAME", line.name)
    if command.second not in batch.opened.people:
        people = ", ".join(batch.opened.people)
        what = f"{command.second} is not on the list"
        raise Refusal("unknown-person", what, f"one of {people}", line.name)
    if command.second == batch.who:
        what = f"{batch.who} is at the bench: the second must be another"
        raise Refusal("same-person", what, "say --second NAME", line.name)


def _meat(
    batch: Batch, meat: MeatLine, scale: Scale, command: do.ByHand, typed: ev.ByHand
) -> Decision:
    may_take(batch, meat)
    event = ev.MeatWeighed(
        line=meat.name,
        net_g=command.net_g,
        gross_g=command.net_g,
        tare_g=Decimal(0),
        scale=scale.name,
        division_g=scale.division_g,
        vessel="",
        who=batch.who,
        raw="",
        by_hand=typed,
    )
    return Decision((event,), answer=f"{plain(command.net_g)} g of {meat.name}, by hand")


def _in_mix(line: Line, scale: Scale, command: do.ByHand, typed: ev.ByHand, who: str) -> Decision:
    if line.standing:
        raise Refusal(
            "stands",
            f"{line.name} stands, weighed",
            "tip it; --in-mix is for what was not",
            line.name,
        )
    event = ev.TippedUnaccepted(
        line=line.name,
        net_g=command.net_g,
        residue_g=None,
        scale=scale.name,
        division_g=scale.division_g,
        vessel=line.tare.vessel if line.tare else line.used,
        lot=line.lot.lot if line.lot else None,
        who=who,
        by_hand=typed,
    )
    answer = f"{plain(command.net_g)} g of {line.name} is in the mix, by hand"
    return Decision((event,), happened=True, answer=answer)


def _accept(
    batch: Batch, line: Line, scale: Scale, command: do.ByHand, typed: ev.ByHand
) -> Decision:
    must_be_open_to(batch, line)
    limits = limits_on(batch, line.name, scale, 1)
    unfit = why_unfit(scale, limits, Fraction(command.net_g))
    if unfit and batch.guarded(line.name):
        raise Refusal(
            "blocked-unfit", f"{scale.name} is not fit: {unfit}", "use a finer scale", line.name
        )
    net = line.actual_g + command.net_g
    if not limits.accepts(net):
        side = "over" if net > limits.accept_upper else "under"
        low, high = (shown(g, scale.division_g) for g in (limits.accept_lower, limits.accept_upper))
        raise Refusal(
            side,
            f"{line.name} {plain(net)} g is {side} its limits, {low} to {high} g",
            "take out or pour on, and read it again; --in-mix if it is in the mix",
            line.name,
        )
    vessel, tare = _vessel(line)
    load = ev.LoadWeighed(
        line=line.name,
        net_g=command.net_g,
        gross_g=tare + command.net_g if tare else Decimal(0),
        tare_g=tare or Decimal(0),
        spilt_g=Decimal(0),
        scale=scale.name,
        division_g=scale.division_g,
        vessel=vessel,
        lot=line.lot.lot if line.lot else None,
        who=batch.who,
        raw="",
        tare_raw="",
        by_hand=typed,
    )
    event = accepted(batch, line, limits, net, keyed=True, as_weighed=False)
    return Decision((load, event), answer=f"{line.name} {plain(net)} g accepted, by hand")


def _vessel(line: Line) -> tuple[str | None, Decimal | None]:
    """(vessel, its tare) where the weighing had begun, so that it is known when it comes back."""
    if line.tare is not None and not line.tare.onto:
        return line.tare.vessel, line.tare.tare_g
    return line.used, None
