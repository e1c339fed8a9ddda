"""What went in of every agent that a rule limits, as on the sheets, without the rest of them: over
years a whole sheet of each batch takes several times as long."""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import NamedTuple

from msgspec.structs import replace

from station.audit.batch import common_text, limit_rows
from station.audit.rows import WeighedAmount
from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.state import Station
from station.formula.scaling import weighed
from station.ledger.asking import Asked
from station.ledger.records import Recorded


class Limited(NamedTuple):
    """A batch's lines that are weighed, by name, and its rows about what a rule limits."""

    lines: tuple[str, ...]
    rows: tuple[WeighedAmount, ...]


def limited(ledger: Asked, batches: Iterable[str]) -> Iterator[Limited]:
    """Of each of those batches, in their order, by its own events: no event of the bench changes
    what was weighed into it."""
    openings = _Openings()
    for name in batches:
        records = ledger.events_of(name)
        first = next(records)
        opened = openings.event(first)
        lines = tuple(line.name for line in weighed(opened.formula))
        station = evolve(Station(), opened, first.at, name)
        if (batch := station.find(name)) is None or not batch.rows:
            yield Limited(lines, ())
            continue
        for record in records:
            station = evolve(station, record.event, record.at, name)
        batch = station.find(name) or batch
        yield Limited(lines, limit_rows(batch))


class _Openings:
    """Openings that differ only in what is of one batch alone, each read once: it is most of what
    a batch has on record."""

    def __init__(self) -> None:
        self._known: dict[bytes, ev.BatchOpened] = {}

    def event(self, record: Recorded) -> ev.BatchOpened:
        common, body = common_text(record.text), record.body
        if common not in self._known:
            event = record.event
            assert isinstance(event, ev.BatchOpened), "the first event of a batch opens it"
            self._known[common] = event
        return replace(
            self._known[common],
            plan_g=Decimal(body["plan_g"]),
            planned_by=body["planned_by"],
            who=body["who"],
            uid=body.get("uid"),
        )
