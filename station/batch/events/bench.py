"""What happened at the bench, outside any batch or in all of them."""

from decimal import Decimal

from station.batch.events.base import Event


class LedgerBorn(Event, tag="ledger-born", frozen=True):
    station: str
    simulated: bool
    version: str


class LedgerRecovered(Event, tag="ledger-recovered", frozen=True):
    """Writing works again after it had failed."""

    since: str
    reason: str


class VesselRecorded(Event, tag="vessel-recorded", frozen=True):
    """The empty weight of a vessel, taken settled on a scale."""

    name: str
    scale: str
    division_g: Decimal
    empty_g: Decimal
    raw: str
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


class PersonCame(Event, tag="person-came", frozen=True):
    """Who is at the bench; a name as given, not verified."""

    who: str


class Noted(Event, tag="noted", frozen=True):
    text: str
    who: str
