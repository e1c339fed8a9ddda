"""One press, or two: what a splash or a leaning elbow does must not be what a hand does. Pure."""

from dataclasses import dataclass

REPEATS_S = 0.15
"""Presses closer than this are a keyboard's own repeating, or a bounce."""
TWICE_S = 2.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a press asks for: an action, and the line it is about."""

    action: str
    line: str | None


class Presses:
    """Tells which presses count. `press` a key, then ask `due` as time passes.

    An action that wants its key twice counts when the second press comes within two seconds of the
    first for the same line, and no third one follows at once: a key held down repeats for ever.
    """

    def __init__(self) -> None:
        self._last: tuple[Wanted, float] | None = None
        self._first_s: float | None = None
        self._due: tuple[Wanted, float] | None = None

    def press(self, wanted: Wanted, twice: bool, time_s: float) -> bool:
        """Whether the press counts at once."""
        last, self._last = self._last, (wanted, time_s)
        same = last is not None and last[0] == wanted
        self._due = None
        if same and last is not None and time_s - last[1] < REPEATS_S:
            self._first_s = None  # held down, or a splash over the keyboard
            return False
        if not twice:
            self._first_s = None
            return True
        if same and self._first_s is not None and time_s - self._first_s <= TWICE_S:
            self._due = (wanted, time_s + REPEATS_S)
            self._first_s = None
        else:
            self._first_s = time_s
        return False

    @property
    def again(self) -> bool:
        """Whether a second press is waited for."""
        return self._first_s is not None

    def due(self, time_s: float) -> Wanted | None:
        """The action whose second press has stood alone long enough, once."""
        if self._due is None or time_s < self._due[1]:
            return None
        wanted, self._due = self._due[0], None
        return wanted
