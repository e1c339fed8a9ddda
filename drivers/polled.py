"""Asking a scale that does not speak by itself. Pure: time and bytes in, questions and answers out.

An answer belongs to the question that is open and to no other: nothing in most formats says which
question it answers. So after a question that was not answered in time the line must have been still
for twice that time before the next one, twice as long again after every further miss, and whatever
comes meanwhile is let go. An answer later than that cannot be told from the right one: a slow scale
wants a timeout that is longer than it ever takes.
"""

from collections.abc import Callable, Iterator

from drivers.grammar_file import Poll
from drivers.reading import Fault, Reading

_LONGEST_STILL_S = 10.0

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
        self._still_s = self._timeout_s  # how long it must be still; longer after every miss

    def reset(self) -> None:
        """The port was closed or opened: nothing is asked."""
        self._asked_s = self._still_since_s = None
        self._next_s = 0.0

    def pause(self, time_s: float, seconds: float) -> None:
        """Ask nothing for so long, or until `resume`: the line is wanted for something else."""
        if self._asked_s is not None:
            self._missed(time_s)
        self._next_s = time_s + seconds

    def resume(self, time_s: float) -> None:
        """The line is free again."""
        self._next_s = min(self._next_s, time_s + self._period_s)

    def due(self, time_s: float) -> bytes | None:
        """The question, if it is time to ask."""
        if self._asked_s is not None:
            if time_s - self._asked_s <= self._timeout_s:
                return None
            self._missed(time_s)
        if self._still_since_s is not None:
            if time_s - self._still_since_s < self._still_s:
                return None
            self._still_since_s = None
        if time_s < self._next_s:
            return None
        self._asked_s, self._next_s = time_s, time_s + self._period_s
        self._reset()  # the tail of an answer is not the head of the next
        return self._question

    def _missed(self, time_s: float) -> None:
        """A question was not answered: its answer may still come, and the slower the scale the
        later."""
        if self._still_since_s is None and self._asked_s is not None:
            self._still_s = min(2 * self._still_s, _LONGEST_STILL_S)
        self._asked_s, self._still_since_s = None, time_s
        self._reset()

    def take(self, data: bytes, time_s: float) -> Iterator[Reading | Fault]:
        """Yield the answer; bytes that answer no open question are a fault."""
        if self._asked_s is None or time_s - self._asked_s > self._timeout_s:
            self._missed(time_s)
            yield Fault("nobody asked, or the answer came too late", time_s, data[:128])
            return
        for item in self._parse(data, time_s):
            if isinstance(item, Reading):
                if self._asked_s is None:
                    yield Fault("a second answer to one question", time_s, item.raw)
                    continue
                self._asked_s, self._still_s = None, self._timeout_s
            yield item
