"""What waits to be drawn: a slow terminal drops frames, never words."""

from collections import deque
from threading import Condition

from station.bench.face import Face

MOST_WORDS = 16


class Frames:
    """Between the one who knows and the one who draws, in two threads. Only the newest face of each
    word is kept."""

    def __init__(self) -> None:
        self._waiting: deque[tuple[str, Face | None]] = deque(maxlen=MOST_WORDS)
        self._there = Condition()
        self._last: tuple[str, Face | None] | None = None

    def offer(self, word: str, face: Face) -> None:
        """A face to draw; it replaces a waiting one of the same word."""
        with self._there:
            if (word, face) == self._last and not self._waiting:
                return
            self._last = (word, face)
            if self._waiting and self._waiting[-1][0] == word:
                self._waiting.pop()
            self._waiting.append((word, face))
            self._there.notify()

    def beep(self) -> None:
        """A sound, in its turn."""
        with self._there:
            if not self._waiting or self._waiting[-1][0] != "\a":
                self._waiting.append(("\a", None))
                self._there.notify()

    def again(self) -> None:
        """Draw all of the last face anew: something else was on the screen."""
        with self._there:
            self._waiting.append(("again", None))
            self._there.notify()

    def end(self) -> None:
        """No more faces: whoever draws stops."""
        with self._there:
            self._waiting.append(("", None))
            self._there.notify()

    def next(self) -> tuple[str, Face | None]:
        """Wait for the next (word, face): ("\\a", None) is a sound, ("again", None)
        wants all drawn anew, ("", None) the end."""
        with self._there:
            while not self._waiting:
                self._there.wait()
            return self._waiting.popleft()
