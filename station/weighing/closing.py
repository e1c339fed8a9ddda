"""The end of a batch: closed as made, or abandoned."""

from collections.abc import Iterable

from station.batch import events as ev
from station.batch.line import Line
from station.batch.progress import finished, phase, verdict
from station.batch.state import Batch
from station.weighing import commands as do
from station.weighing.commands import Decision, Offer, Refusal
from station.weighing.deciders import decides
from station.weighing.filling import unseen
from station.weighing.sight import Sight


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
        if line.standing and not batch.opened.ahead:
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
    if batch.opened.ahead:
        bags = sum(bool(line.standing) for line in batch.lines.values())
        answer = f"batch {batch.id} closed: {bags} bags wait for their meat"
        return Decision((ev.Closed(tuple(need), batch.who),), answer=answer)
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
