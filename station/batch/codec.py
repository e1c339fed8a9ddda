"""Events to the plain values the ledger keeps, and back."""

from decimal import Decimal
from typing import Any

import msgspec

from station.batch import events as ev

AnyEvent = (
    ev.LedgerBorn
    | ev.LedgerRecovered
    | ev.VesselRecorded
    | ev.ScaleTold
    | ev.LagMeasured
    | ev.BatchOpened
    | ev.LotOpened
    | ev.Rescaled
    | ev.BagChanged
    | ev.PersonCame
    | ev.VesselUsed
    | ev.TubEmptied
    | ev.MeatWeighed
    | ev.MeatEnded
    | ev.Tared
    | ev.LoadWeighed
    | ev.Accepted
    | ev.JarWeighed
    | ev.Lifted
    | ev.TakenBack
    | ev.SameVessel
    | ev.Overpoured
    | ev.PourEnded
    | ev.Spilt
    | ev.JumpExplained
    | ev.Tipped
    | ev.TippedUnaccepted
    | ev.VoidAsked
    | ev.Voided
    | ev.Reopened
    | ev.Skipped
    | ev.RequiredMissing
    | ev.StepEnded
    | ev.Noted
    | ev.Refused
    | ev.Blocked
    | ev.Unblocked
    | ev.Warned
    | ev.PutOnHold
    | ev.HoldLifted
    | ev.Parked
    | ev.TakenUp
    | ev.Closed
    | ev.Abandoned
)


def to_body(event: ev.Event) -> tuple[str, dict[str, Any]]:
    """(kind, body) of an event: plain values, decimals as text without exponent."""
    body = _plain(msgspec.to_builtins(event, builtin_types=(Decimal,)))
    return body.pop("kind"), body


def from_body(kind: str, body: dict[str, Any]) -> AnyEvent:
    """The event of a kind and body. Raises `msgspec.ValidationError` for one not known here."""
    return msgspec.convert({"kind": kind, **body}, AnyEvent, strict=False)  # type: ignore[no-any-return]


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
