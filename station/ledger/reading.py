"""Reading a ledger beside its writer, or from a medium that cannot be written."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from sqlite_utils.db import Database

from station.ledger.errors import FILE_ERRORS, LedgerError, explain
from station.ledger.schema import VERSION


@contextmanager
def open_reader(path: Path) -> Iterator[Database]:
    """The ledger at `path`, read-only. Raises `LedgerError`. Be short: readers hold the log."""
    if not path.exists():
        raise LedgerError(f"there is no ledger at {path}", "name the file with --ledger")
    with closing(_connect(path)) as connection:
        try:
            check_version(connection, path)
            tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
            if "event" not in tables:
                raise LedgerError(f"{path} is no ledger", "name another file with --ledger")
            yield Database(connection, execute_plugins=False)
        except FILE_ERRORS as error:
            raise explain(error, path) from error


def _connect(path: Path) -> sqlite3.Connection:
    real = path.resolve()
    errors = []
    options = ["mode=ro"]
    if not real.with_name(f"{real.name}-wal").exists():
        options.append("mode=ro&immutable=1")  # a read-only medium: nobody writes there
    for option in options:
        connection = None
        try:
            name = f"file:{quote(str(real))}?{option}"
            connection = sqlite3.connect(name, uri=True, isolation_level=None)
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except FILE_ERRORS as error:
            errors.append(error)
            if connection is not None:
                connection.close()
        else:
            return connection
    raise explain(errors[0], path) from errors[0]


def file_of(db: Database) -> Path:
    """Where the ledger stands."""
    return Path(next(row[2] for row in db.execute("PRAGMA database_list") if row[1] == "main"))


def check_version(connection: sqlite3.Connection, path: Path) -> None:
    """Raise `LedgerError` for a ledger of a newer program."""
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    if found > VERSION:
        raise LedgerError(
            f"{path} is a ledger of version {found}, this program knows up to {VERSION}",
            "use the newer program; nothing was changed",
        )


def is_simulated(db: Database) -> bool:
    """What the ledger was born as; a simulated one is stamped in every view."""
    row = db.execute("SELECT simulated FROM ledger").fetchone()
    return bool(row and row[0])
