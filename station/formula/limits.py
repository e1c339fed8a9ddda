"""The limits file of an authority: which agent, in which product, at most how much, says who."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Literal

import msgspec

from station import units
from station.formula.model import Formula
from station.tomlfile import Table, TomlFile

CARRIERS = frozenset({"salt", "sugar", "dextrose", "water"})
"""What a premix may carry its agent in; not agents themselves."""


_REGULATED_WORDS = (
    "nitrit",
    "nitrat",
    "ascorb",
    "erythorb",
    "phosph",
    "sulphit",
    "sulfit",
    "sorb",
    "benzo",
)
"""What the names of regulated agents have in common (common practice): no row, not allowed."""


class LimitRow(msgspec.Struct, frozen=True):
    """One row: holds when all its product words are among the formula's.

    `maximum` is the mass of agent per mass of the basis, a plain fraction (156.25 mg/kg is
    0.00015625); `text` is the maximum as the file says it.
    """

    authority: str
    words: tuple[str, ...]
    agents: tuple[str, ...]
    basis: Literal["meat block"]
    maximum: Decimal
    text: str
    source: str
    seen: bool
    since: str


def parse_limits(text: str, filename: str) -> tuple[LimitRow, ...]:
    """Read a limits file. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    authority = file.top.text("authority")
    rows = [_row(table, authority) for table in file.top.tables("row")]
    if not rows:
        file.top.mistake("row", "missing, expected at least one [[row]]")
    file.top.finish()
    file.finish()
    return tuple(rows)


def _row(table: Table, authority: str) -> LimitRow:
    row = LimitRow(
        authority=authority,
        words=table.texts("words"),
        agents=table.texts("agents"),
        basis=table.choice("basis", ("meat block",)),  # type: ignore[arg-type]
        maximum=table.parsed("maximum", units.fraction) or Decimal(0),
        text=table.text("maximum"),
        source=table.text("source"),
        seen=table.flag("seen", False),
        since=table.text("since"),
    )
    if not row.agents:
        table.mistake("agents", "missing, expected the agents the row is about")
    if not row.seen:
        table.mistake("seen", "only a row whose text was seen may become a limit")
    table.finish()
    return row


def agents_of(contains: Iterable[str]) -> list[str]:
    """The agents among what a line contains, carriers left out."""
    return [agent for agent in contains if agent not in CARRIERS]


def sounds_regulated(agent: str) -> bool:
    """Whether an agent is by its name one that additive law is about, whatever line it is in."""
    return any(word in agent for word in _REGULATED_WORDS)


def rows_for(formula: Formula, rows: Iterable[LimitRow]) -> tuple[LimitRow, ...]:
    """The rows whose product words are all among the formula's."""
    words = set(formula.product)
    return tuple(row for row in rows if set(row.words) <= words)
