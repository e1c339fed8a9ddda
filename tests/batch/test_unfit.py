"""Whose doing it is that a planned line cannot be weighed, and what would help, with figures."""

from decimal import Decimal
from typing import Any

import pytest

from station.batch.unfit import Unfit, _divisions_below, unfit
from station.formula.limits import LimitRow
from station.formula.model import Addition, Amount, Band
from station.metrology.scale import Scale
from tests.batch.built import BENCH, FINE, addition, batch, line, row

NITRITE = {"sodium nitrite": Decimal("0.0625")}
SALT = addition("salt", "18", "salt", {"salt": Decimal(1)})
SEASONING = Band(Decimal("0.05"), Decimal("0.05"))


def why(
    *lines: Addition,
    name: str = "premix",
    plan: str = "1000",
    scales: tuple[Scale, ...] = (FINE, BENCH),
    rows: tuple[LimitRow, ...] = (),
    **fields: Any,
) -> Unfit | None:
    made = batch(*map(line, lines), plan=plan, scales=scales, rows=rows, **fields)
    return unfit(made.opened, name)


def helps(*lines: Addition, **fields: Any) -> tuple[str, ...]:
    found = why(*lines, **fields)
    assert found is not None
    return found.helps


def test_nothing_is_in_the_way_of_a_line_that_can_be_weighed() -> None:
    assert why(addition(), plan="2000") is None


def test_where_the_scale_is_too_coarse_it_is_the_scale() -> None:
    """0.12 g of band, less 0.041 g of uncertainty at both ends, is under 3 x 0.05 g."""
    found = why(addition())
    assert found is not None
    assert (found.cause, found.blocks) == ("scale", True)
    assert found.text == (
        "no scale is fit for it; of fine: its band of 0.040 g is under 3 divisions of 0.05 g"
    )


def test_where_a_limit_takes_the_band_it_is_the_law() -> None:
    """10 kg at 100 mg/kg leave 16 g of the premix; its band begins at 19.2 g."""
    found = why(addition(), plan="10000", rows=(row("0.0001"),))
    assert found is not None
    assert (found.cause, found.blocks) == ("law", True)
    assert found.text == "the law leaves too little of its band, which is 19.20 to 20.40 g"
    assert found.helps == ()  # neither more meat nor a finer scale makes it lawful


def test_a_line_that_may_be_weighed_all_the_same_stops_no_batch() -> None:
    pepper = addition("pepper", "1", "seasoning", {})
    found = why(pepper, name="pepper", bands={"pepper": SEASONING})
    assert found is not None
    assert (found.cause, found.blocks) == ("scale", False)


@pytest.mark.parametrize(
    ("scale", "batch_kg"),
    [
        (FINE, "2"),  # 3.867 g: 0.06 t - 0.082 g is 3 x 0.05 g; 1.94 kg, to two digits
        (BENCH, "78"),  # 154.67 g: 0.06 t - 3.28 g is 3 x 2 g; 77.4 kg
    ],
)
def test_the_smallest_batch_that_can_be_weighed_is_told(scale: Scale, batch_kg: str) -> None:
    """Span of the band 6 % of the target, less U = 0.82 d at both ends, at least 3 d."""
    scales = (scale,) if scale == BENCH else (FINE, BENCH)
    assert helps(addition(), scales=scales)[0] == f"a batch of {batch_kg} kg of meat"


@pytest.mark.parametrize(
    ("per_kg", "offered"), [("0.004", ["a batch of 970 kg of meat"]), ("0.0038", [])]
)
def test_no_batch_is_offered_that_nobody_can_mince(per_kg: str, offered: list[str]) -> None:
    """3.867 g are in 966.7 kg at 0.004 g/kg and in 1017.5 kg at 0.0038."""
    told = helps(addition(per_kg=per_kg))
    assert [text for text in told if text.startswith("a batch of ")] == offered


def test_divisions_go_down_by_one_two_and_five_to_a_thousandth() -> None:
    found = list(_divisions_below(Decimal("0.05")))
    assert (found[:4], found[-1]) == (
        [Decimal(text) for text in ("0.02", "0.01", "0.005", "0.002")], Decimal("0.00005"),
    )  # fmt: skip
    assert next(_divisions_below(Decimal("0.07"))) == Decimal("0.05")


def test_more_meat_helps_no_fixed_amount_and_is_not_offered() -> None:
    fixed = Addition("premix", "cure", Amount("2 g", "fixed", Decimal(2)), addition().contains)
    assert helps(fixed) == ("a scale with a division of 0.02 g",)


@pytest.mark.parametrize(
    ("plan", "division"),
    [("1000", "0.02"), ("600", "0.01"), ("300", "0.005"), ("100", "0.002")],
)
def test_the_division_that_a_batch_needs_is_told(plan: str, division: str) -> None:
    """3.64 d and 1.64 d / 0.06 are the target at least: 0.0606 t, of 1, 2 and 5."""
    assert f"a scale with a division of {division} g" in helps(addition(), plan=plan)


def test_a_weaker_premix_is_told_with_the_salt_that_it_replaces() -> None:
    """2 g of 6.25 % bring 0.125 g of nitrite and 1.875 g of salt; as much nitrite from 3 % is in
    4.1667 g with 4.0417 g of salt, 2.1667 g more: 15.83 g of salt instead of 18 g. Of 4 % it
    would be 3.125 g, under the 3.867 g that the scale can weigh."""
    assert helps(addition(), SALT)[-1] == (
        "a premix of 3 % sodium nitrite: 4.17 g of it, and 15.83 g of salt instead of 18 g"
    )


@pytest.mark.parametrize(
    "lines",
    [
        (addition(),),  # no salt to take it from
        (addition(), addition("salt", "1", "salt", {"salt": Decimal(1)})),  # not enough of it
        (addition(), addition("salt", "5", "salt", {"salt": Decimal(1)})),  # 2.83 g: too little
        (addition(contains=NITRITE), SALT),  # in nobody knows what
        (addition(contains={**NITRITE, "salt": Decimal("0.5")}), SALT),
        (addition(contains={**NITRITE, "sugar": Decimal("0.9375")}), SALT),
        (
            addition(
                contains={
                    "sodium nitrite": Decimal("0.06"), "sodium nitrate": Decimal("0.04"),
                    "salt": Decimal("0.9"),
                }
            ),
            SALT,
        ),
    ],
)  # fmt: skip
def test_no_premix_is_offered_that_salt_cannot_make_up_for(lines: tuple[Addition, ...]) -> None:
    assert not [text for text in helps(*lines) if "premix" in text]


def test_a_seasoning_in_salt_is_no_premix() -> None:
    contains = {"garlic": Decimal("0.0625"), "salt": Decimal("0.9375")}
    garlic = addition("garlic salt", role="seasoning", contains=contains)
    assert not [text for text in helps(garlic, SALT, name="garlic salt") if "premix" in text]


def test_no_premix_is_offered_that_is_as_strong() -> None:
    contains = {"sodium nitrite": Decimal("0.03"), "salt": Decimal("0.97")}
    weak = addition(per_kg="1", contains=contains)
    (offer,) = [text for text in helps(weak, SALT) if "premix" in text]
    assert offer.startswith("a premix of 0.6 % sodium nitrite: 5 g of it")
