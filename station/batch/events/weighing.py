"""What was weighed, and what became of it."""

from decimal import Decimal

from station.batch.events.base import ByHand, Event
from station.formula.leftover import Leftover


class VesselUsed(Event, tag="vessel-used", frozen=True):
    line: str
    vessel: str


class ScaleChosen(Event, tag="scale-chosen", frozen=True):
    """A person chose the scale that the line is weighed on."""

    line: str
    scale: str
    who: str


class TubEmptied(Event, tag="tub-emptied", frozen=True):
    """A tub whose meat was counted has been seen empty: it may count again."""

    line: str
    vessel: str
    gross_g: Decimal


class MeatLotNamed(Event, tag="meat-lot-named", frozen=True):
    """The delivery that a meat line is taken from, from now on. Dates as YYYY-MM-DD; `second` saw
    that it is past its use-by. `leftover`: it is left of another batch, and made of that."""

    line: str
    lot: str
    supplier: str | None
    packed: str | None
    use_by: str | None
    who: str
    second: str | None = None
    price: Decimal | None = None  # of a kilogram
    leftover: Leftover | None = None


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
    lot: str | None = None


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


class PortionUsed(Event, tag="portion-used", frozen=True):
    """The bag `vessel` came onto `scale` with what was weighed into it ahead, in the batch `of`:
    its weighing goes on from the tare that it had then, and from `gross_g`."""

    line: str
    vessel: str
    scale: str
    division_g: Decimal
    tare_g: Decimal
    tare_raw: str
    gross_g: Decimal
    raw: str
    of: str
    who: str
    lot: str | None = None


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


class JarWeighed(Event, tag="jar-weighed", frozen=True):
    """The jar that a line is taken from, before or after; it corrects no weight. `gained_g`: what
    the line's cups had gained by then, from this jar or another."""

    line: str
    scale: str
    division_g: Decimal
    gross_g: Decimal
    raw: str
    who: str
    gained_g: Decimal = Decimal(0)


class Lifted(Event, tag="lifted", frozen=True):
    """The vessel was lifted and nothing accepted; what was last settled in it, or `unsettled` what
    was about in it, where that was more."""

    line: str
    scale: str
    gross_g: Decimal
    raw: str
    unsettled: bool = False


class TakenBack(Event, tag="taken-back", frozen=True):
    """A person says that what is missing from the lifted vessel went back, not into the mix.
    `doubted`: a rule limits it and nothing proves that, so that it may be in the mix."""

    line: str
    missing_g: Decimal
    gross_g: Decimal
    who: str
    doubted: bool = False


class ContentSeen(Event, tag="content-seen", frozen=True):
    """Another settled gross of a limited line's vessel: what a power cut must not lose, and what
    left the vessel on the way."""

    line: str
    scale: str
    gross_g: Decimal
    raw: str


class PouredElsewhere(Event, tag="poured-elsewhere", frozen=True):
    """During the weighing of a limited line so much was poured into another vessel on its scale,
    and left the pan in it."""

    line: str
    scale: str
    content_g: Decimal
    raw: str


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


class PourEnded(Event, tag="pour-ended", frozen=True):
    """How a pour that was accepted went, net grams of the line. `said_g`: what was in the vessel
    when STOP was first shown, None where it never was; `flow_g_s`: the flow then; `ended_g`: where
    it came to rest; `slower`: whether SLOWER was shown before."""

    line: str
    scale: str
    said_g: Decimal | None
    flow_g_s: Decimal
    slower: bool
    ended_g: Decimal
    accept_upper_g: Decimal
    who: str


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
    second: str | None = None


class SeenIn(Event, tag="seen-in", frozen=True):
    """What one person called tipped is more than a word now: its vessel came back empty on `scale`,
    or a `second` person saw it go in (then of every vessel)."""

    line: str
    vessel: str | None
    residue_g: Decimal | None
    scale: str | None
    who: str
    second: str | None = None


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


class TippedInWord(Event, tag="tipped-in-word", frozen=True):
    """What was said to be in the mix is not: what was accepted stands in its `vessel`; where
    nothing was, its weighing goes on, on the scale `on` with `tare_g`, or begins anew without them.
    `seen_g`: the gross by which `scale` saw it there; `second`: who else saw it.
    `doubted`: nobody but one person says so, so that `content_g` may be in the mix besides."""

    line: str
    vessel: str | None
    reason: str
    who: str
    scale: str | None
    seen_g: Decimal | None
    content_g: Decimal | None
    division_g: Decimal
    lot: str | None
    doubted: bool = False
    second: str | None = None
    on: str | None = None
    tare_g: Decimal | None = None


class VoidAsked(Event, tag="void-asked", frozen=True):
    """Void waits until the vessel is seen empty or on its tare. `content_g`: what was in the vessel
    on the pan then; `second`: who else sees that it goes elsewhere than into the mix, and
    `vouched_g` what was in the vessel when they said so: what is poured in after that is another's
    word (None in older ledgers: `content_g`)."""

    line: str
    reason: str
    who: str
    content_g: Decimal | None = None
    second: str | None = None
    vouched_g: Decimal | None = None


class Voided(Event, tag="voided", frozen=True):
    """What stood in one vessel of the line, or was being weighed in it, counts no more. `doubted`:
    nobody proved where its content went, so that it may be in the mix all the same; `content_g`:
    how much that is. `second`: who else saw it go elsewhere."""

    line: str
    vessel: str | None
    reason: str
    net_g: Decimal
    who: str
    doubted: bool = False
    content_g: Decimal | None = None
    lot: str | None = None
    division_g: Decimal | None = None
    second: str | None = None


class DoubtSettled(Event, tag="doubt-settled", frozen=True):
    """What left a vessel went elsewhere than into the mix: `proof` is "second person" or "jar"."""

    line: str
    proof: str
    reason: str
    who: str
    second: str | None = None


class Reopened(Event, tag="reopened", frozen=True):
    """An acceptance is taken back because the scale was tared or zeroed while loaded."""

    line: str
    scale: str
    reason: str
