"""What is taken back before it is in the mix, or was only said to be."""

from decimal import Decimal

from msgspec.structs import replace

from station.batch import events as ev
from station.batch.line import Line
from station.batch.state import Batch
from station.pan.view import Pan
from station.weighing import commands as do
from station.weighing.blocked import swapped
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.jar import jar_proves
from station.weighing.people import second_person
from station.weighing.retracting import still_stands
from station.weighing.sight import Pans, Sight
from station.weighing.vessels import UNLIKE_G


@decides
def void(sight: Sight, command: do.Void) -> Decision:
    """Take back what is not tipped: at once where nothing was poured or the vessel is on its tare,
    else once it is seen so. Asked again, it says that the vessel will not come back. What a rule
    limits stays in the sum of the most until a second person or the jar proves where it went."""
    batch, line, pans = sight.facts.open_batch(), sight.facts.addition(command.line), sight.pans
    if command.second is not None:
        second_person(batch, line.name, command.second, f"what was voided of {line.name}")
    if command.said_tipped:
        return still_stands(sight, line, command)
    if line.tare is None and not line.standing:
        if line.doubts and command.second is not None:
            answer = f"{command.second} saw where the {line.name} went"
            return Decision((_settled(batch, line, command),), happened=True, answer=answer)
        why = "is in the mix" if line.loads else "was not weighed"
        way = "only the way back is left" if line.loads else "nothing to void"
        raise Refusal("nothing-to-void", f"{line.name} {why}", way, line.name)
    content = _on_the_pan_g(line, pans)
    asked = ev.VoidAsked(
        line.name,
        command.reason,
        batch.who,
        content,
        command.second,
        vouched_g=(content or Decimal(0)) if command.second else None,
    )
    answer = f"{line.name} voided"
    if line.voiding is not None:
        seen = _vessels(line)
        asked = replace(
            asked,
            content_g=max(filter(None, (content, line.voiding.content_g)), default=None),
            second=command.second or line.voiding.second,
            vouched_g=asked.vouched_g if command.second else _vouched_g(line.voiding),
        )
        answer = f"{line.name} voided; its vessel was not seen empty"
    else:
        seen = voidable(line, pans)
        if _nothing_poured(sight, line) and line.tare is not None:
            seen = [line.tare.vessel]
        if set(_vessels(line)) - set(seen):
            answer = f"empty the vessel of {line.name} and put it on its scale"
            answer += "; if it is lost, void again"
    events: tuple[ev.Event, ...] = tuple(voided(batch, line, vessel, asked) for vessel in seen)
    if line.doubts and command.second is not None:
        events += (_settled(batch, line, command),)
    elif any(isinstance(event, ev.Voided) and event.doubted for event in events):
        answer += "; weigh its jar, or void again with a second person, to say where it went"
    return Decision((asked, *events), happened=True, answer=answer)


def _settled(batch: Batch, line: Line, command: do.Void) -> ev.DoubtSettled:
    proof = ("second person", command.reason, batch.who, command.second)
    return ev.DoubtSettled(line.name, *proof)


def _vouched_g(asked: ev.VoidAsked) -> Decimal | None:
    """What a second person saw in the vessel, grams; None where nobody did."""
    if asked.second is None or asked.vouched_g is not None:
        return asked.vouched_g
    return asked.content_g or Decimal(0)


def _on_the_pan_g(line: Line, pans: Pans) -> Decimal | None:
    """What is in the vessel of the weighing under way, or was when it was lifted, grams; or what
    was poured into another one that stands in its place."""
    if line.tare is None:
        return None
    pan = pans.get(line.tare.scale)
    poured = _poured_since_set_down_g(pan)
    grosses = [line.lifted.gross_g] if line.lifted else []
    if pan is not None and pan.gross_g is not None:
        grosses.append(pan.gross_g)
    if pan is not None and pan.gap_from_g is not None:
        grosses.append(pan.gap_from_g)
    return max(max(grosses, default=line.tare.tare_g) - line.tare.tare_g, poured, Decimal(0))


def _poured_since_set_down_g(pan: Pan | None) -> Decimal:
    """What a pan shows more than when its load was set down, grams, as far as it is not on record:
    whatever vessel that is."""
    if pan is None or pan.recorded_g is None or pan.settled is None:
        return Decimal(0)
    return max(pan.settled.gross_g - pan.recorded_g, Decimal(0))


def _vessels(line: Line) -> list[str | None]:
    """The vessels that hold something of the line, or its tare."""
    found = [load.vessel for load in line.standing]
    return list(dict.fromkeys([*found, *([line.tare.vessel] if line.tare else [])]))


def _nothing_poured(sight: Sight, line: Line) -> bool:
    if line.tare is None or line.standing or line.lifted is not None:
        return False
    pan = sight.pans.get(line.tare.scale)
    if pan is None or pan.settled is None:
        return False
    if pan.settled.gross_g <= line.tare.tare_g + pan.scale.near_g:
        return True
    return swapped(sight.facts, sight.facts.open_batch(), line, pan) is not None


def voidable(line: Line, pans: Pans) -> list[str | None]:
    """The vessels of the line that are seen on their tare now, each on the scale that took it."""
    tares: dict[str | None, tuple[str, Decimal, Decimal]] = {}
    if line.tare is not None:
        poured = (line.lifted.gross_g - line.tare.tare_g) if line.lifted else Decimal(0)
        tares[line.tare.vessel] = (line.tare.scale, line.tare.tare_g, poured)
    for load in reversed(
        [load for load in line.standing if load.gross_g]
    ):  # the first tare is that of the empty vessel
        tares[load.vessel] = (load.scale or "", load.tare_g, load.net_g or Decimal(0))
    found = []
    for vessel, (scale, tare, net) in tares.items():
        pan = pans.get(scale)
        if pan is None or not pan.loaded or pan.settled is None:
            continue
        if any(trouble.reason != "gap" for trouble in pan.troubles):
            continue  # what nobody saw does not matter any more once its vessel is seen empty
        if abs(pan.settled.gross_g - tare) <= max(pan.scale.near_g, min(UNLIKE_G, net / 4)):
            found.append(vessel)
    return found


@decides
def see_voidable(sight: Sight, command: do.SeeVoidable) -> Decision:
    """The vessel of a line to be voided is on its tare."""
    batch, line = sight.facts.open_batch(), sight.facts.addition(command.line)
    if line.voiding is None:
        return Decision()
    seen = voidable(line, sight.pans)
    events = tuple(voided(batch, line, vessel, line.voiding) for vessel in seen)
    return Decision(events, happened=True)


def voided(batch: Batch, line: Line, vessel: str | None, asked: ev.VoidAsked) -> ev.Voided:
    """What stood in a vessel, or was being weighed in it, counts no more; in doubt where a rule
    limits it and nobody proved where it went."""
    loads = [load for load in line.standing if load.vessel == vessel]
    net = sum((load.net_g or Decimal(0) for load in loads), Decimal(0))
    content, division = net, max((load.division_g for load in loads), default=Decimal(0))
    if line.tare is not None and line.tare.vessel == vessel:
        seen = [line.lifted.gross_g] if line.lifted else []
        seen += [line.seen_g] if line.seen_g is not None else []
        most = max(seen, default=line.tare.tare_g) - line.tare.tare_g
        content += max(most, asked.content_g or Decimal(0))
        division = max(division, line.tare.division_g)
    if (vouched := _vouched_g(asked)) is not None:
        content -= net + vouched
    limited = batch.limited(line.name) and not batch.opened.ahead  # there is no mix it may be in
    doubted = limited and content > 3 * division
    lots = [load.lot for load in loads] + [line.lot.lot if line.lot else None]
    return ev.Voided(
        line.name,
        vessel,
        asked.reason,
        net,
        batch.who,
        doubted=doubted and not jar_proves(line, content),
        content_g=max(content, Decimal(0)),
        lot=lots[0],
        division_g=division,
        second=asked.second,
    )
