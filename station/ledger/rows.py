"""The rows made from the events, held against what the events make, batch by batch."""

from collections import Counter

from sqlite_utils.db import Database

from station.batch.state import Batch
from station.ledger import tables, tree
from station.ledger.errors import FILE_ERRORS, is_damage
from station.ledger.reading import file_of
from station.ledger.schema import TREE_SINCE, VERSION, version_of
from station.ledger.walk import NO_EVENT, Broken


class Rows:
    """The first difference, kept until it is asked for: a broken chain is told before it."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self._version = version_of(db)
        self.made: Counter[str] = Counter()
        """How many rows the batches so far must have, by table."""
        self.difference: Broken | None = None

    def see(self, batch: Batch) -> None:
        """Look at the rows of a batch. Raises `sqlite3.Error` where they cannot be read now."""
        if self.difference is not None:
            return
        try:
            self.difference = self._differs(batch)
        except NO_EVENT as error:
            self.difference = Broken(None, f"its events make no table: {error}")
        except FILE_ERRORS as error:
            if not is_damage(error, file_of(self._db)):
                raise
            self.difference = Broken(None, f"the file is damaged: {error}")

    def end(self, leaves: tree.Leaves) -> Broken | None:
        """The first difference; after the last batch, rows of none and a hash tree that is not of
        these `leaves` are one too."""
        if self.difference is not None:
            return self.difference
        for table in tables.tables_of(self._version):
            made = self.made[table]
            (there,) = self._db.execute(f"SELECT count(*) FROM {table}").fetchone()
            if there != made:
                reason = f"table {table} has {there} rows, the events make {made}"
                return Broken(None, reason, derived=True)
        if self._version >= TREE_SINCE and tree.difference(self._db, leaves) is not None:
            return Broken(None, tree.OTHER, derived=True)
        return None

    def _differs(self, batch: Batch) -> Broken | None:
        found, expected = (
            tables.stored(self._db, batch.id, self._version),
            tables.made(batch, self._version),
        )
        for table, rows in expected.items():
            self.made[table] += len(rows)
            if len(rows) != len(found[table]):
                count = len(found[table])
                reason = f"table {table} has {count} rows of {batch.id}, not {len(rows)}"
                return Broken(None, reason, derived=True)
            for row, there in zip(rows, found[table], strict=True):
                if self._version < VERSION:  # read where it may not be migrated: the columns it has
                    row = {key: value for key, value in row.items() if key in there}
                if row != there:
                    return Broken(None, _told(table, row, there), derived=True)
        return None


def _told(table: str, row: tables.Row, there: tables.Row) -> str:
    column = next(key for key in row if key not in there or row[key] != there[key])
    name = " ".join(str(row[key]) for key in ("batch", "name", "line", "lot") if key in row)
    is_there = f"{column} is {there.get(column)!r}, the events make {row[column]!r}"
    return f"table {table}, {name}: {is_there}"
