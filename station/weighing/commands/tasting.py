"""What a person asks for with a sample of the mix: it is taken, tasted, and something is wished."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from station.weighing.commands.base import LINE, Command, Param, verb


@verb(
    "sample",
    "Take a sample of the mix to cook and taste; a part of everything leaves with it.",
    "station sample --scale bench",
    Param("scale", "the scale that it stands on", required=False),
    Param("vessel", "what it stands in, if that is on record", required=False),
    Param("net", "or its weight, read and typed", required=False),
    about="Once all is in the mix. It is weighed on a scale, or its weight is typed.",
)
@dataclass(frozen=True, slots=True)
class TakeSample(Command):
    """Grams; one of `scale` and `net_g`. `advice`: what is said of cooking it."""

    scale: str | None
    vessel: str | None
    net_g: Decimal | None
    advice: str


@verb(
    "taste",
    "Say after tasting how much of a line the mix should have in all.",
    'station taste salt "1.9 %"',
    LINE,
    Param("wish", "of the meat, such as 1.9 %"),
    about=(
        "More of a salt, a seasoning or a sweetener; it is weighed as any line, into its band, "
        "under every limit. Nothing comes out of a mix again, and no cure is corrected on taste."
    ),
)
@dataclass(frozen=True, slots=True)
class Wish(Command):
    """`share`: of the meat."""

    line: str
    share: Decimal


@verb(
    "tasted",
    "Say that tasting is over: it is as it should be.",
    "station tasted",
)
@dataclass(frozen=True, slots=True)
class EndTasting(Command):
    """It tastes as it should, or all that is wished was said."""
