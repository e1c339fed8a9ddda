"""lots.toml: the goods that a bench opens lots of, each with the strength on its label."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from biip.checksums import gs1_standard_check_digit

from station import units
from station.formula import quantities
from station.formula.limits import agents_of
from station.formula.masses import AGENTS, OTHER_AGENTS, agent_name
from station.formula.names import WHICH, saltpetre, sounds_regulated
from station.resources import Config
from station.tomlfile import Table, TomlFile

FILE = "lots.toml"


@dataclass(frozen=True, slots=True)
class Product:
    """What is bought: its name, what it contains, and the code on its label (a GTIN of 14 digits),
    None where that has none; `bag_g`: grams in a full bag, `price`: what a kilogram costs, None
    where that differs."""

    name: str
    contains: dict[str, Decimal]
    gtin: str | None = None
    bag_g: Decimal | None = None
    price: Decimal | None = None

    @property
    def says(self) -> str:
        """Its strength, as its label has it."""
        parts = [f"{agent} {units.plain(share * 100)} %" for agent, share in self.contains.items()]
        return f"{self.name}: {', '.join(parts)}"


def load_products(config: Config) -> tuple[Product, ...]:
    """Read lots.toml. Raises `FileMistakes` or `ResourceError`."""
    file = TomlFile(*config.read(FILE))
    tables = file.top.tables("product")
    found = [product for table in tables if (product := _product(table)) is not None]
    for what, of in (("named", [p.name for p in found]), ("coded", [p.gtin for p in found])):
        for twice in sorted({one for one in of if one is not None and of.count(one) > 1}):
            file.top.mistake("product", f"two products are {what} {twice!r}")
    file.top.finish()
    file.finish()
    return tuple(found)


def fitting(products: Iterable[Product], wanted: Iterable[str]) -> tuple[Product, ...]:
    """Those that hold an agent that a line wants. `wanted`: what the line contains."""
    agents = set(agents_of(wanted))
    return tuple(product for product in products if agents & set(agents_of(product.contains)))


def strengths(pairs: Iterable[tuple[str, str]]) -> dict[str, Decimal]:
    """Agent -> share, from what people write ("sodium nitrite", "6.25 %"). Raises `ValueError` with
    what is wrong."""
    found: dict[str, Decimal] = {}
    for text, share in pairs:
        name, strength = agent_name(text), units.fraction(share)
        if not 0 < strength <= 1:
            raise ValueError(f"found {share!r}, expected a share such as 6.25 %")
        if sounds_regulated(name) and name not in (*AGENTS, *OTHER_AGENTS):
            raise ValueError(WHICH if saltpetre(name) else f"{name!r} is the name of no one agent")
        if name in found:
            raise ValueError(f"{name} is named twice")
        found[name] = strength
    if sum(found.values()) > 1:
        raise ValueError("it adds up to more than 100 %")
    return found


def _product(table: Table) -> Product | None:
    name, code = table.text("name"), table.text("gtin", "")
    shares = table.table("contains")
    pairs = [(agent, shares.text(agent)) for agent in shares.names]
    shares.finish()
    gtin = _gtin(table, code) if code else None
    bag_g = table.parsed("bag", units.mass) if table.has("bag") else None
    price = table.parsed("cost", quantities.price, None)
    table.finish()
    try:
        contains = strengths(pair for pair in pairs if pair[1])
    except ValueError as error:
        table.mistake("contains", str(error))
        return None
    return Product(name, contains, gtin, bag_g, price)


def _gtin(table: Table, code: str) -> str | None:
    """A GTIN of 8 to 14 digits, filled up to 14 (GS1 General Specifications, 7.9: check digit)."""
    whole = code.zfill(14)
    digits = code.isascii() and code.isdigit() and 8 <= len(code) <= 14
    if not digits or gs1_standard_check_digit(whole[:-1]) != int(whole[-1]):
        table.mistake("gtin", f"found {code!r}, expected a GTIN as printed under its bars")
        return None
    return whole
