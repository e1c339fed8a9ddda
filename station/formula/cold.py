"""How cold it must be, by whose law: the steps of a formula against it. It only advises."""

from decimal import Decimal

import msgspec

from station import units
from station.formula.finding import Finding
from station.formula.model import PRODUCT_WORDS, SPECIES, Formula, Step, all_of
from station.tomlfile import Table, TomlFile


class ColdRow(msgspec.Struct, frozen=True):
    """One row: so warm at most, degrees Celsius. Where it names `species`, it is about meat of
    these as it comes in; else about a product that is all of `words` once it is made. `text` is the
    figure as the file has it."""

    words: tuple[str, ...]
    species: tuple[str, ...]
    most_c: Decimal
    text: str
    source: str
    seen: bool

    def broken_by(self, step: Step) -> bool:
        """Whether the step is done although it is warmer than that."""
        if step.temperature is None:
            return True
        _, most = units.least_and_most(step.temperature, units.celsius)
        return most is None or most > self.most_c


def cold_of(file: TomlFile) -> tuple[ColdRow, ...]:
    """The [[cold]] tables of a limits file that is read already; mistakes are noted in it."""
    return tuple(_row(table) for table in file.top.tables("cold"))


def _row(table: Table) -> ColdRow:
    row = ColdRow(
        words=table.texts("words"),
        species=all_of(table.texts("species")),
        most_c=table.parsed("most", units.celsius) or Decimal(0),
        text=table.text("most"),
        source=table.text("source"),
        seen=table.flag("seen", False),
    )
    table.known("words", row.words, PRODUCT_WORDS)
    table.known("species", row.species, SPECIES)
    if bool(row.words) == bool(row.species):
        table.mistake("words", "expected words of a product or species of meat, one of both")
    table.finish()
    return row


def check_cold(formula: Formula, rows: tuple[ColdRow, ...]) -> list[Finding]:
    """What the steps let be warmer than the rows do."""
    return [*_meat(formula, rows), *_product(formula, rows)]


def _meat(formula: Formula, rows: tuple[ColdRow, ...]) -> list[Finding]:
    """Meat whose temperature a step asks for."""
    found = []
    for step in formula.steps:
        for meat in formula.meats:
            if meat.name not in (step.after, step.before) or step.temperature is None:
                continue
            strictest = _strictest([row for row in rows if meat.species in row.species])
            if strictest is not None and strictest.broken_by(step):
                found.append(_finding(step.name, meat.name, strictest))
    return found


def _product(formula: Formula, rows: tuple[ColdRow, ...]) -> list[Finding]:
    """A product that must be cold once it is made, and how a formula sees to it: by a step with a
    time since the first meat."""
    about = [row for row in rows if row.words and set(row.words) <= set(formula.product)]
    strictest = _strictest(about)
    if strictest is None:
        return []
    counted = [step for step in formula.steps if step.since is not None]
    if not counted:
        text = f"no step sees to it that it is cold again ({strictest.text} at most) in good time:"
        text += ' a step with since = "first meat"'
        return [Finding(formula.name, "advice", text, _source(strictest))]
    if all(strictest.broken_by(step) for step in counted):
        return [_finding(counted[-1].name, formula.name, strictest)]
    return []


def _strictest(rows: list[ColdRow]) -> ColdRow | None:
    return min(rows, key=lambda row: row.most_c, default=None)


def _finding(step: str, what: str, row: ColdRow) -> Finding:
    text = f"{what} is to be {row.text} at most, and the step lets it be warmer"
    return Finding(step, "advice", text, _source(row))


def _source(row: ColdRow) -> str:
    return f"{row.source}; {'seen' if row.seen else 'not seen'}"
