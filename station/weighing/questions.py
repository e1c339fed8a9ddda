"""What a person is asked where nothing is certain, and the calls that answer it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from station.pan.view import Asks, Trouble
from station.weighing.acceptance import key_first
from station.weighing.commands import WHY, Offer
from station.weighing.people import others
from station.weighing.sight import Sight


@dataclass(frozen=True, slots=True)
class Ask:
    """A question, and the calls that answer it. `otherwise`: what the hands do where none of them
    is true."""

    question: str
    answers: tuple[Offer, ...]
    otherwise: str = ""


def asked(sight: Sight, name: str | None, troubles: Sequence[Trouble]) -> Ask | None:
    """The question that the first trouble of line `name` is, or None."""
    first = troubles[0] if troubles else None
    if first is None or first.asks is None:
        return None
    if first.asks == "device":
        return _another_scale(sight, first)
    if name is None:
        return None
    ask = _about_line(sight, name, first, first.asks)
    if not sight.facts.open_batch().opened.ahead:
        return ask
    return replace(ask, answers=tuple(one for one in ask.answers if one.verb != "tip"))


def _another_scale(sight: Sight, trouble: Trouble) -> Ask:
    """Whether what answers takes the place of the scale on record. A line that is being weighed
    there is weighed again."""
    (scale,) = trouble.about
    answer = Offer("confirm-scale", {"scale": scale}, danger=True, means="use it from now on")
    if (line := sight.station.weighed_on(scale)) is not None:
        params = {"line": line.name, "reason": WHY}
        answer = Offer("void", params, "void", danger=True, means=f"begin {line.name} again")
    return Ask(trouble.sentence, (answer,), "attach the scale on record")


def _about_line(sight: Sight, name: str, trouble: Trouble, asks: Asks) -> Ask:
    line = {"line": name}

    def yes(means: str) -> Offer:
        return Offer("accept", line, "accept", danger=True, means=means)

    gone = Offer("tip", {**line, "unaccepted": True}, "in-mix", danger=True, means="in the mix")
    void = Offer("void", {**line, "reason": WHY}, "void", danger=True, means="begin again")
    answers: tuple[Offer, ...]
    match asks:
        case "jump":
            answers = (replace(yes("it belongs in"), danger=_danger(sight, name)),)
        case "away":
            answers = (yes("as it was"), gone, void)
        case "swapped":
            answers = (yes("it is its vessel"), void)
        case "missing":
            answers = (gone, yes("it went back"))
        case "gone":
            answers = (gone, void)
        case "doubt":
            answers = (*_seconds(sight, name), void)
        case "tipped":
            answers = (Offer("tip", {"line": trouble.about[0]}, "tip", danger=True, means="yes"),)
        case "which":
            answers = vessels(trouble.about)
    return Ask(trouble.sentence, answers, _ELSE[asks])


_ELSE: dict[Asks, str] = {
    "jump": "take it off",
    "away": "put back what was on it",
    "swapped": "put its own vessel back",
    "missing": "put back what was in it",
    "gone": "put back what was on it",
    "doubt": "weigh its jar",
    "tipped": "lift it off",
    "which": "lift it off",
}
"""What the hands do where no answer is true: it ends the question too."""


def _seconds(sight: Sight, name: str) -> tuple[Offer, ...]:
    """What everybody but the one at the bench may have seen."""
    return tuple(
        Offer("accept", {"line": name, "second": n}, danger=True, means=f"{n} saw where it went")
        for n in others(sight.facts.open_batch())
    )


def _danger(sight: Sight, name: str) -> bool:
    """Whether the key of a line is pressed twice."""
    batch = sight.facts.open_batch()
    return name in batch.lines and key_first(batch, batch.lines[name])


def vessels(names: Iterable[str], line: str | None = None) -> tuple[Offer, ...]:
    """To use each of these; the key takes the first. `line`: for which, where no line has its
    turn."""
    of = {} if line is None else {"line": line}
    return tuple(
        Offer(
            "use",
            {"vessel": name, **of},
            "vessel" if n == 0 else None,
            means=f"{name} for {line}" if line else name,
        )
        for n, name in enumerate(names)
    )
