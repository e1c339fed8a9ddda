"""What all events have in common."""

import msgspec


class Event(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind"):
    """Base of all events; the tag is the ledger's `kind`. `uid`: the user of this machine whose
    command it was, None for what a scale showed."""

    uid: int | None = None


class ByHand(msgspec.Struct, frozen=True):
    """A figure that a person read and typed: why no scale could send it, and who else looked."""

    reason: str
    second: str | None = None
