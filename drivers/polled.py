"""Asking a scale that does not speak by itself. Pure: time and bytes in, questions and answers out.

An answer belongs to the question that is open and to no other: nothing in most formats says which
question it answers. So after a question that was not answered in time the line must have been still
for as long again before the next one, and whatever comes meanwhile is let go.
"""

from collections.abc import Callable, Iterator

from drivers.grammar import Poll
from drivers.reading import Fault, Reading

Parse = Callable[[bytes, float], Iterator[Reading | Fault]]


class Poller:
    """`due` says when to send the question, `take` what came as its answer."""

    def __init__(self, poll: Poll, parse: Parse, reset: Callable[[], None]) -> None:
        self._question = poll.send.encode("latin-1")
        self._period_s = poll.period_ms / 1000
        self._timeout_s = poll.timeout_ms / 1000
        self._parse = parse
        self._reset = reset
        self._asked_s: float | None = None
        self._next_s = 0.0
        self._still_since_s: float | None = None  # set while a late answer may still come

    def reset(self) -> None:
        """The port was closed or opened: nothing is asked."""
        self._asked_s = self._still_since_s = None
        self._next_s = 0.0

    def pause(self, time_s: float, seconds: float) -> None:
        """Ask nothing for so long: the line is wanted for something else."""
        self._asked_s = None
        self._next_s = time_s + seconds

    def due(self, time_s: float) -> bytes | None:
        """The question, if it is time to ask."""
        if self._asked_s is not None:
            if time_s - self._asked_s <= self._timeout_s:
                return None
            self._asked_s, self._still_since_s = None, time_s
            self._reset()
        if self._still_since_s is not None:
            if time_s - self._still_since_s < self._timeout_s:
                return None
            self._still_since_s = None
        if time_s < self._next_s:
            return None
        self._asked_s, self._next_s = time_s, time_s + self._period_s
        return self._question

    def take(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Yield the answer; bytes that answer no open question are a fault."""
        if self._asked_s is None or time_s - self._asked_s > self._timeout_s:
            if self._asked_s is not None:  # late already, and nobody has looked at the clock yet
                self._asked_s = None
                self._reset()
            self._still_since_s = time_s
            yield Fault("nobody asked, or the answer came too late", time_s, data[:128])
            return
        for item in self._parse(data, time_s):
            if isinstance(item, Reading):
                if self._asked_s is None:
                    yield Fault("a second answer to one question", time_s, item.raw)
                    continue
                self._asked_s = None
            yield item
