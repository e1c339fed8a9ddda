"""The decider: `decide(station, command, pans, at)` -> what to record. Routes to the phases, asks
the law about the state that would follow, and adds what follows from that."""

from dataclasses import replace

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.lawful import hold_reasons, worse
from station.batch.state import Batch, Line, MeatLine, Station
from station.formula.model import Formula
from station.tomlfile import near
from station.units import plain
from station.weighing import additions, closing, lateness, lots, meat, mix, parking
from station.weighing import commands as do
from station.weighing.blocked import bench_choice
from station.weighing.by_hand import by_hand
from station.weighing.commands import Command, Decision, Pans, Refusal
from station.weighing.jar import weigh_jar
from station.weighing.vessels import held_in, like_record


def decide(station: Station, command: Command, pans: Pans, at: str) -> Decision:
    """What to record for `command` at the time `at`. Raises `Refusal`.

    The events of the answer are lawful: one that would break a limit is refused, whatever the
    command was, unless it tells what has already happened; then the batch goes on hold.
    """
    decision = _route(station, command, pans, at)
    if not decision.events:
        return decision
    batch_id = batch_of(station, command)
    before, after = station.find(batch_id), station
    for event in decision.events:
        after = evolve(after, event, at, batch_id)
    batch = after.find(batch_id)
    if batch is None or batch.end is not None or before is None:
        return decision
    if not decision.happened and (breaches := worse(before, batch)):
        raise Refusal(
            "unlawful",
            breaches[0].text,
            "void or take out; no one may allow this",
            getattr(command, "line", None),
        )
    reasons = hold_reasons(batch)
    if reasons == batch.hold:
        return decision
    held: ev.Event = ev.PutOnHold(reasons) if reasons else ev.HoldLifted()
    return replace(decision, events=(*decision.events, held))


_OF_THE_BENCH = do.RecordVessel | do.TellScale | do.RecordLag | do.SeeLag


def batch_of(station: Station, command: Command) -> str | None:
    """The batch a command's events belong to; vessels belong to the bench and to no batch."""
    if isinstance(command, do.Open | do.TakeUp | do.SeeTubEmpty | do.SeeUndershot):
        return command.batch
    if isinstance(command, _OF_THE_BENCH) or station.open is None:
        return None
    return station.open.id


def open_batch(station: Station) -> Batch:
    """The batch at the bench. Raises `Refusal`."""
    batch = station.open
    if batch is None:
        raise Refusal(
            "no-batch", "no batch is open", 'station open FORMULA --meat "12 kg" --who NAME'
        )
    return batch


def find_line(batch: Batch, name: str) -> Line | MeatLine:
    """The line of that name. Raises `Refusal` with the nearest name."""
    found = batch.lines.get(name) or batch.meats.get(name)
    if found is None:
        names = [*batch.meats, *batch.lines]
        raise Refusal(
            "unknown-line", f"no line is named {name}{near(name, names)}", "check the name"
        )
    return found


def addition_line(batch: Batch, name: str) -> Line:
    found = find_line(batch, name)
    if isinstance(found, MeatLine):
        raise Refusal("is-meat", f"{name} is meat", "use accept, end and meat-out for it", name)
    return found


def _route(station: Station, command: Command, pans: Pans, at: str) -> Decision:  # noqa: C901 - one flat table of commands
    match command:
        case do.Open():
            return _open(station, command)
        case do.RecordVessel():
            return _record_vessel(station, command, pans)
        case do.TellScale():
            told = ev.ScaleTold(command.scale, command.order, station.last_who)
            return Decision((told,), answer=f"{command.scale}: {command.order} is done")
        case do.RecordLag():
            return lateness.record_lag(station, command, pans)
        case do.SeeLag():
            return lateness.see_lag(station, command, pans)
        case do.Who():
            return _who(command)
        case do.Note():
            return Decision((ev.Noted(command.text, station.last_who or "nobody"),), answer="noted")
        case do.TakeUp():
            return parking.take_up(station, command, pans)
        case do.SeeTubEmpty():
            return _see_tub_empty(station, command)
        case do.SeeUndershot():
            whose = station.find(command.batch)
            return mix.see_undershot(whose, pans[command.scale]) if whose else Decision()
    batch = open_batch(station)
    match command:
        case do.OpenLot():
            return lots.open_lot(batch, addition_line(batch, command.line), command)
        case do.Use():
            return _use(station, batch, command)
        case do.Accept() | do.End():
            return _key(station, batch, command, pans)
        case do.NextBag():
            return _next_bag(station, batch, command, pans)
        case do.WeighJar():
            return weigh_jar(batch, addition_line(batch, command.line), command, pans)
        case do.ByHand():
            return by_hand(station, batch, find_line(batch, command.line), command, pans)
        case do.Park():
            return parking.park(station, batch, pans)
        case do.TakeMeatOut():
            found = find_line(batch, command.line)
            if isinstance(found, Line):
                raise Refusal("not-meat", f"{command.line} is no meat", "void it", command.line)
            return meat.take_out(station, batch, found, pans, at)
        case do.Tip():
            return mix.tip(batch, addition_line(batch, command.line), command, pans)
        case do.Void():
            return mix.void(station, batch, addition_line(batch, command.line), command, pans)
        case do.Skip():
            return closing.skip(batch, addition_line(batch, command.line), command)
        case do.EndStep():
            return closing.end_step(batch, command)
        case do.Close():
            return closing.close(batch, command)
        case do.Abandon():
            return closing.abandon(batch, command)
    return _see(station, batch, command, pans)


def _see(station: Station, batch: Batch, command: Command, pans: Pans) -> Decision:
    """What a watch has seen."""
    match command:
        case do.SeeLoad():
            line = additions.turn(batch)
            choice = bench_choice(station, line.name, pans) if line else None
            if choice is None or choice.scale.name != command.scale:
                line = None  # the load is on another pan: only a tipped vessel matters there
            scale = pans[command.scale].scale
            return additions.see_load(station, batch, line, scale, command.settled, batch.who)
        case do.SeeLift():
            return additions.see_lift(
                station, batch, batch.lines[command.line], pans[command.scale]
            )
        case do.SeeGap():
            return additions.see_gap(batch.lines[command.line], pans[command.scale])
        case do.SeeOver():
            return additions.see_over(batch, batch.lines[command.line], command, pans)
        case do.SeeVoidable():
            line = batch.lines[command.line]
            if line.voiding is None:
                return Decision()
            reason = line.voiding.reason
            seen = mix.voidable(line, pans)
            return Decision(tuple(mix.voided(batch, line, v, reason) for v in seen))
    raise TypeError(f"no decision for {command!r}")


def _see_tub_empty(station: Station, command: do.SeeTubEmpty) -> Decision:
    holder = station.find(command.batch)
    if holder is None or command.vessel not in holder.counted:
        return Decision()
    return Decision((ev.TubEmptied(command.line, command.vessel, command.gross_g),))


def _open(station: Station, command: do.Open) -> Decision:
    if station.open is not None:
        raise Refusal(
            "batch-open", f"batch {station.open.id} is open", "park, close or abandon it first"
        )
    formula = command.opened.formula
    known = station.formulas.get((formula.name, formula.revision))
    if known is not None and known != formula:
        raise Refusal(
            "formula-changed",
            f"{formula.name} revision {formula.revision} was used with another"
            f" {_difference(known, formula)}",
            "give the changed formula a new revision",
        )
    warned = [ev.Warned(line, "not judged", text) for line, text in command.warnings]
    return Decision((command.opened, *warned), answer=command.batch)


def _difference(old: Formula, new: Formula) -> str:
    """The first part that differs, named."""
    before, after = _parts(old), _parts(new)
    for name in sorted({*before, *after}):
        if before.get(name) != after.get(name):
            return repr(name)
    return "head or order of lines"


def _parts(formula: Formula) -> dict[str, object]:
    parts: dict[str, object] = {meat.name: meat for meat in formula.meats}
    parts |= {addition.name: addition for addition in formula.additions}
    return parts | {step.name: step for step in formula.steps}


def _record_vessel(station: Station, command: do.RecordVessel, pans: Pans) -> Decision:
    if command.scale not in pans:
        raise Refusal(
            "unknown-scale",
            f"no scale is named {command.scale}{near(command.scale, pans)}",
            f"one of {', '.join(pans)}",
        )
    pan = pans[command.scale]
    if pan.troubles:
        raise Refusal(
            f"blocked-{pan.troubles[0].reason}", pan.troubles[0].sentence, pan.troubles[0].next
        )
    if pan.settled is None or not pan.loaded:
        raise Refusal(
            "not-settled", f"nothing settled on {command.scale}", "set the empty vessel down"
        )
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


def _who(command: do.Who) -> Decision:
    if command.name not in command.people:
        raise Refusal(
            "unknown-person",
            f"{command.name} is not on the list{near(command.name, command.people)}",
            f"one of {', '.join(command.people)}, or add the name to station.toml",
        )
    return Decision((ev.PersonCame(command.name),), answer=f"{command.name} is at the bench")


def _use(station: Station, batch: Batch, command: do.Use) -> Decision:
    name = command.line or additions.turn_name(batch)
    if name is None:
        raise Refusal("no-turn", "nothing is to be weighed now", "name the line as well")
    found = find_line(batch, name)
    if isinstance(found, MeatLine):
        return meat.use(station, batch, found, command)
    return additions.use(station, batch, found, command)


def _key(station: Station, batch: Batch, command: do.Accept | do.End, pans: Pans) -> Decision:
    found = find_line(batch, command.line)
    if isinstance(found, MeatLine):
        if isinstance(command, do.End):
            return meat.end(station, batch, found, command.sure)
        return meat.accept(station, batch, found, pans)
    if isinstance(command, do.End):
        return additions.end_load(station, batch, found, pans)
    return additions.accept(station, batch, found, command, pans)


def _next_bag(station: Station, batch: Batch, command: do.NextBag, pans: Pans) -> Decision:
    line = addition_line(batch, command.line)
    known = line.lots.get(command.lot)
    expires = command.expires or (known.expires if known else None)
    lots.must_be_in_date(line, command.lot, expires, max(command.today, batch.day))
    if known is not None:
        lots.must_fit(line, command.lot)
    elif batch.regulated(line.name):
        raise Refusal(
            "no-lot",
            f"lot {command.lot} of {line.name} is not open",
            "open it with the strength on the bag; another strength voids the line",
            line.name,
        )
    return additions.end_load(station, batch, line, pans, command.lot, expires)
