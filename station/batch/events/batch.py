"""What happened to a batch as a whole, its lots and its steps."""

from decimal import Decimal

from station.batch.events.base import Event
from station.formula.limits import LimitRow
from station.formula.model import Amount, Band, Formula
from station.metrology.scale import Scale


class BatchOpened(Event, tag="batch-opened", frozen=True):
    """Everything the batch will ever need; nothing later reads the files it came from. `plan_g` is
    0 where no weight was planned: the meat that arrives is taken as it is. `ahead`: it is so many
    bags of each line, weighed before there is meat; `plan_g` is that of all of them."""

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
    currency: str | None = None
    ahead: int = 0


class LotOpened(Event, tag="lot-opened", frozen=True):
    line: str
    lot: str
    contains: dict[str, Decimal]
    expires: str | None
    who: str
    second: str | None = None
    size_g: Decimal | None = None
    price: Decimal | None = None  # of a kilogram


class LotReviewed(Event, tag="lot-reviewed", frozen=True):
    """After a review two people say that the strength last told of a lot is the true one."""

    line: str
    lot: str
    contains: dict[str, Decimal]
    reason: str
    who: str
    second: str


class BagRefused(Event, tag="bag-refused", frozen=True):
    """A bag was past its date: it stays so when it is told again without one."""

    line: str
    lot: str
    expires: str
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
    expires: str | None = None


class Skipped(Event, tag="skipped", frozen=True):
    line: str
    reason: str
    who: str


class RequiredMissing(Event, tag="required-missing", frozen=True):
    """Closing was asked for without a line the batch must have, or a limited one unfinished."""

    line: str
    who: str


class StepEnded(Event, tag="step-ended", frozen=True):
    """`began`: when its time began; `thermometer`: what the temperature was read from, `raw` its
    frame where the station read it; `reason`: why it ended before its time, outside its limit,
    without a reading, or was `skipped`."""

    name: str
    value: str | None
    who: str
    began: str | None = None
    reason: str | None = None
    skipped: bool = False
    thermometer: str | None = None
    raw: str = ""


class Refused(Event, tag="refused", frozen=True):
    """A command that was not carried out. `times`: so many like it, of which this is the last."""

    line: str | None
    command: str
    code: str
    reason: str
    times: int = 1


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


class WashedDown(Event, tag="washed-down", frozen=True):
    """The bench was washed down before the batch came to it: `allergens` were on it that the batch
    has not."""

    allergens: tuple[str, ...]
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
