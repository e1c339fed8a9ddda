"""What each pan is watched for, from where the batch stands, and what its watch is told."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.line import Line
from station.batch.state import Batch
from station.pan.view import Task
from station.pan.watch import PanWatch
from station.units import plain
from station.weighing import commands as do
from station.weighing.facts import Facts

_JUMP_SHARE = {True: Fraction(3, 10), False: Fraction(1, 2)}
"""A rise within 0.6 s beyond this share of the target is no pour (common practice)."""


def task_for(facts: Facts, scale: str) -> Task | None:
    """The task of one scale's watch; None while no batch is open."""
    batch = facts.station.open
    if batch is None:
        return None
    if (tally := facts.counted_on(scale)) is not None:
        return Task(tally.name, None)  # no vessel that must be there again after a gap
    lightest = facts.free[0].empty_g / 2 if facts.free else None
    for line in facts.under_way:
        if line.tare is not None and line.tare.scale == scale:
            return _weighing(facts, batch, line, lightest)
    return Task(facts.current or "", None, empty_below_g=lightest)


def _weighing(facts: Facts, batch: Batch, line: Line, lightest: Decimal | None) -> Task:
    assert line.tare is not None
    choice = facts.choice(line.name)
    accept = aim = jump = None
    if choice is not None:
        accept = (choice.limits.accept_lower, choice.limits.accept_upper)
        aim = Decimal(plain(choice.limits.aim))
        if not line.tare.onto and line.addition.role not in ("binder", "water"):
            share = _JUMP_SHARE[batch.guarded(line.name)]
            jump = Decimal(round(choice.limits.target * share * 1000)) / 1000
    guarded = batch.guarded(line.name)
    return Task(line.name, line.tare.tare_g, line.actual_g, accept, aim, jump, lightest, guarded)


def assign(watches: Mapping[str, PanWatch], facts: Facts) -> None:
    """Give every watch its task, after the state has changed."""
    for name, watch in watches.items():
        watch.task(task_for(facts, name))
        if (lag := facts.station.lags.get(name)) is not None:
            watch.lag(lag.window_s)
        if (known := facts.station.scales.get(name)) is not None:
            watch.known(known.scale, known.device)


def resume(watches: Mapping[str, PanWatch], facts: Facts) -> None:
    """Tell fresh watches where the record says that the batch stood."""
    station = facts.station
    batch = station.open
    parked = {
        scale: f"{line} of {other.id}"
        for other in station.parked.values()
        for scale, line in other.tipped_on.items()
    }
    for name, watch in watches.items():
        line = _guarded_on(batch, name)
        tipped = batch.tipped_on if batch is not None else {}
        seen_g = line.seen_g if line is not None else None
        watch.resume(tipped.get(name) or parked.get(name), line is not None, seen_g)
    assign(watches, facts)


def _guarded_on(batch: Batch | None, scale: str) -> Line | None:
    """The guarded line that is being weighed on a scale."""
    if batch is None:
        return None
    for line in batch.lines.values():
        if line.tare is not None and line.tare.scale == scale and batch.guarded(line.name):
            return line
    return None


def tell(watches: Mapping[str, PanWatch], command: do.Command, decision: do.Decision) -> None:
    """Tell the watches what a recorded decision means for them."""
    if decision.key:
        watches[decision.key].key()
    if decision.explained:
        watches[decision.explained].explain_jump()
    if decision.gap_explained:
        watches[decision.gap_explained].explain_gap()
    if decision.same:
        watches[decision.same].explain_vessel()
    if isinstance(command, do.SeeUndershot) and command.last:
        watches[command.scale].undershot_handled()
    if isinstance(command, do.SeePouredElsewhere):
        watches[command.scale].poured_recorded()
    for event in decision.events:
        _tell_event(watches, command, event)


def _tell_event(watches: Mapping[str, PanWatch], command: do.Command, event: ev.Event) -> None:
    match event:
        case ev.MeatWeighed() if not event.by_hand:
            watches[event.scale].counted()
        case ev.LoadWeighed() if not (event.stays or event.onto or event.by_hand):
            if not isinstance(command, do.SeeLift):
                watches[event.scale].counted()
        case ev.Tipped() if isinstance(command, do.SeeLoad):
            watches[command.scale].tipped(event.line)
        case ev.TippedUnaccepted() if event.scale:
            watches[event.scale].tipped(event.line)
        case ev.LagMeasured():
            watches[event.scale].lag_told()
        case ev.Parked():
            for watch in watches.values():
                watch.parked()
