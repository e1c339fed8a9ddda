"""The desk: one command at a time from the pans and the sockets, decided, recorded, then shown."""

import asyncio
import logging
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager

import msgspec

from drivers.reading import Reading
from station.batch import events as ev
from station.batch.state import Station
from station.ledger.book import LedgerError, Recorded
from station.metrology.scale import Device, Scale
from station.pan.view import Trouble
from station.service.clock import Clock, stamp
from station.service.metrics import Counts, told
from station.service.refusals import Refusals
from station.service.showing import DECIDES_S, Change, Showing
from station.service.troubles import Known, blocking, changes, over
from station.service.writer import Writer
from station.weighing.commands import Command, Decision, Refusal
from station.weighing.floor import Floor
from station.weighing.sight import Sight
from station.weighing.thermometer import Thermometer
from station.wire import Backup, Snapshot

log = logging.getLogger("station")

HANGS_S = 4.0
"""Seconds without a turn after which something hangs."""


class Desk:
    """The lock, the book and the clock around the floor. Nothing is shown before it is
    recorded."""

    def __init__(
        self,
        writer: Writer,
        clock: Clock,
        scales: tuple[Scale, ...],
        people: tuple[str, ...] = (),
        thermometers: tuple[Thermometer, ...] = (),
    ) -> None:
        self.clock = clock
        self.counts = Counts()
        self.batch_ended = asyncio.Event()
        """Set when a batch was closed or abandoned; for whoever waits for that to clear."""
        self._writer = writer
        self._floor = Floor(scales, people, thermometers)
        self._lock = asyncio.Lock()
        self._turn_since_s: float | None = None
        self._stirred = asyncio.Event()  # the pans want a look
        self._unshown = asyncio.Event()  # something changed that nobody was shown
        self._showing = Showing(self._floor, writer, clock)
        self._trouble: Trouble | None = None
        self._trouble_since = ""
        self._recorded: Known = {}
        self._troubles_of = ""
        self._refusals = Refusals()
        self._logged = ""
        self._beat_s = clock.monotonic()
        self._floor.resume(writer.station)
        self._tell()

    # what the pans say

    def reading(self, scale: str, reading: Reading) -> None:
        """Take in one reading: decided about, or shown in this turn of the loop."""
        self.counts.readings[scale] += 1
        if not self._floor.observe(scale, reading):
            return
        self._showing.stale = True
        if not self._lock.locked() and self._floor.notice() is not None:
            self.stir()
        elif self._showing.due(scale):
            self._unshown.set()

    def link(
        self, scale: str, up: bool, reason: str, next_step: str, device: Device | None = None
    ) -> None:
        self._floor.link(scale, up, reason, next_step, device)
        self.stir()

    def babble(self, scale: str, sample: str) -> None:
        self._floor.babble(scale, sample)

    def warmth(self, thermometer: Thermometer) -> None:
        """What a thermometer shows, or why it shows nothing."""
        if self._floor.warmth(thermometer):
            self._showing.stale = True
            self._unshown.set()

    def thermometer(self, name: str) -> Thermometer:
        """That thermometer as it was last."""
        return self._floor.thermometer(name)

    def stir(self) -> None:
        """Something changed: look at the pans and show."""
        self._showing.stale = True
        self._stirred.set()
        self._unshown.set()

    def offer_formulas(self, names: Sequence[str]) -> None:
        """These can be opened from now on."""
        self._floor.offer_formulas(names)
        self.stir()

    def tell_backup(self, backup: Backup) -> None:
        """So it is with the last good backup from now on."""
        self._showing.backup = backup
        self.stir()

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
        if self._showing.stale and not self._soon_decided:
            self._tell()
        return self._showing.last

    @property
    def _soon_decided(self) -> bool:
        """Whether what the pans show is about to be decided, and the ledger is not slow: then the
        one is shown with the other."""
        deciding = self._stirred.is_set() or self._lock.locked()
        return deciding and self._writer.waiting_s < DECIDES_S

    def metrics(self) -> str:
        """What was counted and what is so, as OpenMetrics text."""
        return told(self.counts, self.snapshot, self._writer.path)

    def listen(self, listener: Change) -> None:
        self._showing.listen(listener)

    def unlisten(self, listener: Change) -> None:
        self._showing.unlisten(listener)

    async def alive(self) -> bool:
        """Whether time passes, no decision has the lock for too long, and the ledger's thread
        turns."""
        oldest_s = min(self._beat_s, self._turn_since_s or self._beat_s)
        if self.clock.monotonic() - oldest_s > HANGS_S * self.clock.speed:
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

    @asynccontextmanager
    async def _turn(self) -> AsyncIterator[None]:
        """The lock, and since when one decision has it."""
        async with self._lock:
            self._turn_since_s = self.clock.monotonic()
            try:
                yield
            finally:
                self._turn_since_s = None

    async def submit(self, command: Command, uid: int | None = None) -> str:
        """Carry out a person's command; its answer. Raises `Refusal`; an open batch records it."""
        async with self._turn():
            try:
                decision = await self._decide(command, uid)
            except Refusal as refusal:
                self.counts.refusals[refusal.code] += 1
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
            while self._soon_decided:  # noqa: ASYNC110 - ends by itself, soon
                await asyncio.sleep(DECIDES_S / 20)
            if self._showing.heard:
                self._tell()

    async def look(self) -> None:
        """Decide what the pans show, then show what is so."""
        await self._follow_pans()
        self._tell()

    async def _follow_pans(self) -> None:
        async with self._turn():
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
                self._turn_since_s = self.clock.monotonic()  # on a slow card many take their time

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
            self.counts.decisions[type(command).__name__] += 1
        self._floor.tell(command, decision)
        if self.station.batch and self.station.batch.end and before is not None:
            await self._checkpoint()
            self.batch_ended.set()
        return decision

    async def _append(
        self, events: Sequence[tuple[str | None, ev.Event]], at: str, uid: int | None
    ) -> None:
        if uid is not None:
            events = [(batch, msgspec.structs.replace(event, uid=uid)) for batch, event in events]
        try:
            records = await self._writer.append(events, at)
            self.counts.commits.take(self._writer.took_s)
        except LedgerError as error:
            self._ledger_failed(error)
            raise Refusal("blocked-ledger", error.sentence, error.next) from None
        self._floor.stand(self.station)
        self._tell(records)

    async def _record_refusal(self, command: Command, refusal: Refusal, uid: int | None) -> None:
        batch = self.station.open
        if self._trouble is not None or batch is None:
            return
        line = refusal.line or getattr(command, "line", None)
        if line not in batch.lines and line not in batch.meats:
            line = None  # what a client makes up is in the reason, and counts as one
        event = ev.Refused(line, type(command).__name__, refusal.code, refusal.sentence)
        first = self._refusals.first(batch.id, event, self.clock.monotonic())
        events = [*([event] if first else []), *refusal.records]
        if not events:
            return
        try:
            await self._append([(batch.id, e) for e in events], stamp(self.clock.utc()), uid)
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
            async with self._turn():
                await (self._mend_ledger() if self._trouble else self._tend_ledger())
            await self.clock.sleep(1.0)

    async def _tend_ledger(self) -> None:
        try:
            await self._writer.tend()
        except LedgerError as error:
            self._ledger_failed(error)
            return
        await self._record_troubles()
        for batch, refused in self._refusals.due(self.clock.monotonic()):
            if self.station.find(batch) is not None:
                await self._record_of(batch, [refused])

    async def _record_troubles(self) -> None:
        """Entry and exit of every reason, once a second at most."""
        batch = self.station.open
        if self._troubles_of != (batch.id if batch else ""):
            left, self._recorded = self._recorded, {}
            if left and self.station.find(self._troubles_of) is not None:  # it left, blocked
                await self._record_of(self._troubles_of, over(left.values()))
            self._troubles_of = batch.id if batch else ""
        if batch is None:
            return
        now = blocking(self._floor.guide())
        events = changes(self._recorded, now)
        if events and await self._record_of(batch.id, events):
            self._recorded = now

    async def _record_of(self, batch: str, events: Sequence[ev.Event]) -> bool:
        """Record what is so of a batch; False where the ledger failed, which is shown."""
        try:
            at = stamp(self.clock.utc())
            await self._append([(batch, event) for event in events], at, None)
        except Refusal:
            return False
        return True

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

    def _tell(self, records: Sequence[Recorded] = ()) -> None:
        """Show what is so now."""
        self._showing.show(self._trouble, records)
