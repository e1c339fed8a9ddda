"""The bands file: the tolerance of each role and the side its guard is on."""

from dataclasses import dataclass

import msgspec

from station.formula.model import ROLES, Addition, Band, Formula
from station.formula.quantities import parse_band
from station.tomlfile import Table, TomlFile

MEAT = "meat"
_STRONG = "strong_seasoning"
_GUARDS = ("none", "upper", "lower", "both")


@dataclass(frozen=True, slots=True)
class Bands:
    """Band by role, and the words that make a seasoning a strong one."""

    by_role: dict[str, Band]
    strong: tuple[str, ...]

    def of(self, addition: Addition) -> Band:
        """The line's own numbers where it has some, else its role's; always the role's guard."""
        key: str = addition.role
        if key == "seasoning" and any(word in addition.name.lower() for word in self.strong):
            key = _STRONG
        band = self.by_role[key]
        if addition.band is None:
            return band
        return msgspec.structs.replace(addition.band, guard=band.guard)

    def for_formula(self, formula: Formula) -> dict[str, Band]:
        """Line -> band for every addition, and "meat" for the shares of the meat lines."""
        lines = {addition.name: self.of(addition) for addition in formula.additions}
        return {**lines, MEAT: self.by_role[MEAT]}


def parse_bands(text: str, filename: str) -> Bands:
    """Read a bands file. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    strong = file.top.texts("strong")
    by_role = {}
    for role in (*ROLES, MEAT, _STRONG):
        by_role[role] = _band(file.top.table(role))
    file.top.finish()
    file.finish()
    return Bands(by_role, tuple(word.lower() for word in strong))


def _band(table: Table) -> Band:
    band = table.parsed("band", parse_band) or Band()
    guard = table.choice("guard", _GUARDS)
    table.finish()
    return msgspec.structs.replace(band, guard=guard)
