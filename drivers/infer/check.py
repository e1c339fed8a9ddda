"""Whether a description reads the recordings it was made from as the display showed them. Pure."""

from drivers.grammar import Grammar
from drivers.infer.cutting import SHARE, Cut, Step, Unclear
from drivers.infer.number import Shown
from drivers.parser import Parser
from drivers.reading import Fault, Reading

_STEPS: dict[Step, str] = {
    "empty": "with nothing on the pan", "known": "with the known load", "move": "while it moved",
    "over": "with too much on it", "tared": "with its tare key pressed",
    "lifted": "with the load off its tare",
}  # fmt: skip


def items_of(grammar: Grammar, cut: Cut, step: Step) -> list[Reading | Fault]:
    """What a grammar makes of the frames of a step."""
    sent = b"".join(cut.start + frame + cut.end for frame in cut.frames.get(step, []))
    closing = b"" if cut.end else (cut.start or b"\r")
    return list(Parser(grammar).feed(sent + closing, 0.0))


def check_reads(grammar: Grammar, cut: Cut, shown: Shown, gross: bool) -> None:
    """Raises `Unclear` where a frame that stood under a known display reads anything else, or where
    too few frames are read."""
    for step in cut.frames:
        items = items_of(grammar, cut, step)
        faults = [item for item in items if isinstance(item, Fault)]
        if step != "over" and len(faults) > (1 - SHARE) * len(items):
            raise Unclear(
                f"what was worked out does not read what it sent {_STEPS[step]}: {faults[0].reason}"
            )
        if step in shown:
            _check_last(step, items, shown, gross)


def _check_last(step: Step, items: list[Reading | Fault], shown: Shown, gross: bool) -> None:
    wanted = shown[step]
    if gross and step in ("tared", "lifted"):
        wanted = shown["known"] if step == "tared" else wanted * 0
    for item in items[-3:]:
        if not isinstance(item, Reading) or item.value != wanted:
            found = item.value if isinstance(item, Reading) else item.reason
            raise Unclear(
                f"{_STEPS[step]} the display showed {wanted:f}, and the columns found read {found}"
            )


def tells_overload(grammar: Grammar, cut: Cut) -> str:
    """How it tells an overload: "told", "unread" (then there is no weight either), or "" where it
    is read as a weight."""
    items = items_of(grammar, cut, "over")[-3:]
    if any(isinstance(item, Reading) and item.value is not None for item in items):
        return ""
    return "told" if any(isinstance(item, Reading) for item in items) else "unread"


def stands_still(grammar: Grammar, cut: Cut) -> bool:
    """Whether what it says to be stable did stand still: one frame that differs from both of its
    neighbours may be chance, two are none."""
    items = [item for item in items_of(grammar, cut, "move") if isinstance(item, Reading)]
    belied = sum(
        bool(here.stable) and here.value not in (before.value, after.value)
        for before, here, after in zip(items, items[1:], items[2:], strict=False)
    )
    return belied < 2
