"""What the watches over the pans have seen: commands that no hand gives."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, ClassVar

from station.weighing.commands.base import Command

if TYPE_CHECKING:
    from station.pan.view import Settled


@dataclass(frozen=True, slots=True)
class SeeLag(Command):
    """Ordinary work shows that a scale is later, or less late, than was known."""

    OF_BENCH: ClassVar[bool] = True
    scale: str


@dataclass(frozen=True, slots=True)
class SeeScale(Command):
    """A scale answers for the first time, or its port says now what it is."""

    OF_BENCH: ClassVar[bool] = True
    scale: str


@dataclass(frozen=True, slots=True)
class SeeLoad(Command):
    """Something has settled on a pan where no weighing has its tare yet."""

    scale: str
    settled: Settled


@dataclass(frozen=True, slots=True)
class SeeOtherVessel(Command):
    """Another empty vessel on record stands where one was tared that nothing was poured into."""

    line: str
    vessel: str
    scale: str
    settled: Settled


@dataclass(frozen=True, slots=True)
class SeeLift(Command):
    """The vessel of the weighing has been lifted off."""

    line: str
    scale: str


@dataclass(frozen=True, slots=True)
class SeeGap(Command):
    """After a gap in the readings another weight is on the pan of the weighing."""

    line: str
    scale: str


@dataclass(frozen=True, slots=True)
class SeeContent(Command):
    """What is in the vessel of a limited line has settled at another weight."""

    line: str
    settled: Settled


@dataclass(frozen=True, slots=True)
class SeePouredElsewhere(Command):
    """More has settled in another vessel than that of a limited line's weighing."""

    line: str
    scale: str


@dataclass(frozen=True, slots=True)
class SeeItem(Command):
    """A piece or a pack was taken off the scale on which they are counted."""

    scale: str


@dataclass(frozen=True, slots=True)
class SeeIn(Command):
    """The vessel of what one person called tipped is back on its scale, empty."""

    scale: str


@dataclass(frozen=True, slots=True)
class SeeOver(Command):
    """Settled over the upper acceptance limit."""

    line: str
    net_g: Decimal


@dataclass(frozen=True, slots=True)
class SeeVoidable(Command):
    """The vessel of a line to be voided is on its tare."""

    line: str


@dataclass(frozen=True, slots=True)
class SeeTub(Command):
    """An empty tub on record has settled where the meat line is weighed."""

    line: str
    vessel: str


@dataclass(frozen=True, slots=True)
class SeeTubEmpty(Command):
    """`batch`: whose meat was in the tub, at the bench or parked."""

    line: str
    vessel: str
    gross_g: Decimal
    batch: str


@dataclass(frozen=True, slots=True)
class SeeUndershot(Command):
    """A pan shows less than nothing: what looked like a lift was a zeroing. `batch`: whose
    acceptance hangs on it; `last`: of no other batch after that."""

    scale: str
    batch: str
    last: bool
