"""The projection: rows for people's SQL, made from the events and from nothing else."""

from typing import Any

from sqlite_utils.db import Database

from station.batch.line import Line
from station.batch.progress import state_of, verdict
from station.batch.state import Batch
from station.ledger.schema import VERSION
from station.units import plain

Row = dict[str, Any]

PROJECTED = ("addition", "batch")
"""The tables made from the events, those first that refer to others."""


def batch_row(batch: Batch) -> Row:
    """The row of table `batch`."""
    return {
        "batch": batch.id,
        "formula": batch.formula.name,
        "revision": batch.formula.revision,
        "opened_at": batch.opened_at,
        "who": batch.opened.who,
        "state": state_of(batch),
        "meat_g": float(batch.meat_g),
        "meat_text": plain(batch.meat_g),
        "simulated": int(batch.opened.simulated),
        "by_hand": ", ".join(typed_lines(batch)) or None,
    }


def typed_lines(batch: Batch) -> list[str]:
    """The lines with a figure that a person typed, meat included."""
    typed = [meat.name for meat in batch.meats.values() if any(w.by_hand for w in meat.loads)]
    return typed + [line.name for line in batch.lines.values() if line.by_hand]


_BESIDE_UNKNOWN = 3
"""The schema since which what was weighed has its figures beside more that nobody weighed."""


def addition_rows(batch: Batch, version: int = VERSION) -> list[Row]:
    """The rows of table `addition`, one for each addition of the formula."""
    rows = []
    for place, addition in enumerate(batch.formula.additions, 1):
        row: Row = {
            "batch": batch.id,
            "place": place,
            "name": addition.name,
            "role": addition.role,
            "target_g": None,
            "target_text": None,
            "actual_g": None,
            "actual_text": None,
            "verdict": None,
            "scale": None,
            "lot": None,
            "loads": 0,
            "who": None,
            "at": None,
            "by_hand": None,
            "unknown_more": None,
        }
        if addition.name in batch.lines:
            row |= _weighed(batch, batch.lines[addition.name], version)
        else:  # counted in pieces, ended by a key
            row["verdict"] = "in" if addition.name in batch.steps_done else None
        rows.append(row)
    return rows


def _weighed(batch: Batch, line: Line, version: int) -> Row:
    row: Row = {
        "verdict": verdict(batch, line),
        "loads": len(line.loads),
        "by_hand": by_hand(line),
        "unknown_more": unknown_more(line),
    }
    if batch.meat_g > 0:
        target = batch.target(line.name)
        row |= {"target_g": float(target), "target_text": plain(target)}
    if line.weighed and (version >= _BESIDE_UNKNOWN or not line.unknown):
        last = line.weighed[-1]
        lots = dict.fromkeys(load.lot for load in line.loads if load.lot)
        row |= {
            "actual_g": float(line.actual_g),
            "actual_text": plain(line.actual_g),
            "scale": last.scale,
            "lot": ", ".join(lots) or None,
            "who": last.who,
            "at": last.at,
        }
    return row


def unknown_more(line: Line) -> str | None:
    """Who said, and when, that more went in than was weighed; nobody knows how much."""
    said = [f"{load.who}, {load.at}" for load in line.loads if load.net_g is None]
    return "; ".join(said) or None


def by_hand(line: Line) -> str | None:
    """Why, and who read it."""
    told = []
    for load in line.loads:
        if load.by_hand is not None:
            second = f" and {load.by_hand.second}" if load.by_hand.second else ""
            told.append(f"{load.by_hand.reason} ({load.who}{second})")
    return "; ".join(told) or None


def write(db: Database, batch: Batch) -> None:
    """Replace the rows of one batch, inside the caller's transaction."""
    db.execute("UPDATE projection SET writing = 1")
    db.execute("DELETE FROM addition WHERE batch = ?", [batch.id])
    db.execute("DELETE FROM batch WHERE batch = ?", [batch.id])
    for table, rows in made(batch).items():
        insert(db, table, rows)
    db.execute("UPDATE projection SET writing = 0")


def clear(db: Database) -> None:
    """Take every row out, inside the caller's transaction, before they are made anew."""
    db.execute("INSERT OR REPLACE INTO projection VALUES (1, 1)")
    for table in PROJECTED:
        db.execute(f"DELETE FROM {table}")
    db.execute("UPDATE projection SET writing = 0")


def insert(db: Database, table: str, rows: list[Row]) -> None:
    """Plain inserts on the caller's transaction."""
    for row in rows:
        columns = ", ".join(row)
        marks = ", ".join("?" * len(row))
        db.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", list(row.values()))


def stored(db: Database, batch: str) -> dict[str, list[Row]]:
    """The rows of a batch as they are in the file, in a fixed order."""
    return {
        "batch": list(db.query("SELECT * FROM batch WHERE batch = ?", [batch])),
        "addition": list(
            db.query("SELECT * FROM addition WHERE batch = ? ORDER BY place", [batch])
        ),
    }


def made(batch: Batch, version: int = VERSION) -> dict[str, list[Row]]:
    """The rows of a batch as they must be in a ledger of that schema."""
    return {"batch": [batch_row(batch)], "addition": addition_rows(batch, version)}
