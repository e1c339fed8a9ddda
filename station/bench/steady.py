"""A word stays long enough to be read, unless a more urgent one comes. Pure: times in."""

from msgspec.structs import replace

from station.wire import Snapshot

STAYS_S = 0.3
STOPPED_S = 2.0
"""After STOP nobody is told to pour sooner: the last grains are still falling."""
_URGENCY = {"SLOWER": 2, "STOP": 3, "TAKE OUT": 4}
_ALARM = 5
_HELD = ("word", "alarm", "sentence", "next", "blocked", "asks", "offers")


class Steady:
    """What is shown of what the station says: the newest figures, the word that is due."""

    def __init__(self) -> None:
        self._shown: Snapshot | None = None
        self._since_s = 0.0

    def show(self, said: Snapshot, time_s: float) -> Snapshot:
        """The station's snapshot as it is to be shown at a time in seconds."""
        held = self._shown
        if held is None or self._gives_way(held, said, time_s):
            if held is None or said.word != held.word:
                self._since_s = time_s
            self._shown = said
            return said
        return replace(said, **{name: getattr(held, name) for name in _HELD})

    def due(self, time_s: float) -> bool:
        """Whether a word that waits may be shown by now."""
        return self._shown is not None and time_s - self._since_s >= STAYS_S

    def _gives_way(self, held: Snapshot, said: Snapshot, time_s: float) -> bool:
        if said.word == held.word or said.line != held.line:
            return True
        stays_s = STAYS_S
        if held.word == "STOP" and said.word in ("POUR", "SLOWER"):
            stays_s = STOPPED_S
        return _urgency(said) > _urgency(held) or time_s - self._since_s >= stays_s


def _urgency(shown: Snapshot) -> int:
    return _ALARM if shown.alarm else _URGENCY.get(shown.word, 1)
