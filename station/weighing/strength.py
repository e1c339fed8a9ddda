"""The strength that a line is worked out for, and bags of another one."""

from collections.abc import Mapping
from decimal import Decimal

from station.formula.limits import CARRIERS
from station.weighing.commands import Refusal
from station.weighing.state import Line


def differing(expected: Mapping[str, Decimal], found: Mapping[str, Decimal]) -> str | None:
    """The first agent whose strength differs; an agent the bag does not name is not in it."""
    for agent in sorted({*expected, *found}, key=lambda name: (name in CARRIERS, name)):
        if expected.get(agent, 0) != found.get(agent, 0):
            return agent
    return None


def must_fit(line: Line, lot: str) -> None:
    """Raise unless an open lot may be weighed for the line as it is worked out now."""
    differs = differing(line.stands_for, line.lots[lot].contains)
    if differs is not None:
        what = f"lot {lot} has another share of {differs} than {line.name} is worked out for"
        step = "open a bag of that strength, or void the line and rescale by this one"
        raise Refusal("other-strength", what, step, line.name)
