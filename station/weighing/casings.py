"""Casings: which were taken, and how often their water was changed."""

from station.batch import events as ev
from station.formula.model import Step
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.sight import Sight
from station.weighing.steps import must_have_its_turn


@decides
def casing(sight: Sight, command: do.TakeCasing) -> Decision:
    """Record what was taken: a lot, a length, or both."""
    batch = sight.facts.open_batch()
    if (meant := batch.formula.casing) is None:
        raise Refusal("no-casing", "the formula names no casing", "name it: [casing] in its file")
    if command.lot is None and command.length_m is None:
        raise Refusal("bad-params", "a casing without lot and length says nothing", "say one")
    taken = ev.CasingTaken(meant.name, command.lot, command.length_m, batch.who)
    return Decision((taken,), answer=f"{meant.name}: noted")


@decides
def rinse(sight: Sight, command: do.ChangeWater) -> Decision:
    """Count a change of water of the step that has its turn."""
    batch, step = sight.facts.open_batch(), sight.facts.open_batch().step(command.name)
    if not isinstance(step, Step) or not step.changes:
        step_names = [one.name for one in batch.formula.steps if one.changes]
        known = f"one of {', '.join(step_names)}" if step_names else "no step has its water changed"
        raise Refusal("no-step", f"{command.name} has no water to be changed", known)
    must_have_its_turn(batch, step.name)
    count = batch.changes.get(step.name, 0) + 1
    changed = ev.WaterChanged(step.name, batch.who)
    return Decision((changed,), answer=f"water changed {count} of {step.changes} times")
