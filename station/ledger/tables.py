"""The projection: rows for people's SQL, made from the events and from nothing else."""

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from sqlite_utils.db import Database

from station.batch.amounts import difference_percent, salt_at_least, salt_percent
from station.batch.line import Line, Load, MeatLine
from station.batch.progress import state_of, verdict
from station.batch.state import Batch
from station.ledger.schema import VERSION
from station.units import plain

Row = dict[str, Any]

PROJECTED = ("lot", "addition", "batch")
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
        "meat_g": float(batch.weighed_meat_g),
        "meat_text": plain(batch.weighed_meat_g),
        "simulated": int(batch.opened.simulated),
        "by_hand": ", ".join(typed_lines(batch)) or None,
        "salt_pct": salt_percent(batch),
        "salt_at_least": int(salt_at_least(batch)),
        "hold": json.dumps(batch.hold, ensure_ascii=False) if batch.hold else None,
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
            "difference_pct": None,
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
        "unknown_more": unknown_more(line.loads),
        "difference_pct": difference_percent(batch, line),
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


_LOT: Row = {
    **{"strengths": "[]", "expires": None, "refused": None, "at": None},
    **{"actual_g": None, "actual_text": None, "unknown_more": None, "doubt_text": None},
    **{"supplier": None, "packed": None},
}
"""What nobody told of a lot."""


def lot_rows(batch: Batch) -> list[Row]:
    """The rows of table `lot`: every bag that a line was told of or weighed from, the deliveries
    that the meat was taken from, and the casings."""
    bags = [
        _lot_row(batch, batch.lines[name], lot)
        for name in sorted(batch.lines)
        for lot in sorted(_bags(batch.lines[name]))
    ]
    meat = [
        _delivery_row(batch, batch.meats[name], lot)
        for name in sorted(batch.meats)
        for lot in sorted(batch.meats[name].lots)
    ]
    casings = [_casing_row(batch, lot, at) for lot, at in batch.casings_at.items()]
    return sorted(bags + meat + casings, key=lambda row: (row["line"], row["lot"]))


def _delivery_row(batch: Batch, meat: MeatLine, lot: str) -> Row:
    known, loads = meat.lots[lot], [load for load in meat.loads if load.lot == lot]
    actual = sum((load.net_g for load in loads), Decimal(0)) if loads else None
    return _LOT | {
        "batch": batch.id,
        "line": meat.name,
        "lot": lot,
        "expires": known.use_by,
        "actual_g": None if actual is None else float(actual),
        "actual_text": None if actual is None else plain(actual),
        "at": meat.taken_at.get(lot),
        "supplier": known.supplier,
        "packed": known.packed,
    }


def _casing_row(batch: Batch, lot: str, at: str) -> Row:
    """A casing is in the batch, and nobody weighs it."""
    taken = next(one for one in batch.casings if one.lot == lot)
    return _LOT | {
        "batch": batch.id,
        "line": taken.casing,
        "lot": lot,
        "unknown_more": f"{taken.who}, {at}",
        "at": at,
    }


def _bags(line: Line) -> set[str]:
    return {*line.lots, *line.refused, *(load.lot for load in line.loads if load.lot)}


def _lot_row(batch: Batch, line: Line, lot: str) -> Row:
    known = line.lots.get(lot)
    loads = [load for load in line.loads if load.lot == lot]
    weighed = [load for load in loads if load.net_g is not None]
    actual = sum((load.actual_g for load in weighed), Decimal(0)) if weighed else None
    doubt = sum((part.content_g for part in line.in_doubt if part.lot == lot), Decimal(0))
    told = known.tellings if known else ()
    strengths = [{agent: plain(share * 100) for agent, share in one.items()} for one in told]
    return _LOT | {
        "batch": batch.id,
        "line": line.name,
        "lot": lot,
        "expires": known.expires if known else None,
        "strengths": json.dumps(strengths, ensure_ascii=False, sort_keys=True),
        "refused": line.refused.get(lot),
        "actual_g": None if actual is None else float(actual),
        "actual_text": None if actual is None else plain(actual),
        "unknown_more": unknown_more(loads),
        "doubt_text": plain(doubt) if doubt else None,
        "at": (weighed or loads)[-1].at if loads else None,
    }


def unknown_more(loads: Sequence[Load]) -> str | None:
    """Who said, and when, that more went in than was weighed; nobody knows how much."""
    said = [f"{load.who}, {load.at}" for load in loads if load.net_g is None]
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
    for table in PROJECTED:
        db.execute(f"DELETE FROM {table} WHERE batch = ?", [batch.id])
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


_LOTS = 4
"""The schema since which there is a table of lots."""


def tables_of(version: int) -> tuple[str, ...]:
    """The tables made from the events in a ledger of that schema."""
    return tuple(table for table in PROJECTED if table != "lot" or version >= _LOTS)


def stored(db: Database, batch: str, version: int = VERSION) -> dict[str, list[Row]]:
    """The rows of a batch as they are in a ledger of that schema, in a fixed order."""
    found = {
        "batch": list(db.query("SELECT * FROM batch WHERE batch = ?", [batch])),
        "addition": list(
            db.query("SELECT * FROM addition WHERE batch = ? ORDER BY place", [batch])
        ),
    }
    if version >= _LOTS:
        rows = db.query("SELECT * FROM lot WHERE batch = ? ORDER BY line, lot", [batch])
        found["lot"] = list(rows)
    return found


def made(batch: Batch, version: int = VERSION) -> dict[str, list[Row]]:
    """The rows of a batch as they must be in a ledger of that schema."""
    rows = {"batch": [batch_row(batch)], "addition": addition_rows(batch, version)}
    if version >= _LOTS:
        rows["lot"] = lot_rows(batch)
    return rows
