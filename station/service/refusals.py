"""Refusals on record: the first as it is, its repeats as a count. Pure."""

from msgspec.structs import replace

from station.batch import events as ev

FIRST_WAIT_S = 60.0
LONGEST_WAIT_S = 3600.0
"""How long repeats are counted before the count is recorded; longer each time they go on."""

_Key = tuple[str, str | None, str]


class _Kept:
    def __init__(self, now_s: float) -> None:
        self.wait_s = FIRST_WAIT_S
        self.until_s = now_s + FIRST_WAIT_S
        self.repeats: ev.Refused | None = None


class Refusals:
    """A client that is refused again and again fills no ledger: of one batch, line and code one
    event is recorded at once, then one in a while with how often it came and its last reason."""

    def __init__(self) -> None:
        self._kept: dict[_Key, _Kept] = {}

    def first(self, batch: str, event: ev.Refused, now_s: float) -> bool:
        """Whether this one is to be recorded now; else it is counted."""
        key = (batch, event.line, event.code)
        kept = self._kept.get(key)
        if kept is None:
            self._kept[key] = _Kept(now_s)
            return True
        times = kept.repeats.times + 1 if kept.repeats else 1
        kept.repeats = replace(event, times=times)
        return False

    def due(self, now_s: float) -> list[tuple[str, ev.Refused]]:
        """The counts to be recorded now, each with its batch. What did not repeat is forgotten."""
        found = []
        for key, kept in list(self._kept.items()):
            if now_s < kept.until_s:
                continue
            if kept.repeats is None:
                del self._kept[key]
                continue
            found.append((key[0], kept.repeats))
            kept.repeats = None
            kept.wait_s = min(2 * kept.wait_s, LONGEST_WAIT_S)
            kept.until_s = now_s + kept.wait_s
        return found
