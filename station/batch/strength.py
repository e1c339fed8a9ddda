"""Whether two strengths are the same."""

from collections.abc import Mapping
from decimal import Decimal

from station.formula.limits import CARRIERS


def differing(expected: Mapping[str, Decimal], found: Mapping[str, Decimal]) -> str | None:
    """The first agent whose strength differs; an agent the bag does not name is not in it."""
    for agent in sorted({*expected, *found}, key=lambda name: (name in CARRIERS, name)):
        if expected.get(agent, 0) != found.get(agent, 0):
            return agent
    return None
