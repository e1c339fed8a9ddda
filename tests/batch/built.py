"""Batches built by hand, so that one guard can be asked by itself.

If nothing else is said: a premix of 6.25 % nitrite at 2 g/kg, 10 kg of meat in one load, and a row
of 150 mg/kg.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from msgspec.structs import replace as with_fields

from station.batch import events as ev
from station.batch.line import Line, Load, Lot, MeatLine, Tare
from station.batch.state import Batch, Station
from station.formula.limits import LimitRow
from station.formula.model import Addition, Amount, Band, Formula, Meat, Role
from station.metrology.scale import Scale

FINE = Scale("fine", Decimal(600), Decimal("0.05"), "II", "g", "continuous")
BENCH = Scale("bench", Decimal(15_000), Decimal(2), "III", "g", "continuous")
PREMIX = {"sodium nitrite": Decimal("0.0625"), "salt": Decimal("0.9375")}
CURE = Band(Decimal("0.04"), Decimal("0.02"), guard="both")
AT = "2026-11-30T10:00:00.000Z"

U_FINE = Decimal("0.041")
"""U of a net weight on the fine scale: 0.82 x 0.05 g."""
U_MEAT = Decimal("1.64")
"""U of one load of meat on the bench scale: 0.82 x 2 g."""
U_TWO_FINE = Decimal("0.057983")
"""0.041 g x sqrt(2) = 0.0579827: up."""
U_TWO_MEAT = Decimal("2.319311")
"""1.64 g x sqrt(2) = 2.3193103: up."""

SHARE = Fraction("0.0625")
TWICE = {"sodium nitrite": Decimal("0.125"), "salt": Decimal("0.875")}
HALF_MORE = {"sodium nitrite": Decimal("0.09375"), "salt": Decimal("0.90625")}
LOTS = {"P-1": Lot("P-1", PREMIX), "P-2": Lot("P-2", TWICE), "P-3": Lot("P-3", HALF_MORE)}


def row(
    maximum: str = "0.00015",
    kind: Literal["ingoing", "required"] = "ingoing",
    agents: tuple[str, ...] = ("sodium nitrite",),
    **fields: Any,
) -> LimitRow:
    given: dict[str, Any] = {"basis": "meat block", "seen": True, **fields}
    return LimitRow(
        "us", (), agents, maximum=Decimal(maximum), text=f"{maximum} of it", source="a rule",
        since="2000-01-01", kind=kind, **given,
    )  # fmt: skip


def addition(
    name: str = "premix",
    per_kg: str = "2",
    role: Role = "cure",
    contains: dict[str, Decimal] | None = None,
    **fields: Any,
) -> Addition:
    amount = Amount(f"{per_kg} g/kg", "meat", Decimal(per_kg), Decimal(1000))
    return Addition(name, role, amount, PREMIX if contains is None else contains, **fields)


def line(thing: Addition | None = None, *loads: Load, **fields: Any) -> Line:
    meant = thing or addition()
    return Line(meant, stands_for=meant.contains, loads=loads, **fields)


def load(
    net: str | None,
    *,
    division: str = "0.05",
    residue: str | None = None,
    lot: str | None = None,
    tipped: bool = False,
    vessel: str | None = "cup 1",
    tare: str = "80",
) -> Load:
    return Load(
        net_g=None if net is None else Decimal(net),
        gross_g=Decimal(tare) + Decimal(net or 0),
        tare_g=Decimal(tare),
        tare_raw="",
        scale="fine",
        division_g=Decimal(division),
        vessel=vessel,
        lot=lot,
        who="Ansel",
        at=AT,
        tipped=tipped,
        residue_g=None if residue is None else Decimal(residue),
    )


def meat_load(net: str, *, division: str = "2", tare: str = "1200") -> ev.MeatWeighed:
    return ev.MeatWeighed(
        line="pork", net_g=Decimal(net), gross_g=Decimal(net) + Decimal(tare), tare_g=Decimal(tare),
        scale="bench", division_g=Decimal(division), vessel="tub", who="Ansel", raw="",
    )  # fmt: skip


def tare(grams: str = "80", vessel: str | None = "cup 1", **fields: Any) -> Tare:
    return Tare("fine", Decimal("0.05"), vessel, Decimal(grams), "", **fields)


def batch(
    *lines: Line,
    meat: Sequence[str] = ("10000",),
    rows: Sequence[LimitRow] = (),
    required: Sequence[LimitRow] = (),
    bands: dict[str, Band] | None = None,
    scales: tuple[Scale, ...] = (FINE, BENCH),
    plan: str = "10000",
    order: tuple[str, ...] | None = None,
    formula: dict[str, Any] | None = None,
    **fields: Any,
) -> Batch:
    made = Formula(
        "test", 1, ("cooked", "cured"), "comminuted", (Meat("pork", Decimal(1)),),
        tuple(given.addition for given in lines),
    )  # fmt: skip
    opened = ev.BatchOpened(
        formula=with_fields(made, **(formula or {})),
        authority="us",
        limits=tuple(rows),
        bands={
            **{given.name: CURE for given in lines},
            "meat": Band(Decimal("0.03"), Decimal("0.03")),
            **(bands or {}),
        },
        scales=scales,
        people=("Ansel", "Brida"),
        plan_g=Decimal(plan),
        planned_by="meat",
        who="Ansel",
        station="test",
        version="0",
        simulated=True,
    )
    meats = {
        "pork": MeatLine(
            "pork", Decimal(1), loads=tuple(meat_load(net) for net in meat), ended=True
        )
    }
    return Batch(
        id="b-1", opened=opened, opened_at=AT, rows=tuple(rows), required=tuple(required),
        lines={given.name: given for given in lines},
        order=order or tuple(given.name for given in lines), who="Ansel",
        **{"meats": meats, **fields},
    )  # fmt: skip


def station(one: Batch, **fields: Any) -> Station:
    return Station(batch=one, **fields)


def at_the_limit(more: Decimal = Decimal(0)) -> Decimal:
    """Grams of one load in one line that hold exactly what 10 kg of meat allow, and so much more:
    (net + U) x 6.25 % = 150 mg/kg x (10 000 g - U_M)."""
    allowed = Decimal("0.00015") * (10_000 - U_MEAT)
    return allowed / Decimal("0.0625") - U_FINE + more
