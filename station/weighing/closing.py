"""What is left out, the steps, and the end of a batch."""

from collections.abc import Iterable

from station.batch import events as ev
from station.batch.judging import temperature_miss, unread
from station.batch.line import Line
from station.batch.progress import current, finished, phase, stands_before, verdict
from station.batch.state import Batch
from station.batch.timing import Timing, minutes, timing
from station.formula.model import Step
from station.weighing import commands as do
from station.weighing.commands import WHY, Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.filling import unseen
from station.weighing.sight import Sight


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
    _must_have_its_turn(batch, name)
    began = batch.step_since.get(name)
    skipped = ev.StepEnded(name, None, batch.who, began, command.reason, skipped=True)
    return Decision((skipped,), answer=f"{name} is left out")


def _must_have_its_turn(batch: Batch, name: str) -> None:
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
    _must_have_its_turn(batch, command.name)
    took = timing(batch, command.name, sight.at)
    if command.reason is None:
        _ask_why(batch, command, took)
    began = batch.step_since.get(command.name)
    ended = ev.StepEnded(command.name, command.value, batch.who, began, command.reason)
    events: tuple[ev.Event, ...] = (ended,)
    step = batch.step(command.name)
    if isinstance(step, Step) and (miss := temperature_miss(step, command.value)) is not None:
        events += (ev.Warned(command.name, "temperature", miss),)
    if took is not None and took.too_long:
        text = f"it took {took.told}, {minutes(int(took.most_s or 0))} at most was meant"
        events += (ev.Warned(command.name, "time", text),)
    return Decision(events, answer=f"{command.name} ended")


def _ask_why(batch: Batch, command: do.EndStep, took: Timing | None) -> None:
    """Raise the question why a step ends before its time, too warm or too cold, or unread."""
    step, name = batch.step(command.name), command.name
    if not isinstance(step, Step):
        return
    if took is not None and took.too_soon:
        code, what = "too-soon", f"{took.told} of {minutes(int(took.least_s or 0))}"
        way = "wait, or say why it ends now"
    elif (miss := temperature_miss(step, command.value)) is not None:
        code, what, way = "out-of-limit", miss, "bring it back, or say why it ends so"
    elif unread(step, command.value):
        code, what = "unread", f"how warm is it? {step.temperature} is meant"
        way = "read it, or say why not"
    else:
        return
    said = {"name": name, "reason": WHY}
    said |= {"value": command.value} if command.value else {}
    offer = Offer("step", said, "accept", danger=True)
    raise Refusal(code, f"{name}: {what}", way, name, [offer])


@decides
def close(sight: Sight, command: do.Close) -> Decision:
    """Close the batch as made. Whatever is skipped or out of band must be named."""
    batch = sight.facts.open_batch()
    if batch.meat_g <= 0:
        raise Refusal("no-meat", "there is no meat in the batch", "abandon it")
    if phase(batch) != "additions":
        what = "on hold" if batch.hold else "still weighing meat"
        how = "bring it back, or abandon it" if batch.hold else "end the meat first"
        raise Refusal("not-closable", f"the batch is {what}", how)
    known = set(batch.order)
    if strange := [name for name in command.named if name not in known]:
        raise Refusal("unknown-line", f"no line is named {strange[0]}", "spell it as on the screen")
    for line in batch.lines.values():
        if line.standing:
            raise Refusal("standing", f"{line.name} still stands", "tip it, or void it", line.name)
        if line.tare is not None or line.voiding is not None:
            raise Refusal("under-way", f"{line.name} is under way", "finish it, or void", line.name)
    if (tally := batch.tally) is not None:
        raise Refusal("under-way", f"{tally.called} are counted", "end them first", tally.name)
    need = unfinished_names(batch)
    if unnamed := [name for name in need if name not in command.named]:
        raise Refusal(
            "to-be-named",
            f"{_list(unnamed)}: not as the formula says",
            "finish, or close naming each of them",
            unnamed[0],
            [Offer("close", {"named": need}, "done", danger=True)],
        )
    missing = [
        line
        for line in batch.lines.values()
        if not (line.judged and line.loads) and _must_be_in(batch, line)
    ]
    if missing:
        events = tuple(ev.RequiredMissing(line.name, batch.who) for line in missing)
        return Decision(
            events, happened=True, answer=f"{_list(line.name for line in missing)} missing"
        )
    if (refusal := unseen(batch)) is not None:
        raise refusal
    return Decision((ev.Closed(tuple(need), batch.who),), answer=f"batch {batch.id} closed")


def _must_be_in(batch: Batch, line: Line) -> bool:
    """Whether the batch cannot do without the line, as far as it is now."""
    return batch.must_have(line.name) or (bool(line.loads) and batch.limited(line.name))


@decides
def abandon(sight: Sight, command: do.Abandon) -> Decision:
    """Give the batch up. What stands in cups must not wait for another batch to take it for an
    empty vessel."""
    batch = sight.facts.open_batch()
    for line in batch.lines.values():
        if line.standing or line.tare is not None:
            step = "empty its vessel and void it; if it is lost, void twice"
            raise Refusal("standing", f"{line.name} still stands", step, line.name)
    answer = f"batch {batch.id} abandoned"
    return Decision((ev.Abandoned(command.reason, batch.who),), happened=True, answer=answer)


def unfinished_names(batch: Batch) -> list[str]:
    """What closing must name: lines that are not in their band, and steps nobody ended."""
    lines = [
        line.name
        for line in batch.lines.values()
        if verdict(batch, line) != "in" or not finished(batch, line)
    ]
    steps = [n for n in batch.order if n not in batch.lines and n not in batch.steps_done]
    return [*lines, *steps]


def _list(names: Iterable[str]) -> str:
    return ", ".join(names)
