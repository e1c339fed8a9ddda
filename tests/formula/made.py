"""Formulas and rows of the law built by hand, without a file around them."""

from decimal import Decimal
from typing import Any, Literal

from station.formula.cautions import parse_quoted
from station.formula.counting import parse_counting
from station.formula.law import Common, Law, parse_law
from station.formula.limits import LimitRow
from station.formula.model import Addition, Amount, Formula, Meat, Role
from station.resources import Config

PREMIX = {"sodium nitrite": Decimal("0.0625"), "salt": Decimal("0.9375")}
NITRITE = {"sodium nitrite": Decimal(1)}
COUNTING = parse_counting(*Config().read("label.toml"))
QUOTED = parse_quoted(*Config().read("cautions.toml"))
COMMON = Common(COUNTING, QUOTED)


def law_of(authority: str) -> Law:
    """The packaged law of an authority as it was on a day."""
    return parse_law(*Config().read(f"limits/{authority}.toml"), "2026-11-26", COMMON)


def amount(
    text: str, on: Literal["meat", "mix", "pickle", "fixed", "count"] = "meat", per: str = "1000"
) -> Amount:
    """So many grams (or pieces) to the kilogram, if nothing else is said."""
    return Amount(text, on, Decimal(text), Decimal(per))


def grams(text: str) -> Amount:
    """So many grams, whatever the meat weighs."""
    return amount(text, "fixed", "1")


def thing(
    name: str = "premix",
    much: str | Amount = "2",
    role: Role = "cure",
    contains: dict[str, Decimal] | None = None,
    **fields: Any,
) -> Addition:
    given = much if isinstance(much, Amount) else amount(much)
    return Addition(name, role, given, PREMIX if contains is None else contains, **fields)


def formula(
    *additions: Addition, product: str = "cooked cured comminuted", method: str = "comminuted",
    **fields: Any,
) -> Formula:  # fmt: skip
    meats = (Meat("pork", Decimal(1)),)
    return Formula("made", 1, tuple(product.split()), method, meats, additions, **fields)


def row(maximum: str = "0.00015", **fields: Any) -> LimitRow:
    given: dict[str, Any] = {
        "words": (), "agents": ("sodium nitrite",), "basis": "meat block", "seen": True,
        "text": f"{maximum} of it", "source": "a rule", "since": "2000-01-01", **fields,
    }  # fmt: skip
    return LimitRow(authority="us", maximum=Decimal(maximum), **given)
