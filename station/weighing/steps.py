"""What is left out, and the steps of the process, each in its turn and against its limits."""

from station.batch import events as ev
from station.batch.judging import temperature_miss, unread
from station.batch.progress import current, phase, stands_before
from station.batch.state import Batch
from station.batch.timing import Timing, minutes, timing
from station.formula.model import Step
from station.weighing import commands as do
from station.weighing.commands import WHY, Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.offering import by_thermometer, rinsing
from station.weighing.sight import Sight
from station.weighing.thermometer import Found, found


@decides
def skip(sight: Sight, command: do.Skip) -> Decision:
    """Put a line at the end; at closing it must be named again."""
    batch = sight.facts.open_batch()
    if isinstance(batch.step(command.line), Step):
        return _skip_step(sight, command)
    line = sight.facts.addition(command.line)
    if phase(batch) != "additions":
        raise Refusal("not-now", "lines are skipped among the additions only", "go on", line.name)
    if line.tare is not None or line.loads or line.voiding:
        raise Refusal("begun", f"{line.name} is begun", "finish it, or void it", line.name)
    return Decision(
        (ev.Skipped(line.name, command.reason, batch.who),), answer=f"{line.name} comes at the end"
    )


def _skip_step(sight: Sight, command: do.Skip) -> Decision:
    """Leave a step out, at its turn and with a reason."""
    batch, name = sight.facts.open_batch(), command.line
    must_have_its_turn(batch, name)
    began = batch.step_since.get(name)
    skipped = ev.StepEnded(name, None, batch.who, began, command.reason, skipped=True)
    return Decision((skipped,), answer=f"{name} is left out")


def must_have_its_turn(batch: Batch, name: str) -> None:
    """Raise unless the step is the next thing that the batch wants."""
    if name in batch.steps_done:
        raise Refusal("step-ended", f"{name} is ended already", "go on", name)
    if current(batch) != name:
        raise Refusal("not-its-turn", f"{name}: the turn is {current(batch)}'s", "go on", name)
    if (stands := stands_before(batch, name)) is not None:
        raise Refusal("standing", f"{stands} still stands", "tip it into the mix first", stands)


@decides
def end_step(sight: Sight, command: do.EndStep) -> Decision:
    """End a process step with an optional value."""
    batch = sight.facts.open_batch()
    if batch.step(command.name) is None:
        raise Refusal(
            "no-step", f"no step is named {command.name}", f"the turn is {current(batch)}'s"
        )
    must_have_its_turn(batch, command.name)
    took = timing(batch, command.name, sight.at)
    read = found(sight.thermometers, command.value, command.thermometer)
    if command.reason is None:
        _ask_why(sight, command, took, read)
    ended = ev.StepEnded(
        command.name,
        read.value,
        batch.who,
        batch.step_since.get(command.name),
        command.reason,
        thermometer=read.thermometer,
        raw=read.raw,
    )
    events: tuple[ev.Event, ...] = (ended,)
    step = batch.step(command.name)
    if isinstance(step, Step) and (miss := temperature_miss(step, read.value)) is not None:
        events += (ev.Warned(command.name, "temperature", miss),)
    if took is not None and took.too_long:
        text = f"it took {took.told}, {minutes(int(took.most_s or 0))} at most was meant"
        events += (ev.Warned(command.name, "time", text),)
    return Decision(events, answer=f"{command.name} ended")


def _ask_why(sight: Sight, command: do.EndStep, took: Timing | None, read: Found) -> None:
    """Raise the question why a step ends before its time, too warm or too cold, or unread."""
    step, name = sight.facts.open_batch().step(command.name), command.name
    offers: list[Offer] = []
    if not isinstance(step, Step):
        return
    if took is not None and took.too_soon:
        code, what = "too-soon", f"{took.told} of {minutes(int(took.least_s or 0))}"
        way = "wait, or say why it ends now"
    elif (made := sight.facts.open_batch().changes.get(name, 0)) < step.changes:
        code, what = "too-few", f"its water was changed {made} of {step.changes} times"
        way = "change it, or say why not"
        offers = [rinsing(sight.facts.open_batch(), step)]
    elif (miss := temperature_miss(step, read.value)) is not None:
        code, what, way = "out-of-limit", miss, "bring it back, or say why it ends so"
    elif unread(step, read.value):
        code, what = "unread", f"how warm is it? {step.temperature} is meant"
        way = "read it, or say why not"
        offers = by_thermometer(sight.thermometers, name)
    else:
        return
    said = {"name": name, "value": command.value, "thermometer": command.thermometer}
    params = {key: text for key, text in said.items() if text} | {"reason": WHY}
    offers.append(Offer("step", params, "accept", danger=True))
    raise Refusal(code, f"{name}: {what}", way, name, offers)
