"""A bench scale as the decisions know it."""

from decimal import Decimal
from typing import Literal

import msgspec

ScaleClass = Literal["I", "II", "III", "IIII"]
Sends = Literal["continuous", "stable", "asked"]

_MIN_DIVISIONS: dict[str, int] = {"I": 100, "III": 20, "IIII": 10}


class Device(msgspec.Struct, frozen=True):
    """What answers under a scale's name: the name of the grammar that reads it, and what its port
    says that it is, None where the port says nothing."""

    grammar: str
    identity: str | None = None


class Scale(msgspec.Struct, frozen=True):
    """Name and limits of one scale, in grams. `division_g` is d, taken as e too."""

    name: str
    max_g: Decimal
    division_g: Decimal
    accuracy: ScaleClass
    unit: str
    sends: Sends

    @property
    def min_g(self) -> Decimal:
        """Min by accuracy class (OIML R 76-1:2006, table 3)."""
        if self.accuracy == "II":
            return self.division_g * (20 if self.division_g <= Decimal("0.05") else 50)
        return self.division_g * _MIN_DIVISIONS[self.accuracy]

    @property
    def near_g(self) -> Decimal:
        """3 d: within this two readings are the same weight."""
        return 3 * self.division_g
