"""Sounds told apart by count and pace, for ears behind muffs. Pure: times in, beeps out.

Silent while pouring; STOP fast and unbroken; accepted one; refused three; an alarm once, then every
ten seconds until a key: then somebody has seen it.
"""

from typing import Literal

FAST_S = 0.12
PACE_S = 0.25
REMIND_S = 10.0


class Sounds:
    """Says when to beep."""

    def __init__(self) -> None:
        self._word = ""
        self._wrong: tuple[str, str | None] | None = None
        self._left = 0
        self._next_s: float | None = None
        self._remind_s: float | None = None

    def show(self, word: str, alarm: bool, reason: str | None, time_s: float) -> None:
        """The word on the screen, whether it is an alarm, and why."""
        wrong = (word, reason) if alarm else None
        if word == "STOP" and self._word != "STOP":
            self._next_s = time_s
        if wrong is None:
            self._remind_s = None
        elif wrong != self._wrong:
            self._remind_s = time_s
        if self._word == "STOP" != word and not self._left:
            self._next_s = None
        self._word, self._wrong = word, wrong

    def told(self, what: Literal["accepted", "refused"], time_s: float) -> None:
        """A decision: one beep, or three."""
        self._left = 1 if what == "accepted" else 3
        self._next_s = time_s

    def key(self) -> None:
        """Somebody is there: an alarm need not call any longer."""
        self._remind_s = None

    def due(self, time_s: float) -> bool:
        """Whether to beep now."""
        if self._remind_s is not None and time_s >= self._remind_s:
            self._remind_s = time_s + REMIND_S
            return True
        if self._next_s is None or time_s < self._next_s:
            return False
        if self._word == "STOP":  # what is to be told is told after it
            self._next_s = time_s + FAST_S
            return True
        self._left -= 1
        self._next_s = time_s + PACE_S if self._left > 0 else None
        return True
