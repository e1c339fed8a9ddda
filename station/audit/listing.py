"""The list of batches. Figures are those of the batch sheets, from the tables made with them."""

import json
from collections.abc import Iterable

import msgspec

from station.ledger.tables import Row


class ListedBatch(msgspec.Struct, frozen=True, kw_only=True):
    """One batch. `salt_pct`: all salt in percent of the meat, as weighed; null without meat.
    `salt_at_least`: more went in, and nobody knows how much. `hold`: why it is on hold, or was when
    it was given up. `by_hand`: the lines with a figure that a person typed."""

    batch: str
    formula: str
    revision: int
    opened_at: str
    state: str
    meat_g: str
    salt_pct: str | None
    salt_at_least: bool
    hold: tuple[str, ...]
    by_hand: str | None
    who: str


def listed(rows: Iterable[Row]) -> tuple[ListedBatch, ...]:
    """The batches of those rows of table `batch`."""
    return tuple(
        ListedBatch(
            batch=row["batch"],
            formula=row["formula"],
            revision=row["revision"],
            opened_at=row["opened_at"],
            state=row["state"],
            meat_g=row["meat_text"],
            salt_pct=row["salt_pct"],
            salt_at_least=bool(row["salt_at_least"]),
            hold=tuple(json.loads(row["hold"])) if row["hold"] else (),
            by_hand=row["by_hand"],
            who=row["who"],
        )
        for row in rows
    )
