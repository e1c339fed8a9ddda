"""What a sheet on paper says of a ledger: whether it belongs to it, and what has changed since."""

import re
from dataclasses import dataclass

from sqlite_utils.db import Database

from station.ledger.code import Mistyped, SheetCode, fits
from station.ledger.verify import Verdict


@dataclass(frozen=True, slots=True)
class Printed:
    """`belongs`: an event of the ledger is the one that the paper names, `seq`; `unchanged`: and
    all up to it is whole. `says`: the same in words."""

    belongs: bool
    unchanged: bool
    seq: int | None
    says: str


def read_head(typed: str) -> str:
    """A printed head as hex digits without blanks. Raises `code.Mistyped`."""
    digits = "".join(typed.lower().split())
    if not re.fullmatch(r"[0-9a-f]{16}", digits):
        raise Mistyped("a head is 16 digits of 0 to 9 and a to f")
    return digits


def judge(db: Database, paper: SheetCode | str, verdict: Verdict) -> Printed:
    """Look for the event that a code or a head (of `read_head`) names in a ledger of which
    `verdict` is known."""
    if isinstance(paper, SheetCode):
        row = db.execute("SELECT seq, hash FROM event WHERE seq = ?", [paper.seq]).fetchone()
        found = row[0] if row and fits(paper, row[1].hex()) else None
        wanted = f"event {paper.seq}"
    else:
        query = "SELECT seq FROM event WHERE substr(hash, 1, 8) = ?"
        row = db.execute(query, [bytes.fromhex(paper)]).fetchone()
        found, wanted = (row[0] if row else None), "event with that head"
    if found is None:
        missing = f"this ledger has no {wanted}"
        why = missing if row is None else f"{wanted} of this ledger is another one"
        return Printed(False, False, None, f"{why}: another ledger, or one that was changed")
    first = verdict.first_broken
    if first is not None and first <= found:
        says = f"it names event {found} of this ledger, but event {first} before it is broken"
        return Printed(True, False, found, says)
    return Printed(True, True, found, f"of this ledger; events 1 to {found} are as they were then")
