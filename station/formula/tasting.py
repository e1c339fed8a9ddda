"""What is said before a sample is tasted, from tasting.toml: how it is cooked, how it tastes."""

from dataclasses import dataclass

from station.formula.limits import AUTHORITIES
from station.formula.model import SPECIES, Formula
from station.tomlfile import Table, TomlFile

FILE = "tasting.toml"


@dataclass(frozen=True, slots=True)
class Cook:
    """How far a sample is cooked, by whose law, of which meat (empty: of any)."""

    authorities: tuple[str, ...]
    species: tuple[str, ...]
    to: str
    source: str


@dataclass(frozen=True, slots=True)
class Advice:
    """Every row, the first that fits holds; `then` is said after it."""

    cooks: tuple[Cook, ...]
    then: str

    def of(self, formula: Formula, authority: str) -> str:
        """What is said of this mix; meat of unknown species is cooked like the first."""
        known = [meat.species for meat in formula.meats]
        for cook in self.cooks:
            fits = not cook.species or None in known or set(known) & set(cook.species)
            if authority in cook.authorities and fits:
                return f"cook it through to {cook.to}, {self.then}"
        return f"cook it through, {self.then}"


def parse_advice(text: str, filename: str) -> Advice:
    """Read tasting.toml. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    then = file.top.text("then")
    cooks = tuple(_cook(table) for table in file.top.tables("cook"))
    file.top.finish()
    file.finish()
    return Advice(cooks, then)


def _cook(table: Table) -> Cook:
    authorities, species = table.texts("authorities"), table.texts("species")
    table.known("authorities", authorities, AUTHORITIES)
    table.known("species", species, SPECIES)
    cook = Cook(authorities, species, table.text("to"), table.text("source"))
    table.finish()
    return cook
