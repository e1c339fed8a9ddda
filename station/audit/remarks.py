"""What befell a batch, as sentences of its sheet: what was decided by whom, and what went wrong."""

from collections.abc import Callable, Iterator
from typing import Any

from station.audit.rows import WarningRow
from station.batch import events as ev
from station.batch.codec import kind_of
from station.units import plain

_Remark = tuple[str, Callable[[Any], str | None]]


def _ended(event: ev.MeatEnded) -> str | None:
    said = f"ended with {plain(event.net_g)} g of meat; {event.who} says that it is right"
    return said if event.sure else None


def _of_lot(event: ev.MeatLotNamed) -> str | None:
    """That meat is left of another batch, or past its use-by."""
    if (used := event.leftover) is not None:
        return f"{event.lot} is left of batch {used.batch}, {used.formula} r{used.revision}"
    if event.second is None:
        return None
    return f"lot {event.lot}, to be used by {event.use_by}, say {event.who} and {event.second}"


def _read_by_two(event: ev.LotOpened) -> str | None:
    if event.second is None:
        return None
    told = ", ".join(f"{agent} {plain(share * 100)} %" for agent, share in event.contains.items())
    return f"lot {event.lot}: {told or 'nothing regulated'}, say {event.who} and {event.second}"


def _closed(event: ev.Closed) -> str:
    named = f", naming {', '.join(event.named)}" if event.named else ""
    return f"closed by {event.who}{named}"


def _unaccepted(event: ev.TippedUnaccepted) -> str:
    amount = "an amount that nobody knows" if event.net_g is None else f"{plain(event.net_g)} g"
    return f"{amount} went in unaccepted, says {event.who}"


def _voided(event: ev.Voided) -> str:
    seen = f", seen by {event.second}" if event.second else ""
    doubt = "; it may be in the mix" if event.doubted else ""
    return f"{event.reason}, says {event.who}{seen}{doubt}"


def _in_word(event: ev.TippedInWord) -> str:
    seen = f", seen by {event.second}" if event.second else ""
    scale = f", and {event.scale} shows it" if event.scale else ""
    doubt = "; it may be in the mix besides" if event.doubted else ""
    return (
        f"said to be in the mix, and was not: {event.reason}, says {event.who}{seen}{scale}{doubt}"
    )


def _rescaled(event: ev.Rescaled) -> str:
    grams = plain(round(event.amount.share * 1000, 3))
    return f"worked out by lot {event.lot}: {grams} g a kg of meat, says {event.who}"


def _lost(event: ev.LossAccepted) -> str:
    lost = f"events after {event.found_seq} are missing, up to event {event.known_seq}"
    return f"{lost} or later: a person let the station go on without them"


def _settled(event: ev.DoubtSettled) -> str:
    seen = f", and {event.second} saw it" if event.second else ""
    return f"{event.proof}: {event.reason}, says {event.who}{seen}"


_REMARKS: dict[type[ev.Event], _Remark] = {
    ev.MeatEnded: ("meat confirmed", _ended),
    ev.MeatLotNamed: ("", _of_lot),
    ev.Warned: ("", lambda event: event.text),
    ev.LotOpened: ("lot read by two", _read_by_two),
    ev.BagRefused: (
        "lot refused",
        lambda event: f"lot {event.lot} was past its date {event.expires}: {event.who} had told it",
    ),
    ev.Rescaled: ("rescaled", _rescaled),
    ev.LotReviewed: (
        "lot reviewed",
        lambda event: (
            f"lot {event.lot} is as it was last told, say {event.who} and {event.second}:"
            f" {event.reason}"
        ),
    ),
    ev.Overpoured: (
        "over",
        lambda event: (
            f"{plain(event.net_g)} g, over {plain(event.accept_upper_g)} g, before the mix"
        ),
    ),
    ev.Spilt: ("spilt", lambda event: f"{plain(event.spilt_g)} g stayed on the pan"),
    ev.Lifted: (
        "lifted",
        lambda event: f"lifted without being accepted, {plain(event.gross_g)} g gross",
    ),
    ev.TakenBack: (
        "taken back",
        lambda event: f"{plain(event.missing_g)} g went back, says {event.who}",
    ),
    ev.PouredElsewhere: (
        "poured elsewhere",
        lambda event: f"{plain(event.content_g)} g were poured into another vessel",
    ),
    ev.DoubtSettled: ("doubt settled", _settled),
    ev.JumpExplained: (
        "set down",
        lambda event: f"{plain(event.jump_g)} g were set down and belong in, says {event.who}",
    ),
    ev.Blocked: ("blocked", lambda event: event.text),
    ev.TippedUnaccepted: ("unaccepted", _unaccepted),
    ev.Voided: ("voided", _voided),
    ev.TippedInWord: ("not tipped", _in_word),
    ev.Reopened: ("reopened", lambda event: event.reason),
    ev.WashedDown: (
        "washed down",
        lambda event: f"{', '.join(event.allergens)} was on the bench; {event.who} washed down",
    ),
    ev.Skipped: ("skipped", lambda event: f"left for the end by {event.who}: {event.reason}"),
    ev.RequiredMissing: (
        "missing",
        lambda event: f"{event.who} asked to close without it",
    ),
    ev.PutOnHold: ("hold", lambda event: "on hold: " + "; ".join(event.reasons)),
    ev.Closed: ("closed", _closed),
    ev.Abandoned: ("abandoned", lambda event: f"abandoned by {event.who}: {event.reason}"),
    ev.SampleTaken: (
        "sample",
        lambda event: f"{plain(event.net_g)} g left to be tasted, says {event.who}: {event.advice}",
    ),
    ev.Tasted: (
        "tasted",
        lambda event: (
            f"{plain(event.was_g)} g were in; {event.who} wishes"
            f" {plain(event.wished * 100)} % of the meat in all"
        ),
    ),
    ev.LeftoverKept: (
        "left over",
        lambda event: f"{plain(event.net_g)} g kept as {event.lot}, says {event.who}",
    ),
    ev.ItemMissed: (
        "not counted",
        lambda event: f"something of {plain(event.gross_g)} g was not counted: {event.why}",
    ),
    ev.ItemAgain: ("again", lambda event: f"number {event.number} weighed again by {event.who}"),
    ev.ItemStruck: (
        "struck",
        lambda event: f"number {event.number} does not count, says {event.who}: {event.reason}",
    ),
    ev.LossAccepted: ("loss accepted", _lost),
    ev.LedgerRepaired: (
        "ledger repaired",
        lambda event: (
            f"the ledger's tables were made anew, {event.found}; evidence: {event.evidence}"
        ),
    ),
}
"""Event -> what kind of remark it is, and its sentence; None where it is not worth one."""


REMARKED = frozenset(kind_of(event) for event in _REMARKS)
"""The kinds of events that may be worth a remark by themselves."""


def remarks(mine: list[tuple[str, ev.Event]]) -> Iterator[WarningRow]:
    """The remarks of a batch's events, each with its time, in their order."""
    lifted_by = ""
    for at, event in mine:
        if isinstance(event, ev.HoldLifted):
            yield WarningRow(None, "hold lifted", f"on hold no longer{lifted_by}", at)
            continue
        kind, sentence = _REMARKS.get(type(event), ("", lambda event: None))
        if isinstance(event, ev.Warned):
            kind = event.warning
        elif isinstance(event, ev.MeatLotNamed):
            kind = "leftover used" if event.leftover else "past use-by"
        text = sentence(event)
        if text is not None:
            yield WarningRow(_about(event), kind, text, at)
        if who := getattr(event, "who", None):
            what = kind_of(type(event)).replace("-", " ")
            line = _about(event)
            lifted_by = f", by {what}{f' of {line}' if line else ''}, {who}"


def _about(event: ev.Event) -> str | None:
    """The line, or the pieces or packs, that an event is about."""
    return getattr(event, "line", None) or getattr(event, "tally", None)
