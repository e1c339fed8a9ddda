"""What goes into the mix."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.cups import standing_vessels
from station.batch.line import Line
from station.batch.progress import by_word
from station.batch.state import Batch, Portion
from station.pan.view import Pan
from station.units import plain
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.offering import MORE_WENT_IN, more_went_in, went_in
from station.weighing.people import second_person
from station.weighing.sight import Sight


@decides
def tip(sight: Sight, command: do.Tip) -> Decision:
    """A person says that a line is in the mix."""
    batch, line, pans = sight.facts.open_batch(), sight.facts.addition(command.line), sight.pans
    must_have_a_mix(batch, line.name)
    if command.more:
        return Decision(
            (_unaccepted(batch, line, None, None, command.lot),),
            happened=True,
            answer=f"more {line.name} is in the mix, nobody knows how much",
        )
    if command.second is not None:
        second_person(batch, line.name, command.second, f"{line.name} in the mix")
        if by_word(batch, line):
            seen = ev.SeenIn(line.name, None, None, None, batch.who, command.second)
            answer = f"{command.second} saw the {line.name} go in"
            return Decision((seen,), happened=True, answer=answer)
    if command.unaccepted:
        return _tip_unaccepted(sight, line, command.lot)
    if line.tare is not None and line.tare.vessel in {load.vessel for load in line.standing}:
        raise Refusal(
            "under-way",
            f"what was poured of {line.name} since the last bag is not accepted",
            "finish it, or say that all of it went in",
            line.name,
            [went_in(line.name)],
        )
    if not line.standing:
        if line.loads:
            since = line.loads[-1].tipped_at or ""
            raise Refusal(
                "blocked-again",
                f"{line.name} is in the mix since {since[11:16]} UTC",
                MORE_WENT_IN,
                line.name,
                [more_went_in(line.name)],
            )
        raise Refusal(
            "nothing-stands",
            f"no {line.name} stands",
            "weigh it, or say that it went in unaccepted",
            line.name,
            [went_in(line.name)],
        )
    events = []
    for cup in standing_vessels(batch):
        if cup.line.name == line.name:
            pan = pans.get(cup.scale or "")
            residue = _residue(pan, cup.tare_g, cup.gross_g)
            events.append(
                ev.Tipped(line.name, cup.vessel, residue, None, batch.who, command.second)
            )
    answer = f"{line.name} is in the mix"
    unseen = command.second is None and any(event.residue_g is None for event in events)
    if unseen and batch.must_have(line.name):
        answer += ": put its empty vessel on the scale before you close"
    return Decision(tuple(events), happened=True, answer=answer)


def must_have_a_mix(batch: Batch, line: str) -> None:
    """Raise where bags are weighed ahead: nothing of them can be in a mix."""
    if batch.opened.ahead:
        what = "it is weighed ahead: there is no mix"
        raise Refusal("ahead", what, "leave it in its bag; void it if it is gone", line)


def _residue(pan: Pan | None, tare_g: Decimal, gross_g: Decimal) -> Decimal | None:
    """What clings to a vessel that is back on its scale, where it is clearly the emptied one: less
    than a quarter of the net above its tare."""
    if pan is None or pan.troubles or not pan.loaded or pan.settled is None:
        return None
    on = pan.settled.gross_g
    if not tare_g - pan.scale.near_g <= on < tare_g + (gross_g - tare_g) / 4:
        return None
    return max(on - tare_g, Decimal(0))


def _tip_unaccepted(sight: Sight, line: Line, lot: str | None) -> Decision:
    batch, pans = sight.facts.open_batch(), sight.pans
    tare = line.tare
    if tare is None and line.loads and not line.standing:
        raise Refusal(
            "blocked-again",
            f"{line.name} is in the mix already",
            MORE_WENT_IN,
            line.name,
            [more_went_in(line.name)],
        )
    if tare is None and line.standing:
        return tip(sight, do.Tip(line.name))
    if tare is None and (portion := sight.station.portions.get(line.used or "")) is not None:
        return _bag_went_in(batch, line, portion)
    net: Decimal | None = None
    residue: Decimal | None = None
    pan = pans.get(tare.scale) if tare else None
    if tare is not None:
        grosses = [line.lifted.gross_g] if line.lifted else []
        if pan is not None and pan.gap_from_g is not None:
            grosses.append(pan.gap_from_g)
        seen = pan.settled if pan is not None and not pan.troubles and pan.loaded else None
        if seen is not None:  # on the pan now: what is shown is what there is, if it is more
            grosses.append(seen.gross_g)
        net = max(grosses, default=tare.tare_g) - tare.tare_g
        if line.lifted is not None:
            residue = _residue(pan, tare.tare_g, max(grosses))
    rough = line.lifted is not None and line.lifted.unsettled and batch.limited(line.name)
    if rough or (net is not None and net <= 0):
        net = residue = None
    bags: list[ev.Event] = []
    if tare is not None and tare.vessel in {load.vessel for load in line.standing}:
        bags = [ev.Tipped(line.name, tare.vessel, None, None, batch.who)]
    amount = "an unknown amount" if net is None else f"{plain(net)} g"
    return Decision(
        (*bags, _unaccepted(batch, line, net, residue, lot)),
        happened=True,
        answer=f"{amount} of {line.name} is in the mix, unaccepted",
    )


def _bag_went_in(batch: Batch, line: Line, portion: Portion) -> Decision:
    """A bag that was weighed ahead went in as it was, and was on no scale again."""
    event = ev.TippedUnaccepted(
        line=line.name,
        net_g=portion.net_g,
        residue_g=None,
        scale=portion.scale,
        division_g=portion.division_g,
        vessel=portion.vessel,
        lot=portion.lot,
        who=batch.who,
    )
    grams = plain(portion.net_g)
    answer = f"{grams} g of {line.name} is in the mix, as it was weighed ahead"
    return Decision((event,), happened=True, answer=answer)


def _unaccepted(
    batch: Batch,
    line: Line,
    net_g: Decimal | None,
    residue_g: Decimal | None,
    lot: str | None = None,
) -> ev.TippedUnaccepted:
    tare = line.tare
    return ev.TippedUnaccepted(
        line=line.name,
        net_g=net_g,
        residue_g=residue_g,
        scale=tare.scale if tare else None,
        division_g=tare.division_g if tare else None,
        vessel=tare.vessel if tare else None,
        lot=lot or (line.lot.lot if line.lot else None),
        who=batch.who,
    )
