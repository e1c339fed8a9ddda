"""How far beyond the word the weight ran, by ingredient and person, from the record."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from station.batch import events as ev
from station.ledger.book import Recorded
from station.units import plain


def pour_report(records: Iterable[Recorded]) -> list[dict[str, Any]]:
    """One row for each ingredient and person, masses as decimal text.

    `beyond` is what ran in after STOP was first shown; a warning came `in_time` where the weight
    came to rest at or under the upper limit.
    """
    found: dict[tuple[str, str], list[ev.PourEnded]] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.PourEnded):
            found.setdefault((event.line, event.who), []).append(event)
    return [_row(line, who, pours) for (line, who), pours in sorted(found.items())]


def _row(line: str, who: str, pours: list[ev.PourEnded]) -> dict[str, Any]:
    beyond = [pour.ended_g - pour.said_g for pour in pours if pour.said_g is not None]
    warned = [pour for pour in pours if pour.said_g is not None]
    in_time = sum(pour.ended_g <= pour.accept_upper_g for pour in warned)
    mean = None if not beyond else Fraction(sum(beyond, Decimal(0))) / len(beyond)
    return {
        "addition": line,
        "who": who,
        "pours": len(pours),
        "slower": sum(pour.slower for pour in pours),
        "stops": len(warned),
        "in_time": in_time,
        "beyond_mean_g": None if mean is None else plain(round(mean, 3)),
        "beyond_most_g": plain(max(beyond)) if beyond else None,
    }
