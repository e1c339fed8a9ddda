"""What `listen` and `check-grammar` say of a reading is what the station would take from it."""

import json
from decimal import Decimal

import pytest

from drivers.reading import Condition, Fault, Kind, Reading
from station.cli.heard import Printer
from station.metrology.scale import Scale
from station.pan.signal import Signal


def reading(
    value: str | None = "3.500",
    unit: str | None = "kg",
    kind: Kind = Kind.GROSS,
    stable: bool | None = True,
    tare: str | None = None,
) -> Reading:
    condition = Condition.OK if value is not None else Condition.OVERLOAD
    figures = [None if text is None else Decimal(text) for text in (value, tare)]
    return Reading(figures[0], unit, kind, stable, condition, 1.0, b"frame", figures[1])


def told(capsys: pytest.CaptureFixture[str], *items: Reading | Fault) -> tuple[dict, str]:  # type: ignore[type-arg]
    """The last object of `--json`, and the last line for a person."""
    Printer(True).items(list(items), 1.0)
    found = json.loads(capsys.readouterr().out.splitlines()[-1])
    Printer(False).items(list(items), 1.0)
    return found, capsys.readouterr().out.splitlines()[-1]


SENT = [
    (reading(), "3500", "uses 3500 g"),
    (reading(kind=Kind.NET, tare="1.200"), "4700", "uses 4700 g"),
    (reading(kind=Kind.GROSS, tare="1.200"), "3500", "uses 3500 g"),
    (reading(kind=Kind.NET), None, "net, and its tare is not sent"),
    (reading(kind=Kind.TARE), None, "it is a tare"),
    (reading(unit="pcs"), None, "pcs is no unit of mass"),
    (reading(unit=None), None, "no unit is sent"),
    (reading("2", "lb"), "907.18474", "uses 907.18474 g"),
]


@pytest.mark.parametrize(("sent", "grams", "says"), SENT)
def test_the_grams_that_are_told_are_those_that_the_station_uses(
    capsys: pytest.CaptureFixture[str], sent: Reading, grams: str | None, says: str
) -> None:
    """The pound is 453.59237 g exactly (international yard and pound agreement, 1959)."""
    found, line = told(capsys, sent)
    assert found["grams"] == grams
    assert says in line
    scale = Scale("bench", Decimal(15000), Decimal(2), "III", sent.unit or "kg", "continuous")
    used = Signal(scale).read(sent)
    assert (used is None) == (grams is None) and (grams is None or used == Decimal(grams))


def test_a_unit_left_out_while_moving_is_the_one_sent_last(
    capsys: pytest.CaptureFixture[str],
) -> None:
    moving = reading("1.2", None, stable=False)
    assert told(capsys, reading(), moving)[0]["grams"] == "1200"
    assert told(capsys, moving)[0]["grams"] is None
    still = reading("1.2", None, stable=True)
    found, line = told(capsys, reading(), still)
    assert found["grams"] is None and "no unit is sent" in line


def test_a_tare_is_in_the_object_and_a_fault_has_its_reason(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found, _ = told(capsys, reading(kind=Kind.NET, tare="1.200"))
    assert (found["value"], found["tare"]) == ("3.500", "1.200")
    fault, line = told(capsys, Fault("wrong checksum", 1.0, b"x"))
    assert (fault["reason"], fault["grams"], fault["tare"]) == ("wrong checksum", None, None)
    assert "the station" not in line
    over, line = told(capsys, reading(None))
    assert over["grams"] is None and "OVERLOAD" in line
