"""What happened at the bench, outside any batch or in all of them."""

from decimal import Decimal

from station.batch.events.base import Event
from station.metrology.scale import Device, Scale


class LedgerBorn(Event, tag="ledger-born", frozen=True):
    station: str
    simulated: bool
    version: str


class LedgerRecovered(Event, tag="ledger-recovered", frozen=True):
    """Writing works again after it had failed."""

    since: str
    reason: str


class LossAccepted(Event, tag="loss-accepted", frozen=True):
    """A person let the station go on with a ledger that lacks events it once had: event
    `known_seq` with the hash `known_head` stood in the ledger `known_ledger` (the SHA-256 of its
    id, the `prev` of its first event); this one goes on after `found_seq`. Hashes in hex."""

    known_ledger: str
    known_seq: int
    known_head: str
    found_seq: int
    found_head: str


class LedgerRepaired(Event, tag="ledger-repaired", frozen=True):
    """What is made from the events was made anew, since it was not as they say: `found` is what
    was wrong, `evidence` the name of the file as it was found, `sha256` its hash in hex."""

    found: str
    evidence: str
    sha256: str


class VesselRecorded(Event, tag="vessel-recorded", frozen=True):
    """The empty weight of a vessel, taken settled on a scale."""

    name: str
    scale: str
    division_g: Decimal
    empty_g: Decimal
    raw: str
    who: str | None


class ScaleKnown(Event, tag="scale-known", frozen=True):
    """What answers under a scale's name from now on. `who` confirmed it in place of another; None:
    it was the first, or its port says now what it is."""

    scale: Scale
    device: Device
    who: str | None


class ScaleTold(Event, tag="scale-told", frozen=True):
    """A scale said that it was zeroed (its pan empty) or that its own tare is cleared."""

    scale: str
    order: str
    who: str | None


class LagMeasured(Event, tag="lag-measured", frozen=True):
    """How late a scale is: the averaging window in seconds that its steps tell, the shape of its
    filter ("boxcar" or "one-pole", for which the window is twice its time constant). `in_use`:
    steps of ordinary work told it, not weights set down for it."""

    scale: str
    shape: str
    window_s: Decimal
    spread_s: Decimal
    steps: int
    in_use: bool
    who: str | None


class LeftoverDiscarded(Event, tag="leftover-discarded", frozen=True):
    """What was left of a batch, and not used up, was thrown away: `left_g` of it."""

    lot: str
    left_g: Decimal
    reason: str
    who: str


class PortionDiscarded(Event, tag="portion-discarded", frozen=True):
    """What was weighed ahead into the bag `vessel`, in the batch `of`, was thrown away."""

    vessel: str
    of: str
    net_g: Decimal
    reason: str
    who: str


class PersonCame(Event, tag="person-came", frozen=True):
    """Who is at the bench; a name as given, not verified."""

    who: str


class Noted(Event, tag="noted", frozen=True):
    text: str
    who: str
