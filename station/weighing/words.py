"""What the bench hand is told: one word, one sentence, the next step, and the figures."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from station.batch.progress import Phase
from station.batch.timing import Clock
from station.metrology.band import Limits
from station.pan.view import Trouble
from station.weighing.commands import Form, Offer
from station.weighing.questions import Ask

Word = Literal[
    "READY",  # no batch is at the bench
    "SET DOWN",  # a vessel is wanted
    "POUR",
    "SLOWER",
    "STOP",
    "TAKE OUT",
    "IN BAND",  # lift it off; a cure: the key, then lift
    "PUT BACK",  # lifted with too much or too little in it
    "TIP",  # accepted, and standing
    "ANSWER",  # a question
    "DO",  # a step of the process, or the end
    "WAIT",  # the station is busy: hands off
    "BLOCKED",
    "ON HOLD",
]
"""What the hands do now."""


@dataclass(frozen=True, slots=True)
class Guide:
    """All that a screen needs. Masses in grams; `final_g` is where a pour would end if it were
    stopped now; `troubles` are all reasons, the first is shown; `asks` is a question to be answered
    now, `offers` all that can be done, `forms` what can with a value that is typed; `calls`: the
    time of a step is up; `clocks`: the times that run whatever has its turn, of all batches."""

    phase: Phase | None
    word: Word
    sentence: str
    next: str
    line: str | None = None
    role: str | None = None
    scale: str | None = None
    net_g: Decimal | None = None
    target_g: Fraction | None = None
    lower_g: Fraction | None = None
    upper_g: Fraction | None = None
    limits: Limits | None = None
    division_g: Decimal | None = None
    final_g: Decimal | None = None
    troubles: tuple[Trouble, ...] = ()
    asks: Ask | None = None
    offers: tuple[Offer, ...] = ()
    forms: tuple[Form, ...] = ()
    calls: bool = False
    clocks: tuple[Clock, ...] = ()

    @property
    def alarm(self) -> bool:
        """Whether the screen turns inverse and calls: something is wrong."""
        return self.word in ("PUT BACK", "BLOCKED", "ON HOLD") or bool(self.troubles)


def blocked(told: Guide, troubles: Sequence[Trouble]) -> Guide:
    first = troubles[0]
    return replace(
        told, word="BLOCKED", sentence=first.sentence, next=first.next, troubles=tuple(troubles)
    )
