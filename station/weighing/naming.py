"""Vessels and people by their names, and notes."""

from station.batch import events as ev
from station.batch.cups import held_in
from station.batch.line import MeatLine
from station.batch.progress import finished
from station.tomlfile import near
from station.units import plain
from station.weighing import commands as do
from station.weighing import portions, tubs
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight
from station.weighing.vessels import like_record


@decides
def record_vessel(sight: Sight, command: do.RecordVessel) -> Decision:
    """Take what is settled on a scale as the empty weight of the vessel of that name."""
    station, pan = sight.station, sight.well(command.scale)
    if pan.settled is None or not pan.loaded:
        raise Refusal(
            "not-settled", f"nothing settled on {command.scale}", "set the empty vessel down"
        )
    if (tally := sight.facts.counted_on(command.scale)) is not None:
        what = f"{tally.called} are counted there"
        raise Refusal("under-way", what, "end them first", tally.name)
    for line in station.open.lines.values() if station.open else ():
        if line.tare and line.tare.scale == command.scale:
            what = f"{line.name} is being weighed there"
            raise Refusal("under-way", what, "finish it", line.name)
        if line.tare is not None and line.tare.vessel == command.name:
            raise Refusal("vessel-taken", f"{command.name} holds {line.name}", "finish it first")
    if (content := held_in(station, command.name)) is not None:
        raise Refusal("vessel-taken", f"{command.name} holds {content}", "tip it first")
    if any(command.name in batch.counted for batch in station.unfinished):
        raise Refusal("vessel-taken", f"{command.name} holds meat", "show it empty first")
    event = ev.VesselRecorded(
        command.name,
        command.scale,
        pan.scale.division_g,
        pan.settled.gross_g,
        pan.settled.raw,
        station.last_who,
    )
    answer = f"{command.name} weighs {plain(pan.settled.gross_g)} g empty"
    alike = [
        vessel.name
        for vessel in station.vessels.values()
        if vessel.name != command.name and like_record(vessel, pan.settled.gross_g, pan.scale, None)
    ]
    if alike:
        answer += f"; {alike[0]} weighs the same: name the one you use each time"
    return Decision((event,), answer=answer)


@decides
def name_person(sight: Sight, command: do.Who) -> Decision:
    """Who is at the bench from now on."""
    if command.name not in command.people:
        raise Refusal(
            "unknown-person",
            f"{command.name} is not on the list{near(command.name, command.people)}",
            f"one of {', '.join(command.people)}, or add the name to station.toml",
        )
    return Decision((ev.PersonCame(command.name),), answer=f"{command.name} is at the bench")


@decides
def note(sight: Sight, command: do.Note) -> Decision:
    """A note for the record."""
    noted = ev.Noted(command.text, sight.station.last_who or "nobody")
    return Decision((noted,), answer="noted")


@decides
def weigh_on(sight: Sight, command: do.WeighOn) -> Decision:
    """Weigh a line on the scale that its vessel goes on; one that is not fit is refused."""
    line, pan = sight.facts.addition(command.line), sight.pan(command.scale)
    batch, scale = sight.facts.open_batch(), pan.scale.name
    if line.tare is not None:
        what = f"{line.name} has its vessel already"
        raise Refusal("one-tare", what, "finish it, or void", line.name)
    choice = sight.facts.choice_on(line.name, scale)
    if choice is None or choice.unfit:
        why = choice.unfit if choice else f"no room for {line.name}"
        raise Refusal("unfit", f"{scale} is not fit: {why}", "stay with the other", line.name)
    event = ev.ScaleChosen(line.name, scale, batch.who)
    return Decision((event,), answer=f"{line.name} is weighed on {scale}")


@decides
def use(sight: Sight, command: do.Use) -> Decision:
    """Name the vessel for an addition, or the tub that meat is in."""
    facts, station = sight.facts, sight.station
    facts.open_batch()
    name = command.line or facts.turn_name
    if name is None:
        raise Refusal("no-turn", "nothing is to be weighed now", "name the line as well")
    found = facts.line(name)
    if not isinstance(found, MeatLine):
        if found.tare is not None:
            what = f"{found.name} has its vessel already"
            raise Refusal("one-tare", what, "finish it, or void", found.name)
        if finished(facts.open_batch(), found):
            where = "stands" if found.standing else "is in the mix"
            raise Refusal("done", f"{found.name} {where}", "go on with the next line", found.name)
        if (apart := facts.open_batch().apart) is not None:
            raise Refusal("filled", apart, "leave it out", found.name)
    step = f"set it down empty and say: vessel {command.vessel} SCALE"
    facts.vessel(command.vessel, step, found.name)
    same = None
    if isinstance(found, MeatLine):
        tubs.must_be_free(station, command.vessel, found)
        answer = f"{found.name} in {command.vessel}"
        pan = sight.meat_pan(found)
        if pan and command.vessel == found.tub and tubs.other_tub(sight, found):
            same = pan.scale.name
    elif (portion := station.portions.get(command.vessel)) is not None:
        events = portions.uses(sight, found, portion)
        answer = f"{command.vessel} for {found.name}: it {portions.says(facts, found, portion)}"
        return Decision(events, answer=answer)
    else:
        if (content := held_in(station, command.vessel)) is not None:
            what, step = f"{command.vessel} holds {content}", "tip it, or use another"
            raise Refusal("vessel-taken", what, step, found.name)
        answer = f"{command.vessel} for {found.name}"
    return Decision((ev.VesselUsed(found.name, command.vessel),), answer=answer, same=same)
