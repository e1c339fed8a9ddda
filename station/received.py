"""stock.toml: what came of each lot, as a person wrote it down."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from station import units
from station.resources import Config
from station.tomlfile import Table, TomlFile

FILE = "stock.toml"


@dataclass(frozen=True, slots=True)
class Received:
    """A lot that came: for which line, how many grams, and until when it may be used (YYYY-MM-DD),
    None where it has no date."""

    line: str
    lot: str
    amount_g: Decimal
    expires: str | None = None


def load_received(config: Config) -> tuple[Received, ...]:
    """Read stock.toml. Raises `FileMistakes` or `ResourceError`."""
    file = TomlFile(*config.read(FILE))
    tables = file.top.tables("came")
    found = [each for table in tables if (each := _received(table)) is not None]
    for (line, lot), many in Counter((each.line, each.lot) for each in found).items():
        if many > 1:
            file.top.mistake("came", f"lot {lot!r} of {line!r} stands twice: add both amounts up")
    file.top.finish()
    file.finish()
    return tuple(found)


def _received(table: Table) -> Received | None:
    line, lot = table.text("line"), table.text("lot")
    amount_g = table.parsed("amount", _amount)
    expires = table.parsed("expires", _day, None)
    table.finish()
    return None if amount_g is None else Received(line, lot, amount_g, expires)


def _amount(text: str) -> Decimal:
    return units.more_than_nothing(units.mass(text), text)


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError(f"found {text!r}, expected a date such as 2026-11-30") from None
