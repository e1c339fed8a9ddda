"""The desk: one command at a time from the pans and the sockets, decided, recorded, then shown."""

import asyncio
import logging
from collections.abc import Callable, Sequence
from dataclasses import replace

import msgspec

from drivers.reading import Reading
from station.batch import events as ev
from station.batch.state import Lag, Station
from station.ledger.book import LedgerError, Recorded
from station.metrology.scale import Scale
from station.pan.view import Pan, Trouble
from station.service.clock import Clock, stamp
from station.service.snapshot import scale_shown, snapshot
from station.service.writer import Writer
from station.weighing.commands import Command, Decision, Refusal
from station.weighing.floor import Floor
from station.weighing.guide import Guide
from station.weighing.sight import Sight
from station.wire import Event, ScaleShown, Snapshot

log = logging.getLogger("station")

SAME_REFUSAL_S = 1.0
"""A refusal that says the same within this time is recorded once."""

OTHERS_S = 0.1
"""How often scales are shown that the hand does not look at, seconds."""

DECIDES_S = 0.2
"""What the pans show waits so long, in seconds, for what is decided about it."""

WAITS_S = 0.5
"""Seconds after which it is said that the ledger waits."""

HANGS_S = 4.0
"""Seconds without a turn after which something hangs."""

Change = Callable[[Snapshot, tuple[Event, ...]], None]


class Desk:
    """The lock, the book and the clock around the floor. Nothing is shown before it is
    recorded."""

    def __init__(
        self, writer: Writer, clock: Clock, scales: tuple[Scale, ...], people: tuple[str, ...] = ()
    ) -> None:
        self.clock = clock
        self._writer = writer
        self._floor = Floor(scales, people)
        self._lock = asyncio.Lock()
        self._stirred = asyncio.Event()  # the pans want a look
        self._unshown = asyncio.Event()  # something changed that nobody was shown
        self._listeners: list[Change] = []
        self._shown = Snapshot()
        self._shown_s = clock.monotonic()
        self._stale = True
        self._scales: dict[str, tuple[Pan, Lag | None, ScaleShown]] = {}
        self._trouble: Trouble | None = None
        self._trouble_since = ""
        self._recorded_troubles: dict[tuple[str, str | None], ev.Blocked] = {}
        self._troubles_of = ""
        self._last_refusal: tuple[str, float] = ("", 0.0)
        self._logged = ""
        self._beat_s = clock.monotonic()
        self._floor.resume(writer.station)
        self._tell()

    # what the pans say

    def reading(self, scale: str, reading: Reading) -> None:
        """Take in one reading. What the hand looks at is shown in this turn of the loop, other
        scales ten times a second."""
        if not self._floor.observe(scale, reading):
            return
        self._stale = True
        if not self._lock.locked() and self._floor.notice() is not None:
            self.stir()
        elif scale == self._shown.scale or self.clock.monotonic() - self._shown_s > OTHERS_S:
            self._unshown.set()

    def link(self, scale: str, up: bool, reason: str, next_step: str) -> None:
        self._floor.link(scale, up, reason, next_step)
        self.stir()

    def babble(self, scale: str, sample: str) -> None:
        self._floor.babble(scale, sample)

    def stir(self) -> None:
        """Something changed: look at the pans and show."""
        self._stale = True
        self._stirred.set()
        self._unshown.set()

    # what the world sees

    @property
    def station(self) -> Station:
        return self._writer.station

    @property
    def simulated(self) -> bool:
        return self._writer.simulated

    @property
    def snapshot(self) -> Snapshot:
        """What is so now; made when somebody looks."""
        if self._stale and not (self._deciding and self._shown_lately):
            self._tell()
        return self._shown

    @property
    def _deciding(self) -> bool:
        """Whether what the pans show is about to be decided, or is being recorded."""
        return self._stirred.is_set() or self._lock.locked()

    @property
    def _shown_lately(self) -> bool:
        return self.clock.monotonic() - self._shown_s < DECIDES_S * self.clock.speed

    def listen(self, listener: Change) -> None:
        self._listeners.append(listener)

    def unlisten(self, listener: Change) -> None:
        if listener in self._listeners:
            self._listeners.remove(listener)

    async def alive(self) -> bool:
        """Whether decisions are taken and the ledger's thread turns."""
        if self.clock.monotonic() - self._beat_s > HANGS_S * self.clock.speed:
            return False
        try:
            await asyncio.wait_for(self._writer.probe(), HANGS_S)
        except TimeoutError:
            return False
        return True

    def sight(self) -> Sight:
        """The record and the pans as they are now."""
        return self._floor.sight()

    # deciding

    async def submit(self, command: Command, uid: int | None = None) -> str:
        """Carry out a person's command; its answer. Raises `Refusal`; an open batch records it."""
        async with self._lock:
            try:
                decision = await self._decide(command, uid)
            except Refusal as refusal:
                await self._record_refusal(command, refusal, uid)
                raise
        self.stir()
        return decision.answer

    async def run(self) -> None:
        """Follow the pans and the clock for ever; if either fails, so does this."""
        async with asyncio.TaskGroup() as group:
            group.create_task(self._tick())
            group.create_task(self._follow())
            group.create_task(self._show())
            group.create_task(self._record())

    async def _follow(self) -> None:
        while True:
            await self._stirred.wait()
            self._stirred.clear()
            await self.look()

    async def _show(self) -> None:
        """Show what changed, once a turn of the loop, and never wait for the ledger."""
        while True:
            await self._unshown.wait()
            self._unshown.clear()
            while self._deciding and self._shown_lately:  # noqa: ASYNC110 - ends by itself, soon
                await asyncio.sleep(DECIDES_S / 20)  # what follows is shown with it
            if self._listeners:
                self._tell()

    async def look(self) -> None:
        """Decide what the pans show, then show what is so."""
        await self._follow_pans()
        self._tell()

    async def _follow_pans(self) -> None:
        async with self._lock:
            while (command := self._floor.notice()) is not None:
                try:
                    decision = await self._decide(command, None)
                except Refusal as refusal:
                    if refusal.sentence != self._logged:  # once, not at every reading
                        self._logged = refusal.sentence
                        log.warning("%s: %s", type(command).__name__, refusal.sentence)
                    return
                if not decision.events:
                    return

    async def _decide(self, command: Command, uid: int | None) -> Decision:
        """Decide, record, evolve, under the lock. Raises `Refusal`."""
        if self._trouble is not None:
            raise Refusal("blocked-ledger", self._trouble.sentence, self._trouble.next)
        before = self.station.open
        at = stamp(self.clock.utc())
        decision = self._floor.decide(command, at)
        if decision.events:
            batch = self._floor.batch_of(command)
            await self._append([(batch, event) for event in decision.events], at, uid)
        self._floor.tell(command, decision)
        if self.station.batch and self.station.batch.end and before is not None:
            await self._checkpoint()
        return decision

    async def _append(
        self, events: Sequence[tuple[str | None, ev.Event]], at: str, uid: int | None
    ) -> None:
        if uid is not None:
            events = [(batch, msgspec.structs.replace(event, uid=uid)) for batch, event in events]
        try:
            records = await self._writer.append(events, at)
        except LedgerError as error:
            self._ledger_failed(error)
            raise Refusal("blocked-ledger", error.sentence, error.next) from None
        self._floor.stand(self.station)
        self._tell(records)

    async def _record_refusal(self, command: Command, refusal: Refusal, uid: int | None) -> None:
        if self._trouble is not None or self.station.open is None:
            return
        now = self.clock.monotonic()
        said, when = self._last_refusal
        if said == refusal.sentence and now - when < SAME_REFUSAL_S:
            return
        self._last_refusal = (refusal.sentence, now)
        line = refusal.line or getattr(command, "line", None)
        event = ev.Refused(line, type(command).__name__, refusal.code, refusal.sentence)
        at, batch = stamp(self.clock.utc()), self.station.open.id
        try:
            await self._append([(batch, e) for e in (event, *refusal.records)], at, uid)
        except Refusal:
            return  # the ledger failed; that is shown, and nothing was promised

    # time

    async def _tick(self) -> None:
        """Four times a second: notice silence, whatever the ledger does meanwhile."""
        while True:
            now = self.clock.monotonic()
            self._floor.tick(now)
            self.stir()
            self._beat_s = now
            await self.clock.sleep(0.25)

    async def _record(self) -> None:
        """Once a second: tend or mend the book, record what blocks."""
        while True:
            async with self._lock:
                await (self._mend_ledger() if self._trouble else self._tend_ledger())
            await self.clock.sleep(1.0)

    async def _tend_ledger(self) -> None:
        try:
            await self._writer.tend()
        except LedgerError as error:
            self._ledger_failed(error)
            return
        await self._record_troubles()

    async def _record_troubles(self) -> None:
        """Entry and exit of every reason, once a second at most."""
        batch = self.station.open
        if self._troubles_of != (batch.id if batch else ""):
            await self._leave_troubles()
            self._troubles_of = batch.id if batch else ""
        if batch is None:
            return
        told = self._floor.guide()
        now: dict[tuple[str, str | None], ev.Blocked] = {
            (trouble.reason, told.scale): ev.Blocked(
                told.line, told.scale, trouble.reason, trouble.sentence
            )
            for trouble in told.troubles
        }
        before = self._recorded_troubles
        begun: list[ev.Event] = [event for key, event in now.items() if key not in before]
        over = [
            ev.Unblocked(event.line, event.scale, event.reason)
            for key, event in before.items()
            if key not in now
        ]
        if begun or over:
            events = [(batch.id, event) for event in (*begun, *over)]
            try:
                await self._append(events, stamp(self.clock.utc()), None)
            except Refusal:
                return
            self._recorded_troubles = now

    async def _leave_troubles(self) -> None:
        """The batch that was blocked has left the bench: what blocked it is over for it."""
        left, self._recorded_troubles = self._recorded_troubles, {}
        over = [ev.Unblocked(event.line, event.scale, event.reason) for event in left.values()]
        if not over or self.station.find(self._troubles_of) is None:
            return
        try:
            events = [(self._troubles_of, event) for event in over]
            await self._append(events, stamp(self.clock.utc()), None)
        except Refusal:
            return  # the ledger failed; that is shown

    # the ledger's trouble

    def _ledger_failed(self, error: LedgerError) -> None:
        log.error("%s; %s", error.sentence, error.next)
        self._trouble = Trouble("ledger", error.sentence, error.next)
        self._trouble_since = stamp(self.clock.utc())
        self._tell()

    async def _mend_ledger(self) -> None:
        """Open and fold again; the ledger is well once it takes an event."""
        assert self._trouble is not None
        at = stamp(self.clock.utc())
        event = ev.LedgerRecovered(self._trouble_since, self._trouble.sentence)
        try:
            await self._writer.reopen(at)
            records = await self._writer.append([(None, event)], at)
        except LedgerError:
            return  # still shown; tried again in a second
        log.warning("the ledger is well again")
        self._trouble = None
        self._floor.resume(self.station)  # what was lifted meanwhile nobody recorded
        self._tell(records)

    async def _checkpoint(self) -> None:
        try:
            await self._writer.checkpoint()
        except LedgerError as error:
            log.warning("%s", error.sentence)  # the log only stays longer than it should

    def _tell(self, records: list[Recorded] | None = None) -> None:
        """Show what is so now, to everyone who listens, if it changed."""
        self._stale, self._shown_s = False, self.clock.monotonic()
        told = self._floor.guide(self._trouble)
        told = waiting(told, self._writer.waiting_s)
        writer, sight = self._writer, self.sight()
        scales = {name: self._scale(pan) for name, pan in sight.pans.items()}
        shown = snapshot(sight, told, writer.head, writer.seq, writer.simulated, scales)
        if shown == self._shown and not records:
            return
        self._shown = shown
        events = tuple(Event(r.seq, r.at, r.batch, r.kind, r.body) for r in records or ())
        for listener in list(self._listeners):
            listener(shown, events)

    def _scale(self, pan: Pan) -> ScaleShown:
        """What a scale shows, made anew only where that changed."""
        name, lag = pan.scale.name, self.station.lags.get(pan.scale.name)
        kept = self._scales.get(name)
        if kept is None or kept[0] is not pan or kept[1] is not lag:
            kept = self._scales[name] = (pan, lag, scale_shown(pan, lag))
        return kept[2]


def waiting(told: Guide, seconds: float) -> Guide:
    """The guide while an event is not recorded yet: the word goes on, and what waits is said."""
    if seconds < WAITS_S:
        return told
    sentence = f"nothing is recorded yet: the ledger waits since {int(seconds)} s; {told.sentence}"
    return replace(told, sentence=sentence)
