"""The decider: `decide(sight, command)` -> what to record. The phases decide; here the law is asked
about the state that would follow, and what follows from that is added."""

from dataclasses import replace

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.lawful import hold_reasons, worse
from station.batch.state import Station
from station.weighing import (  # each enters its deciders
    batches,
    by_hand,
    casings,
    closing,
    deliveries,
    devices,
    jar,
    keys,
    lateness,
    leftovers,
    lots,
    meat,
    mix,
    naming,
    orders,
    portions,
    reopening,
    seen,
    steps,
    tallying,
    tasting,
    tubs,
    voiding,
)
from station.weighing import commands as do
from station.weighing.commands import Command, Decision, Refusal
from station.weighing.deciders import DECIDERS
from station.weighing.sight import Sight

PHASES = (
    *(batches, by_hand, casings, closing, jar, keys),
    *(deliveries, devices, lateness, leftovers, lots, meat, mix, naming, orders, portions),
    *(reopening, seen, steps, tallying, tasting, tubs, voiding),
)
"""The modules that decide."""


def decide(sight: Sight, command: Command) -> Decision:
    """What to record for `command`. Raises `Refusal`.

    The events of the answer are lawful: one that would break a limit is refused, whatever the
    command was, unless it says what has already happened; then the batch goes on hold. A lift has
    happened though it may accept nothing.
    """
    decision = DECIDERS[type(command)](sight, command)
    try:
        return _judged(sight, command, decision)
    except Refusal:
        if not isinstance(command, do.SeeLift):
            raise
        return _judged(sight, command, seen.only_lifted(sight, command))


def _judged(sight: Sight, command: Command, decision: Decision) -> Decision:
    """The decision with what follows from it for the hold. Raises `Refusal` where it is not
    lawful."""
    if not decision.events:
        return decision
    batch_id = batch_of(sight.station, command)
    before, after = sight.station.find(batch_id), sight.station
    for event in decision.events:
        after = evolve(after, event, sight.at, batch_id)
    batch = after.find(batch_id)
    if batch is None or batch.end is not None or before is None:
        return decision
    if not decision.happened and (breaches := worse(before, batch)):
        what, step = breaches[0].says("would be"), "void or take out; no one may allow this"
        raise Refusal("unlawful", what, step, getattr(command, "line", None))
    reasons = hold_reasons(batch)
    if reasons == batch.hold:
        return decision
    held: ev.Event = ev.PutOnHold(reasons) if reasons else ev.HoldLifted()
    return replace(decision, events=(*decision.events, held))


def batch_of(station: Station, command: Command) -> str | None:
    """The batch a command's events belong to: the one it names, else the one at the bench; None
    for what belongs to the bench."""
    if command.OF_BENCH:
        return None
    named: str | None = getattr(command, "batch", None)
    return named or (station.open.id if station.open else None)
