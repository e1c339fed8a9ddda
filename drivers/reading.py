"""What a scale says, as values: a `Reading` where a frame was understood, a `Fault` where not."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

import msgspec


class Condition(StrEnum):
    """What the scale says about its own weight."""

    OK = "ok"
    OVERLOAD = "overload"
    UNDERLOAD = "underload"
    ERROR = "error"


class Kind(StrEnum):
    """Which weight the scale says it sends."""

    GROSS = "gross"
    NET = "net"
    TARE = "tare"


class Reading(msgspec.Struct, frozen=True):
    """One understood frame.

    `value` is the number exactly as sent, in `unit` (the scale's own word, None when the frame
    has none), and None unless `condition` is ok: a bad weight is neither absent nor zero.
    `stable` is None for a scale that does not tell. `time_s` is monotonic, in seconds, and says
    when the last byte of the frame arrived. `tare` is the tare value sent in the same frame,
    whatever the kind: only `gross` knows whether it belongs to the weight. `word` is the scale's
    own word for a condition that is not ok, such as "Err 3"; "" where it has none.
    """

    value: Decimal | None
    unit: str | None
    kind: Kind
    stable: bool | None
    condition: Condition
    time_s: float
    raw: bytes
    tare: Decimal | None = None
    word: str = ""

    def __post_init__(self) -> None:
        if (self.value is None) == (self.condition is Condition.OK):
            raise ValueError(f"a value goes with condition ok and no other: {self!r}")

    @property
    def gross(self) -> Decimal | None:
        """The gross weight in `unit`; None where the frame does not tell it.

        Net + tare, exactly as sent, where the value is net. A tare beside a gross value is in it
        already; a net value without its tare, and a tare, are no gross.
        """
        if self.value is None or self.kind is Kind.GROSS:
            return self.value
        if self.kind is Kind.NET and self.tare is not None:
            return self.value + self.tare
        return None


@dataclass(frozen=True, slots=True)
class Fault:
    """Bytes that are no frame of this grammar, or a frame that cannot be believed.

    `reason` is one clause for a person; `raw` the bytes it is about (at most one frame's worth).
    """

    reason: str
    time_s: float
    raw: bytes
