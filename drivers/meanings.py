"""What the words and bits of a frame can mean, and what several of them come to. Pure."""

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from drivers.reading import Condition, Kind

CONDITIONS = {
    **{condition.value: condition for condition in Condition},
    "blank": Condition.ERROR,
}
KINDS = {kind.value: kind for kind in Kind}
STABLE = {"stable": True, "moving": False}
UNIT_WORD = "unit "
"""A meaning such as "unit kg": the word or bit tells the unit."""
TIMES_WORD = "times "
"""A meaning such as "times 10": the figures of the frame want this factor."""
FACTORS = {text: Decimal(text) for text in ("0.001", "0.01", "0.1", "10", "100", "1000")}
MEANINGS = {*CONDITIONS, *KINDS, *STABLE, "negative", ""}


class Told(NamedTuple):
    """What meanings come to together."""

    condition: Condition
    kind: Kind
    stable: bool | None


def added_up(meanings: Iterable[str], kind: Kind) -> Told:
    """Of conditions the first that is not ok holds, of other things the last."""
    condition, stable = Condition.OK, None
    for meaning in meanings:
        if meaning in STABLE:
            stable = STABLE[meaning]
        elif meaning in KINDS:
            kind = KINDS[meaning]
        elif meaning in CONDITIONS and condition is Condition.OK:
            condition = CONDITIONS[meaning]
    return Told(condition, kind, stable)


def factor(meanings: Iterable[str], times: Decimal) -> Decimal:
    """`times` the factors that the meanings tell."""
    for meaning in meanings:
        if meaning.startswith(TIMES_WORD):
            times *= FACTORS[meaning.removeprefix(TIMES_WORD)]
    return times


def check_meaning(where: str, meaning: object) -> None:
    """Raises `ValueError` for what is none."""
    text = str(meaning)
    known = text in MEANINGS or (text.startswith(UNIT_WORD) and text.strip() != UNIT_WORD.strip())
    if not known and text.removeprefix(TIMES_WORD) not in (FACTORS if TIMES_WORD in text else ()):
        words = ", ".join(sorted(word for word in MEANINGS if word))
        raise ValueError(
            f"{where}: found {text!r}, expected one of {words}, or unit kg, or times"
            f" {', '.join(FACTORS)}"
        )
