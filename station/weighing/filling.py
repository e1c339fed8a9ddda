"""Whether all is in the mix, so that it may be tasted, filled and packed."""

from station.batch.progress import by_word, finished, phase
from station.batch.state import Batch
from station.formula.model import Step
from station.weighing.commands import Refusal
from station.weighing.offering import saw_it_go_in

_STEP = "nothing is filled before all is in"


def why_not_filled(batch: Batch) -> Refusal | None:
    """Why nothing of the batch may be filled or packed now; None where it may: all is in, and every
    step that comes before the filling is done."""
    if (refusal := why_not_mixed(batch)) is not None:
        return refusal
    for name in batch.order:
        if name not in batch.lines and name not in batch.steps_done and not _later(batch, name):
            return Refusal("step-first", f"{name} comes before the filling", "end the step", name)
    return None


def why_not_mixed(batch: Batch) -> Refusal | None:
    """Why the batch is not mixed, so that it may not be tasted; None where it is. What is filled
    without its cure can be mended by nobody, so one person's word is not enough."""
    if batch.opened.ahead:
        return Refusal(
            "ahead", "it is weighed ahead: there is no mix", "close it, and open a batch"
        )
    if (under_way := batch.tally) is not None:
        return Refusal("counting", f"{under_way.called} are counted now", f"end {under_way.name}")
    if phase(batch) != "additions":
        what = "on hold" if batch.hold else "still weighing meat"
        return Refusal("not-now", f"the batch is {what}", _STEP)
    for line in batch.lines.values():
        left_out = line.put_off and not batch.must_have(line.name)
        if line.standing or not (finished(batch, line) or left_out):
            return Refusal("not-in", f"{line.name} is not in the mix", _STEP, line.name)
    return unseen(batch)


def waits_for_filling(batch: Batch, step: Step) -> bool:
    """Whether a step that has its turn comes once the mix is filled, and nothing is yet."""
    return batch.formula.after_filling(step) and not batch.filled


def _later(batch: Batch, name: str) -> bool:
    step = batch.step(name)
    return isinstance(step, Step) and batch.formula.after_filling(step)


def unseen(batch: Batch) -> Refusal | None:
    """What the batch must have and only one person says is in the mix, with who else may have seen
    it; None where all is more than a word."""
    for line in batch.lines.values():
        if words := by_word(batch, line):
            what = f"only {words[-1].who} says that {line.name} is in the mix"
            step = "let a second person say so"
            if (scale := words[-1].scale) is not None:
                step = f"put its empty vessel on {scale}, or {step}"
            return Refusal("unseen", what, step, line.name, saw_it_go_in(batch, line))
    return None
