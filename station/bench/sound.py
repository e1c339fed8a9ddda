"""Sounds told apart by count and pace, for ears behind muffs. Pure: times in, beeps out.

Silent while pouring; STOP fast and unbroken; accepted one; refused three; BLOCKED once, then every
ten seconds until a key.
"""

from typing import Literal

FAST_S = 0.12
PACE_S = 0.25
REMIND_S = 10.0


class Sounds:
    """Says when to beep."""

    def __init__(self) -> None:
        self._word = ""
        self._reason: str | None = None
        self._left = 0
        self._next_s: float | None = None
        self._remind_s: float | None = None

    def show(self, word: str, reason: str | None, time_s: float) -> None:
        """The word on the screen and why it is blocked."""
        if word == "STOP" and self._word != "STOP":
            self._next_s = time_s
        if word == "BLOCKED" and (self._word != "BLOCKED" or reason != self._reason):
            self._remind_s = time_s
        if word != "BLOCKED":
            self._remind_s = None
        if self._word == "STOP" != word and not self._left:
            self._next_s = None
        self._word, self._reason = word, reason

    def told(self, what: Literal["accepted", "refused"], time_s: float) -> None:
        """A decision: one beep, or three."""
        self._left = 1 if what == "accepted" else 3
        self._next_s = time_s

    def key(self) -> None:
        """Somebody is there: BLOCKED need not call any longer."""
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
