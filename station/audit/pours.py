"""How pours went: how far beyond the word the weight ran, and those that ended badly."""

from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

import msgspec

from station.batch import events as ev
from station.batch.codec import kind_of
from station.ledger.records import Recorded
from station.units import plain


class PourRow(msgspec.Struct, frozen=True, kw_only=True):
    """Pours that were accepted, of one ingredient and person; masses as decimal text. `beyond` is
    what ran in after STOP was first shown; a warning came `in_time` where the weight came to rest
    at or under the upper limit. A STOP that was first shown over the limit, while too much was
    taken out again, is none: the pour before it is told by how it ended."""

    addition: str
    who: str
    pours: int
    slower: int
    stops: int
    in_time: int
    beyond_mean_g: str | None
    beyond_most_g: str | None


class BadPours(msgspec.Struct, frozen=True, kw_only=True):
    """Pours of an ingredient that were not accepted as they were: settled `over` the upper limit
    (`over_most_g`: by how much at most), `lifted` with nothing accepted, `spilt` onto the pan,
    `voided`, put in `unaccepted`. Nobody's name stands beside them in the record of a pan."""

    addition: str
    over: int
    over_most_g: str | None
    lifted: int
    spilt: int
    voided: int
    unaccepted: int


_BADLY: dict[type[ev.Event], str] = {
    ev.Overpoured: "over",
    ev.Lifted: "lifted",
    ev.Spilt: "spilt",
    ev.Voided: "voided",
    ev.TippedUnaccepted: "unaccepted",
}

POURED = frozenset({kind_of(ev.PourEnded), *(kind_of(event) for event in _BADLY)})
"""The kinds of events that tell how a pour went."""


def pour_report(records: Iterable[Recorded]) -> tuple[tuple[PourRow, ...], tuple[BadPours, ...]]:
    """A row for each ingredient and person, then one for each ingredient of which pours ended
    badly."""
    found: dict[tuple[str, str], list[ev.PourEnded]] = {}
    badly: dict[str, Counter[str]] = {}
    over: dict[str, Decimal] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.PourEnded):
            found.setdefault((event.line, event.who), []).append(event)
        elif (what := _BADLY.get(type(event))) is not None:
            line = str(getattr(event, "line", ""))
            badly.setdefault(line, Counter())[what] += 1
            if isinstance(event, ev.Overpoured):
                by = event.net_g - event.accept_upper_g
                over[line] = max(over.get(line, by), by)
    rows = tuple(_row(line, who, pours) for (line, who), pours in sorted(found.items()))
    return rows, tuple(_bad(line, badly[line], over.get(line)) for line in sorted(badly))


def _row(line: str, who: str, pours: list[ev.PourEnded]) -> PourRow:
    stops = [(pour.said_g, pour) for pour in pours if pour.said_g is not None]
    stops = [(said_g, pour) for said_g, pour in stops if said_g <= pour.accept_upper_g]
    beyond = [pour.ended_g - said_g for said_g, pour in stops]
    mean = None if not beyond else Fraction(sum(beyond, Decimal(0))) / len(beyond)
    return PourRow(
        addition=line,
        who=who,
        pours=len(pours),
        slower=sum(pour.slower for pour in pours),
        stops=len(stops),
        in_time=sum(pour.ended_g <= pour.accept_upper_g for _, pour in stops),
        beyond_mean_g=None if mean is None else plain(round(mean, 3)),
        beyond_most_g=plain(max(beyond)) if beyond else None,
    )


def _bad(line: str, counts: Counter[str], over: Decimal | None) -> BadPours:
    return BadPours(
        addition=line,
        over=counts["over"],
        over_most_g=None if over is None else plain(over),
        lifted=counts["lifted"],
        spilt=counts["spilt"],
        voided=counts["voided"],
        unaccepted=counts["unaccepted"],
    )
