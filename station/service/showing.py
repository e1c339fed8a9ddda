"""What the world sees of the bench: made when something changed, once a turn of the loop."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from station.batch.state import Lag
from station.ledger.book import Recorded
from station.pan.view import Pan, Trouble
from station.service.clock import Clock, stamp
from station.service.snapshot import scale_shown, snapshot
from station.service.writer import Writer
from station.weighing.floor import Floor
from station.weighing.words import Guide
from station.wire import Backup, Event, ScaleShown, Snapshot

OTHERS_S = 0.1
"""How often scales are shown that the hand does not look at, seconds."""

DECIDES_S = 0.2
"""What the pans show waits so long, in seconds, for what is decided about it."""

WAITS_S = 0.5
"""Seconds after which it is said that the ledger waits."""

Change = Callable[[Snapshot, tuple[Event, ...]], None]


class Showing:
    """The last snapshot, and who listens. Nothing here waits for the ledger."""

    def __init__(self, floor: Floor, writer: Writer, clock: Clock) -> None:
        self._floor = floor
        self._writer = writer
        self._clock = clock
        self._listeners: list[Change] = []
        self._scales: dict[str, tuple[Pan, Lag | None, ScaleShown]] = {}
        self._shown_s = clock.monotonic()
        self.last = Snapshot()
        self.backup = Backup()
        self.stale = True

    def listen(self, listener: Change) -> None:
        self._listeners.append(listener)

    def unlisten(self, listener: Change) -> None:
        if listener in self._listeners:
            self._listeners.remove(listener)

    @property
    def heard(self) -> bool:
        """Whether anybody listens."""
        return bool(self._listeners)

    def due(self, scale: str) -> bool:
        """Whether a reading of that scale is to be shown now: what the hand looks at always, others
        ten times a second."""
        if scale == self.last.scale:
            return True
        return self._clock.monotonic() - self._shown_s > OTHERS_S

    def show(self, trouble: Trouble | None, records: Sequence[Recorded] = ()) -> None:
        """Show what is so now, to everyone who listens, if it changed. `trouble`: with writing."""
        self.stale, self._shown_s = False, self._clock.monotonic()
        told = waiting(self._floor.guide(trouble, stamp(self._clock.utc())), self._writer.waiting_s)
        writer, sight = self._writer, self._floor.sight()
        lags = sight.station.lags
        scales = {name: self._scale(pan, lags.get(name)) for name, pan in sight.pans.items()}
        shown = snapshot(
            sight, told, writer.head, writer.seq, writer.simulated, scales, writer.unverified,
            self.backup,
        )  # fmt: skip
        if shown == self.last and not records:
            return
        self.last = shown
        events = tuple(Event(r.seq, r.at, r.batch, r.kind, r.body) for r in records)
        for listener in list(self._listeners):
            listener(shown, events)

    def _scale(self, pan: Pan, lag: Lag | None) -> ScaleShown:
        """What a scale shows, made anew only where that changed."""
        kept = self._scales.get(pan.scale.name)
        if kept is None or kept[0] is not pan or kept[1] is not lag:
            kept = self._scales[pan.scale.name] = (pan, lag, scale_shown(pan, lag))
        return kept[2]


def waiting(told: Guide, seconds: float) -> Guide:
    """The guide while an event is not recorded yet: the word goes on, and what waits is said."""
    if seconds < WAITS_S:
        return told
    sentence = f"nothing is recorded yet: the ledger waits since {int(seconds)} s; {told.sentence}"
    return replace(told, sentence=sentence)
