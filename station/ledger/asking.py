"""What an auditor asks of the tables, without a walk through the events. Reading only."""

import re
import sqlite3
from collections.abc import Callable, Collection, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from sqlite_utils.db import Database

from station.batch import events as ev
from station.batch.codec import kind_of
from station.batch.leftovers import BETWEEN
from station.ledger import tables
from station.ledger.mark import read_mark
from station.ledger.reading import is_simulated, open_reader
from station.ledger.records import Recorded, read_events
from station.ledger.schema import ROWS_SINCE, migrations, version_of
from station.ledger.verify import Verdict, glance, prove


@dataclass(frozen=True, slots=True)
class Period:
    """Times as the ledger writes them, UTC: from `begin` on, up to but not including `end`. As made
    it is all the time there is."""

    begin: str = ""
    end: str = "~"

    def __contains__(self, at: str) -> bool:
        return self.begin <= at < self.end


ALWAYS = Period()

LEAST_G = 0.0005
"""Grams between two sums of the tables' floats that are more than their rounding."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A ledger that is open for questions: its tables, its events, what a glance at it says."""

    verdict: Verdict
    simulated: bool
    _tables: Database
    _events: Database

    def batches(self, period: Period = ALWAYS) -> list[tables.Row]:
        """The rows of the batches opened in a period, in the order in which they were."""
        return self._rows(
            "SELECT * FROM batch WHERE opened_at >= :begin AND opened_at < :end"
            " ORDER BY opened_at, batch",
            period,
        )

    def lot(self, code: str) -> list[tables.Row]:
        """The rows of a lot, each with its batch's state and opening, in the order in which it was
        weighed, or the batch opened."""
        return self._rows(
            "SELECT lot.*, batch.state, batch.opened_at FROM lot JOIN batch USING (batch)"
            " WHERE lot.lot = :name"
            " ORDER BY coalesce(lot.at, batch.opened_at), lot.batch, lot.line",
            ALWAYS,
            code,
        )

    def line(self, name: str, period: Period = ALWAYS) -> list[tables.Row]:
        """The rows of an addition, each with its batch's formula and state; in a period by when it
        was weighed, else by when its batch was opened."""
        return self._rows(
            "SELECT addition.*, batch.formula, batch.revision, batch.state, batch.opened_at"
            " FROM addition JOIN batch USING (batch)"
            " WHERE addition.name = :name AND coalesce(addition.at, batch.opened_at) >= :begin"
            " AND coalesce(addition.at, batch.opened_at) < :end"
            " ORDER BY coalesce(addition.at, batch.opened_at), addition.batch",
            period,
            name,
        )

    def without_lot(self, line: str) -> list[str]:
        """The batches in which some of an addition was weighed with no lot told, in the order in
        which they were opened."""
        rows = self._tables.execute(
            "SELECT addition.batch FROM addition JOIN batch USING (batch)"
            " LEFT JOIN lot ON lot.batch = addition.batch AND lot.line = addition.name"
            " WHERE addition.name = :line AND addition.actual_g IS NOT NULL"
            " GROUP BY addition.batch"
            " HAVING addition.actual_g - coalesce(sum(lot.actual_g), 0) > :least"
            " ORDER BY batch.opened_at, addition.batch",
            {"line": line, "least": LEAST_G},
        )
        return [row[0] for row in rows]

    def left_of(self, batch: str) -> list[tables.Row]:
        """The rows of what is left of a batch and was used in others, in the order of time."""
        return self._rows(
            "SELECT lot.*, batch.state, batch.opened_at FROM lot JOIN batch USING (batch)"
            " WHERE lot.lot GLOB :name AND lot.at IS NOT NULL ORDER BY lot.at, lot.batch",
            ALWAYS,
            f"{batch}{BETWEEN}[0-9]*",
        )

    def lots_of(self, batch: str) -> list[tables.Row]:
        """The rows of the lots of a batch."""
        return self._rows("SELECT * FROM lot WHERE batch = :name ORDER BY line, lot", ALWAYS, batch)

    def of_formula(self, name: str, period: Period = ALWAYS) -> list[tables.Row]:
        """The rows of the batches of a formula that were opened in a period, in their order."""
        return [row for row in self.batches(period) if row["formula"] == name]

    def weighed(self, period: Period = ALWAYS) -> list[tables.Row]:
        """The rows of all additions weighed in a period, in the order of time."""
        return self._rows(
            "SELECT * FROM addition WHERE at >= :begin AND at < :end ORDER BY at, batch, place",
            period,
        )

    def additions(self, period: Period = ALWAYS) -> list[tables.Row]:
        """The rows of all additions of the batches opened in a period, in the order of these."""
        return self._rows(
            "SELECT addition.* FROM batch JOIN addition USING (batch)"
            " WHERE opened_at >= :begin AND opened_at < :end ORDER BY opened_at, batch, place",
            period,
        )

    def opened_seq(self, batch: str) -> int | None:
        """The number of the event that opened a batch; None where there is no such batch."""
        row = self._events.execute("SELECT min(seq) FROM event WHERE batch = ?", [batch])
        found: int | None = row.fetchone()[0]
        return found

    def opening(self, batch: str) -> ev.BatchOpened:
        """The event that opened a batch of this ledger."""
        (record,) = read_events(self._events, batch, kinds={kind_of(ev.BatchOpened)})
        assert isinstance(record.event, ev.BatchOpened)
        return record.event

    def all_lots(self, period: Period = ALWAYS) -> list[tables.Row]:
        """The rows of every lot, in a period by when it was weighed, else by when its batch was
        opened."""
        return self._rows(
            "SELECT lot.*, batch.opened_at FROM lot JOIN batch USING (batch)"
            " WHERE coalesce(lot.at, batch.opened_at) >= :begin"
            " AND coalesce(lot.at, batch.opened_at) < :end",
            period,
        )

    def unfinished(self) -> list[tables.Row]:
        """The rows of the batches that are neither closed nor abandoned, in the order in which they
        were opened."""
        return self._rows(
            "SELECT * FROM batch WHERE state NOT IN ('closed', 'abandoned')"
            " ORDER BY opened_at, batch",
            ALWAYS,
        )

    def lots(self) -> list[str]:
        """Every lot that is known."""
        rows = self._tables.execute("SELECT DISTINCT lot FROM lot ORDER BY lot")
        return [row[0] for row in rows]

    def lines(self) -> list[str]:
        """Every addition that is known."""
        rows = self._tables.execute("SELECT DISTINCT name FROM addition ORDER BY name")
        return [row[0] for row in rows]

    def busy(self, period: Period) -> list[str]:
        """The batches that have an event in a period."""
        rows = self._events.execute(
            "SELECT DISTINCT batch FROM event"
            " WHERE at >= :begin AND at < :end AND batch IS NOT NULL ORDER BY batch",
            {"begin": period.begin, "end": period.end},
        )
        return [row[0] for row in rows]

    def events_of(self, batch: str, kinds: Collection[str] | None = None) -> Iterator[Recorded]:
        """The events of a batch, in their order; of some `kinds`, or all."""
        return read_events(self._events, batch, kinds=kinds)

    def events_in(self, period: Period, kinds: Collection[str]) -> Iterator[Recorded]:
        """The events of a period that are of some kinds, in their order."""
        return read_events(self._events, at=(period.begin, period.end), kinds=kinds)

    def outside(self) -> Iterator[Recorded]:
        """The events of no batch, in their order."""
        return read_events(self._events, outside=True)

    def refusals(self, word: str) -> list[tuple[str, str]]:
        """The refusals about lots whose sentence has that word, each with its batch. There is no
        index for it: a walk over the events."""
        rows = self._events.execute(
            "SELECT batch, json_extract(body, '$.reason') FROM event WHERE kind = 'refused'"
            " AND json_extract(body, '$.command') IN ('OpenLot', 'NextBag') AND instr(body, :word)"
            " ORDER BY seq",
            {"word": word},
        )
        whole = re.compile(rf"(?<![\w-]){re.escape(word)}(?![\w-])")
        return [(batch, reason) for batch, reason in rows if whole.search(reason)]

    def _rows(self, query: str, period: Period, name: str | None = None) -> list[tables.Row]:
        asked = {"begin": period.begin, "end": period.end, "name": name}
        return list(self._tables.query(query, asked))


@contextmanager
def asked(path: Path, older: Callable[[], None] = lambda: None) -> Iterator[Asked]:
    """The ledger at `path`, in one state of it, whatever is added meanwhile. The tables of an older
    ledger are made from its events first, in memory: that verifies it whole and takes its time (39
    s for 210 000 events, measured), and `older` is called before.

    Raises `LedgerError`.
    """
    with open_reader(path) as db:
        old = version_of(db) < ROWS_SINCE
        mark = read_mark(path)  # before the state is held: it may be behind that, never ahead
        db.execute("BEGIN")
        verdict = glance(db, mark)
        if not old:
            yield Asked(verdict, is_simulated(db), db, db)
            return
        older()
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
            made = Database(connection, execute_plugins=False)
            migrations.apply(made)
            broken = prove(db, leave=lambda batch: tables.write(made, batch)).broken
            if broken is not None:
                verdict = replace(verdict, ok=False, first_broken=broken.seq, reason=broken.reason)
            yield Asked(verdict, is_simulated(db), made, db)
