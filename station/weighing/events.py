"""What happened, in the past tense. These are what the ledger keeps: fields may be added with a
default, never renamed. Masses are grams, `raw` the bytes of a frame in hex."""

from decimal import Decimal

import msgspec

from station.formula.limits import LimitRow
from station.formula.model import Amount, Band, Formula
from station.weighing.scale import Scale


class Event(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind"):
    """Base of all events; the tag is the ledger's `kind`. `uid`: the user of this machine whose
    command it was, None for what a scale showed."""

    uid: int | None = None


class ByHand(msgspec.Struct, frozen=True):
    """A figure that a person read and typed: why no scale could send it, and who else looked."""

    reason: str
    second: str | None = None


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


class BatchOpened(Event, tag="batch-opened", frozen=True):
    """Everything the batch will ever need; nothing later reads the files it came from."""

    formula: Formula
    authority: str
    limits: tuple[LimitRow, ...]
    bands: dict[str, Band]  # by line; "meat" for the shares
    scales: tuple[Scale, ...]
    people: tuple[str, ...]
    plan_g: Decimal
    planned_by: str
    who: str
    station: str
    version: str
    simulated: bool


class LotOpened(Event, tag="lot-opened", frozen=True):
    line: str
    lot: str
    contains: dict[str, Decimal]
    expires: str | None
    who: str


class Rescaled(Event, tag="rescaled", frozen=True):
    """The maker worked a line out by the strength of a lot: as much agent, as much salt in all."""

    line: str
    amount: Amount
    lot: str
    who: str


class BagChanged(Event, tag="bag-changed", frozen=True):
    """What is poured from now on comes from another lot."""

    line: str
    lot: str
    who: str


class PersonCame(Event, tag="person-came", frozen=True):
    """Who is at the bench; a name as given, not verified."""

    who: str


class VesselUsed(Event, tag="vessel-used", frozen=True):
    line: str
    vessel: str


class TubEmptied(Event, tag="tub-emptied", frozen=True):
    """A tub whose meat was counted has been seen empty: it may count again."""

    line: str
    vessel: str
    gross_g: Decimal


class MeatWeighed(Event, tag="meat-weighed", frozen=True):
    """A load of meat, in the block at once. `net_g` is negative for meat taken out again."""

    line: str
    net_g: Decimal
    gross_g: Decimal
    tare_g: Decimal
    scale: str
    division_g: Decimal
    vessel: str
    who: str
    raw: str
    by_hand: ByHand | None = None


class MeatEnded(Event, tag="meat-ended", frozen=True):
    line: str
    net_g: Decimal
    who: str
    sure: bool


class Tared(Event, tag="tared", frozen=True):
    """The vessel's gross before the pour: the one tare of this weighing."""

    line: str
    scale: str
    division_g: Decimal
    vessel: str | None
    tare_g: Decimal
    raw: str
    onto: bool = False


class LoadWeighed(Event, tag="load-weighed", frozen=True):
    """One load of a line, accepted into the sum. `stays` keeps the vessel on for another lot."""

    line: str
    net_g: Decimal
    gross_g: Decimal
    tare_g: Decimal
    spilt_g: Decimal
    scale: str
    division_g: Decimal
    vessel: str | None
    lot: str | None
    who: str
    raw: str
    tare_raw: str
    stays: bool = False
    onto: bool = False
    by_hand: ByHand | None = None


class Accepted(Event, tag="accepted", frozen=True):
    """The line's sum was accepted against these limits."""

    line: str
    net_g: Decimal
    target_g: str
    lower_g: str
    upper_g: str
    accept_lower_g: Decimal
    accept_upper_g: Decimal
    aim_g: str
    hard_g: str | None
    expanded_g: Decimal
    conformance: str
    meat_g: Decimal
    loads: int
    as_weighed: bool
    keyed: bool
    who: str


class Lifted(Event, tag="lifted", frozen=True):
    """The vessel was lifted and nothing accepted; what was last settled in it, or `unsettled` what
    was about in it, where that was more."""

    line: str
    scale: str
    gross_g: Decimal
    raw: str
    unsettled: bool = False


class TakenBack(Event, tag="taken-back", frozen=True):
    """A person says that what is missing from the lifted vessel went back, not into the mix."""

    line: str
    missing_g: Decimal
    gross_g: Decimal
    who: str


class SameVessel(Event, tag="same-vessel", frozen=True):
    """A person says that what was put back is the vessel of this weighing."""

    line: str
    gross_g: Decimal
    who: str


class Overpoured(Event, tag="overpoured", frozen=True):
    """Settled over the upper limit, before the mix."""

    line: str
    net_g: Decimal
    accept_upper_g: Decimal


class Spilt(Event, tag="spilt", frozen=True):
    """What stayed on the pan when the vessel was lifted; taken off the net."""

    line: str
    spilt_g: Decimal


class JumpExplained(Event, tag="jump-explained", frozen=True):
    """A person says that what was set down belongs in."""

    line: str
    jump_g: Decimal
    who: str


class Tipped(Event, tag="tipped", frozen=True):
    """What stood in a vessel is in the mix; residue None where unknown. `scale`: the one that saw
    it come back empty, None where a person said so."""

    line: str
    vessel: str | None
    residue_g: Decimal | None
    scale: str | None
    who: str


class TippedUnaccepted(Event, tag="tipped-unaccepted", frozen=True):
    """A person says that a line went in before it was accepted; net None where nobody knows."""

    line: str
    net_g: Decimal | None
    residue_g: Decimal | None
    scale: str | None
    division_g: Decimal | None
    vessel: str | None
    lot: str | None
    who: str
    by_hand: ByHand | None = None


class VoidAsked(Event, tag="void-asked", frozen=True):
    """Void waits until the vessel is seen empty or on its tare."""

    line: str
    reason: str
    who: str


class Voided(Event, tag="voided", frozen=True):
    """What stood in one vessel of the line, or was being weighed in it, counts no more."""

    line: str
    vessel: str | None
    reason: str
    net_g: Decimal
    who: str


class Reopened(Event, tag="reopened", frozen=True):
    """An acceptance is taken back because the scale was tared or zeroed while loaded."""

    line: str
    scale: str
    reason: str


class Skipped(Event, tag="skipped", frozen=True):
    line: str
    reason: str
    who: str


class RequiredMissing(Event, tag="required-missing", frozen=True):
    """Closing was asked for without a line the batch must have, or a limited one unfinished."""

    line: str
    who: str


class StepEnded(Event, tag="step-ended", frozen=True):
    name: str
    value: str | None
    who: str


class Noted(Event, tag="noted", frozen=True):
    text: str
    who: str


class Refused(Event, tag="refused", frozen=True):
    """A command that was not carried out."""

    line: str | None
    command: str
    code: str
    reason: str


class Blocked(Event, tag="blocked", frozen=True):
    """A reason why nothing can be accepted began."""

    line: str | None
    scale: str | None
    reason: str
    text: str


class Unblocked(Event, tag="unblocked", frozen=True):
    line: str | None
    scale: str | None
    reason: str


class Warned(Event, tag="warned", frozen=True):
    line: str
    warning: str
    text: str


class PutOnHold(Event, tag="put-on-hold", frozen=True):
    reasons: tuple[str, ...]


class HoldLifted(Event, tag="hold-lifted", frozen=True):
    """What had put the batch on hold is no longer so."""


class Parked(Event, tag="parked", frozen=True):
    """The batch left the bench and waits. `left`: scale -> gross of what stayed on its pan."""

    left: dict[str, Decimal]
    who: str


class TakenUp(Event, tag="taken-up", frozen=True):
    """The batch is at the bench again. `gone`: scales where what was left on the pan is not."""

    gone: tuple[str, ...]
    who: str


class Closed(Event, tag="closed", frozen=True):
    named: tuple[str, ...]
    who: str


class Abandoned(Event, tag="abandoned", frozen=True):
    reason: str
    who: str
