"""What waits to be drawn: a slow terminal drops frames, never words."""

from collections import deque
from threading import Condition
from typing import Literal

from station.bench.face import Face

MOST_WORDS = 16
Want = Literal["sound", "again", "end"]


class Frames:
    """Between the one who knows and the one who draws, in two threads. Only the newest face of each
    word is kept, and one sound."""

    def __init__(self) -> None:
        self._faces: deque[tuple[str, Face]] = deque(maxlen=MOST_WORDS)
        self._wants: list[Want] = []
        self._there = Condition()
        self._last: tuple[str, Face] | None = None

    def offer(self, word: str, face: Face) -> None:
        """A face to draw; it replaces a waiting one of the same word."""
        with self._there:
            if (word, face) == self._last and not self._faces:
                return
            self._last = (word, face)
            if self._faces and self._faces[-1][0] == word:
                self._faces.pop()
            self._faces.append((word, face))
            self._there.notify()

    def want(self, want: Want) -> None:
        """A sound, or all drawn anew because something else was on the screen, or the end."""
        with self._there:
            if want not in self._wants:
                self._wants.append(want)
                self._there.notify()

    def next(self) -> Face | Want:
        """Wait for what is to be done next: a word before its sound, the end after everything."""
        with self._there:
            while not self._faces and not self._wants:
                self._there.wait()
            if self._faces:
                return self._faces.popleft()[1]
            return self._wants.pop(0)
