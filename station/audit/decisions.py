"""What people decided that the formula and the scales did not: who allowed what, and why."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

import msgspec

from station.batch import events as ev
from station.batch.codec import kind_of
from station.ledger.book import Recorded
from station.units import plain


class Decided(msgspec.Struct, frozen=True, kw_only=True):
    """One decision: `who` made it, `second` saw it too, `reason` in their words where they gave
    one."""

    batch: str | None
    addition: str | None
    kind: str
    text: str
    who: str | None
    second: str | None
    reason: str | None
    at: str


_Told = tuple[str, Callable[[Any], str]]

_DECISIONS: dict[type[ev.Event], _Told] = {
    ev.MeatWeighed: ("by hand", lambda event: _typed(event)),
    ev.LoadWeighed: ("by hand", lambda event: _typed(event)),
    ev.MeatEnded: ("meat confirmed", lambda event: f"{plain(event.net_g)} g are right"),
    ev.Accepted: ("out of band", lambda event: f"{plain(event.net_g)} g as weighed"),
    ev.TippedUnaccepted: (
        "unaccepted",
        lambda event: (
            "an amount that nobody knows is in the mix"
            if event.net_g is None
            else f"{plain(event.net_g)} g are in the mix"
        ),
    ),
    ev.LotOpened: ("lot", lambda event: f"lot {event.lot} was read by two"),
    ev.LotReviewed: ("lot reviewed", lambda event: f"lot {event.lot} is as it was last told"),
    ev.Rescaled: ("rescaled", lambda event: f"worked out by lot {event.lot}"),
    ev.Voided: ("voided", lambda event: f"{plain(event.net_g)} g count no more"),
    ev.TippedInWord: ("not tipped", lambda event: "said to be in the mix, and was not"),
    ev.TakenBack: ("taken back", lambda event: f"{plain(event.missing_g)} g went back"),
    ev.DoubtSettled: ("doubt settled", lambda event: f"not in the mix, by {event.proof}"),
    ev.JumpExplained: ("set down", lambda event: f"{plain(event.jump_g)} g belong in"),
    ev.MeatLotNamed: (
        "past use-by",
        lambda event: f"lot {event.lot}, to be used by {event.use_by}, was used",
    ),
    ev.ScaleChosen: ("scale chosen", lambda event: f"weighed on {event.scale}"),
    ev.ScaleKnown: ("another scale", lambda event: f"{event.scale.name} is another scale now"),
    ev.StepEnded: ("step", lambda event: "left out" if event.skipped else "ended all the same"),
    ev.Skipped: ("skipped", lambda event: "left for the end"),
    ev.Tasted: ("tasted", lambda event: f"{plain(event.wished * 100)} % of the meat in all"),
    ev.ItemStruck: ("struck", lambda event: f"number {event.number} does not count"),
    ev.Closed: (
        "named at close",
        lambda event: f"closed without, or as weighed: {', '.join(event.named)}",
    ),
    ev.Abandoned: ("abandoned", lambda event: "given up"),
    ev.LossAccepted: (
        "loss accepted",
        lambda event: f"the station went on without events {event.found_seq + 1} and later",
    ),
}
"""Event -> its kind and what was decided."""


DECIDED = frozenset(kind_of(event) for event in _DECISIONS)
"""The kinds of events in which somebody may have decided something."""


_WHERE = {
    kind_of(ev.MeatWeighed): "by_hand",
    kind_of(ev.LoadWeighed): "by_hand",
    kind_of(ev.MeatEnded): "sure",
    kind_of(ev.Accepted): "as_weighed",
    kind_of(ev.LotOpened): "second",
    kind_of(ev.MeatLotNamed): "second",
    kind_of(ev.ScaleKnown): "who",
    kind_of(ev.StepEnded): "reason",
    kind_of(ev.Closed): "named",
}
"""Kind -> the field of its body without which it decided nothing. Most events of these kinds are
ordinary work, and are not even made into events (ten years: 9 s less)."""


def _typed(event: ev.LoadWeighed | ev.MeatWeighed) -> str:
    return f"{plain(event.net_g)} g, read and typed"


def decisions(records: Iterable[Recorded]) -> Iterator[Decided]:
    """The decisions among those events, in their order."""
    for record in records:
        if record.kind in _WHERE and not record.body.get(_WHERE[record.kind]):
            continue
        event = record.event
        if type(event) not in _DECISIONS:
            continue
        kind, told = _DECISIONS[type(event)]
        by_hand = getattr(event, "by_hand", None)
        yield Decided(
            batch=record.batch,
            addition=_about(event),
            kind=kind,
            text=told(event),
            who=getattr(event, "who", None),
            second=by_hand.second if by_hand else getattr(event, "second", None),
            reason=by_hand.reason if by_hand else getattr(event, "reason", None),
            at=record.at,
        )


def _about(event: ev.Event) -> str | None:
    """The line, the step, or the pieces or packs, that an event is about."""
    named = (getattr(event, name, None) for name in ("line", "name", "tally"))
    return next((name for name in named if name is not None), None)
