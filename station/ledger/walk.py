"""From event to event: the chain, and the state that the events make."""

from collections.abc import Callable
from dataclasses import dataclass

import msgspec
from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.state import Batch, Station
from station.ledger import chain, tree
from station.ledger.records import Recorded, chain_break, read_events

NO_EVENT = (
    msgspec.MsgspecError,
    LookupError,
    ArithmeticError,
    ValueError,
    TypeError,
)
"""What reading and folding may raise for a body that no event has: a right hash says nothing about
what it covers."""

Leave = Callable[[Batch], None]
"""What is done with a batch whose last event is folded."""

Seen = Callable[[int], None]
"""Is told how far it is, by the event's number, every `STEP` events."""

STEP = 1000


@dataclass(frozen=True, slots=True)
class Broken:
    """The first thing that is wrong. `derived`: it is made from the events, and can be again."""

    seq: int | None
    reason: str
    derived: bool = False


class Break(Exception):
    """An event is not what it must be; the message says how."""


class Walk:
    """The state after event `seq` with the hash `head`, and one event further at a time.

    It keeps only the batches that can still change: any other is handed to `leave`.
    """

    def __init__(self, db: Database, leave: Leave, seen: Seen = lambda seq: None) -> None:
        self._db = db
        self._leave = leave
        self.seen = seen
        self._going: dict[str, Batch] = {}
        self.leaves = tree.Leaves()
        self.station = Station()
        self.first = self.head = b""
        self.simulated = False
        self.seq = 0

    def begin(self) -> None:
        """Know the ledger. Raises `Break`."""
        row = self._db.execute("SELECT id, simulated FROM ledger").fetchone()
        if row is None:
            raise Break("the ledger has lost its identity")
        self.first = self.head = chain.first_prev(row[0])
        self.simulated = bool(row[1])

    def stand_on(self, station: Station, seq: int, head: bytes) -> None:
        """Go on from a state that somebody else folded."""
        self.station, self.seq, self.head = station, seq, head
        here = [station.batch] if station.batch else []
        self._going = {batch.id: batch for batch in (*here, *station.parked.values())}

    def run(self) -> None:
        """To the last event, and hand over what goes on. Raises `Break` at the first thing that is
        wrong."""
        self.some(None)
        if self.seq == 0:
            raise Break("there is no event at all")
        for batch in self._going.values():
            self._leave(batch)

    def some(self, most: int | None) -> int:
        """So many events further, or to the last one; how many there were. Raises `Break`."""
        before = self.seq
        for record in read_events(self._db, after=before or None, most=most):
            self._take(record)
            if self.seq % STEP == 0:
                self.seen(self.seq)
        return self.seq - before

    def _take(self, record: Recorded) -> None:
        if (broken := chain_break(record, self.seq, self.head)) is not None:
            raise Break(broken)
        try:
            event = record.event
            if self.seq == 0 and not self._born_as(event):
                raise Break("the first event does not say what the ledger was born as")
            self.station = evolve(self.station, event, record.at, record.batch)
        except NO_EVENT as error:
            raise Break(f"event {record.seq} cannot be read: {error}") from error
        self.seq, self.head = record.seq, record.hash
        self.leaves.take(record.batch, record.hash)
        self._follow(record.batch)

    def _born_as(self, event: ev.Event) -> bool:
        return isinstance(event, ev.LedgerBorn) and event.simulated == self.simulated

    def _follow(self, batch: str | None) -> None:
        if (found := self.station.find(batch)) is not None:
            self._going[found.id] = found
        if len(self._going) > len(self.station.parked) + (self.station.batch is not None):
            for gone in [name for name in self._going if self.station.find(name) is None]:
                self._leave(self._going.pop(gone))
