"""Fit to weigh, each condition by itself and at its edge; and which scale is named."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.model import Band
from station.metrology.band import Limits, limits
from station.metrology.fitness import MOST_LOADS, Choice, choose, why_unfit
from station.metrology.scale import Scale
from station.metrology.uncertainty import expanded

TENTH = Scale("tenth", Decimal(600), Decimal("0.1"), "II", "g", "continuous")  # Min 5 g
FINE = Scale("fine", Decimal(600), Decimal("0.05"), "II", "g", "continuous")  # Min 1 g
BENCH = Scale("bench", Decimal(15_000), Decimal(2), "III", "g", "continuous")  # Min 40 g
WIDE = Band(Decimal("0.10"), Decimal("0.10"))
CURE = Band(Decimal("0.04"), Decimal("0.02"), guard="both")


def on(target: str, *, band: Band = WIDE, scale: Scale = TENTH, hard: str | None = None) -> Limits:
    most = None if hard is None else Fraction(hard)
    return limits(Fraction(target), band, expanded([scale.division_g]), scale.division_g, most)


@pytest.mark.parametrize(("hard", "fit"), [("45.3", True), ("45.299", False)])
def test_the_acceptance_interval_spans_three_divisions_or_the_scale_is_unfit(
    hard: str, fit: bool
) -> None:
    """Lower limit 45.0 g; d = 0.1 g. 3 d is the station's own figure."""
    said = why_unfit(TENTH, on("50", hard=hard), Fraction(50))
    assert said == (None if fit else "its band of 0.30 g is under 3 divisions of 0.1 g")


def test_a_band_that_is_gone_is_told_as_nothing() -> None:
    said = why_unfit(TENTH, on("50", hard="40"), Fraction(50))
    assert said == "its band of 0.00 g is under 3 divisions of 0.1 g"


def test_a_band_without_a_division_inside_is_unfit_however_wide() -> None:
    given = on("50")
    none_inside = Limits(
        given.target, given.lower, given.upper, Decimal("45.1"), Decimal("45.0"), given.span,
        given.aim, given.expanded, given.hard,
    )  # fmt: skip
    assert why_unfit(TENTH, given, Fraction(50)) is None
    assert why_unfit(TENTH, none_inside, Fraction(50)) is not None


@pytest.mark.parametrize(("load", "fit"), [("5", True), ("4.999", False)])
def test_a_load_of_exactly_min_is_fit_and_under_it_is_not(load: str, fit: bool) -> None:
    """OIML R 76-1:2006, table 3: class II with e = 0.1 g, Min 50 e = 5 g."""
    said = why_unfit(TENTH, on("50"), Fraction(load))
    assert said == (None if fit else "5.0 g is under its Min of 5.0 g")


@pytest.mark.parametrize(
    ("division", "share", "least"),
    [("0.1", "0.01", "8.2"), ("0.1", "0.05", "1.64"), ("1", "0.01", "82"), ("1", "0.05", "16.4"),
     ("5", "0.01", "410"), ("5", "0.05", "82")],
)  # fmt: skip
def test_a_target_of_exactly_the_minimum_weight_is_fit_and_under_it_is_not(
    division: str, share: str, least: str
) -> None:
    """The form of USP <41>, m_min = k max(s, 0.41 d) / requirement, k = 2 (computed).

    Limits as wide as the target, so that the minimum weight alone decides.
    """
    scale = Scale("s", Decimal(15_000), Decimal(division), "I", "g", "continuous")

    def said(target: Fraction) -> str | None:
        half = Fraction(share) * target
        wide = Limits(
            target, target - half, target + half, Decimal(0), Decimal(900), Fraction(900), target,
            Decimal(0), None,
        )  # fmt: skip
        return why_unfit(scale, wide, Fraction(100) * Fraction(division))

    assert said(Fraction(least)) is None
    under = said(Fraction(least) - Fraction(1, 1000))
    assert under is not None and under.endswith("g is under its minimum weight")


def test_the_band_is_told_before_min_and_min_before_the_minimum_weight() -> None:
    small = on("0.5")
    assert "divisions" in str(why_unfit(TENTH, small, Fraction("0.5")))
    wide = Limits(
        small.target, small.lower, small.upper, Decimal(0), Decimal(2), Fraction(2), small.aim,
        small.expanded, None,
    )  # fmt: skip
    assert "Min" in str(why_unfit(TENTH, wide, Fraction("0.5")))
    assert why_unfit(TENTH, wide, Fraction(5)) == "0.5 g is under its minimum weight"


def chosen(
    *scales: Scale, target: str, vessel: str = "0", band: Band = WIDE
) -> tuple[str, int, bool] | None:
    """Name, loads and fitness of the scale that is named; two loads have twice the divisions."""

    def limits_for(scale: Scale, loads: int) -> Limits:
        step = scale.division_g
        return limits(Fraction(target), band, expanded([step] * loads), step, None)

    found: Choice | None = choose(scales, Fraction(target), Decimal(vessel), limits_for)
    return None if found is None else (found.scale.name, found.loads, found.unfit is None)


def test_the_finest_fit_scale_is_named_in_whatever_order_they_stand() -> None:
    assert chosen(BENCH, TENTH, FINE, target="400") == ("fine", 1, True)
    assert chosen(FINE, BENCH, target="400") == ("fine", 1, True)


@pytest.mark.parametrize(
    ("target", "named"), [("500", ("fine", 1, True)), ("500.05", ("bench", 1, True))]
)
def test_a_target_that_just_fits_beside_the_vessel_is_one_load(
    target: str, named: tuple[str, int, bool]
) -> None:
    """Room on the scale is Max less the vessel: 600 - 100 = 500 g."""
    assert chosen(BENCH, FINE, target=target, vessel="100") == named


@pytest.mark.parametrize(
    ("target", "loads"), [("500", 1), ("500.05", 2), ("1000", 2), ("1000.05", 3)]
)
def test_what_has_no_room_is_split_into_as_few_loads_as_it_takes(target: str, loads: int) -> None:
    assert chosen(FINE, target=target, vessel="100") == ("fine", loads, True)


def test_one_load_on_a_coarse_fit_scale_goes_before_several_on_a_fine_one() -> None:
    assert chosen(FINE, BENCH, target="1200") == ("bench", 1, True)


def test_several_loads_on_a_fit_scale_go_before_one_on_an_unfit_one() -> None:
    """A cure on d = 2 g is fit from 155 g on (computed); the small plate has room for 90 g."""
    small = Scale("small", Decimal(100), Decimal("0.05"), "II", "g", "continuous")
    assert chosen(small, BENCH, target="150", vessel="10", band=CURE) == ("small", 2, True)
    assert chosen(small, BENCH, target="155", vessel="10", band=CURE) == ("bench", 1, True)


def test_where_none_is_fit_the_finest_with_room_is_named_with_the_reason() -> None:
    assert chosen(BENCH, TENTH, target="2", band=CURE) == ("tenth", 1, False)


@pytest.mark.parametrize(("vessel", "named"), [("599", True), ("600", False), ("601", False)])
def test_a_scale_that_the_vessel_alone_fills_has_no_room(vessel: str, named: bool) -> None:
    assert (chosen(FINE, target="40", vessel=vessel) is not None) is named


def test_a_scale_without_room_does_not_hide_a_coarser_one_that_has_it() -> None:
    assert chosen(FINE, BENCH, target="400", vessel="700") == ("bench", 1, True)
    assert chosen(FINE, BENCH, target="6000", vessel="500") == ("bench", 1, True)


def test_more_loads_than_anybody_weighs_are_a_mistake() -> None:
    """Fifty is the station's own figure."""
    assert MOST_LOADS == 50
    assert chosen(FINE, target="5000", vessel="500") == ("fine", 50, True)
    assert chosen(FINE, target="5000.05", vessel="500") is None


def test_each_load_of_several_must_reach_min() -> None:
    """300 g in ten loads of 30 g, under the Min of 40 g of this scale."""
    plate = Scale("plate", Decimal(130), Decimal(2), "III", "g", "continuous")
    assert chosen(plate, target="300", vessel="100", band=Band(Decimal(1), Decimal(1))) == (
        "plate", 10, False,
    )  # fmt: skip
    assert chosen(plate, target="300", vessel="90", band=Band(Decimal(1), Decimal(1))) == (
        "plate", 8, False,
    )  # fmt: skip
    assert chosen(plate, target="320", vessel="90", band=Band(Decimal(1), Decimal(1))) == (
        "plate", 8, True,
    )  # fmt: skip


def test_the_part_of_a_gram_of_each_load_counts() -> None:
    """25.2 g in three loads of 8.4 g: no less than a Min of 8.4 g, and more than 8 g."""
    plate = Scale("plate", Decimal(10), Decimal("0.42"), "III", "g", "continuous")
    assert plate.min_g == Decimal("8.40")
    assert chosen(plate, target="25.2", band=Band(Decimal(1), Decimal(1))) == ("plate", 3, True)


def test_nothing_left_to_weigh_is_one_load_of_nothing() -> None:
    assert chosen(FINE, target="0") == ("fine", 1, False)


def test_without_a_scale_none_is_named() -> None:
    assert chosen(target="10") is None
