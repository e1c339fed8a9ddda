"""Tolerance, acceptance limits and aim, each guard by itself and at its edge."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.model import Band
from station.metrology.band import Limits, inward, limits, tolerance

PERCENT = Band(Decimal("0.04"), Decimal("0.02"))
GUARDED = Band(Decimal("0.04"), Decimal("0.02"), guard="both")
D = Decimal("0.1")
NO_U = Decimal(0)


def test_the_tolerance_is_a_percentage_of_the_target_on_each_side() -> None:
    assert tolerance(Fraction(25), PERCENT) == (Fraction(24), Fraction("25.5"))


@pytest.mark.parametrize(
    ("lower", "upper", "division", "ends"),
    [
        ("10.3", "10.7", "0.2", ("10.4", "10.6")),
        ("10.4", "10.6", "0.2", ("10.4", "10.6")),
        ("151", "169", "5", ("155", "165")),
    ],
)
def test_both_ends_of_a_band_lie_on_the_grid_and_not_outside_it(
    lower: str, upper: str, division: str, ends: tuple[str, str]
) -> None:
    found = inward(Fraction(lower), Fraction(upper), Decimal(division))
    assert found == (Decimal(ends[0]), Decimal(ends[1]))


def test_the_tolerance_in_grams_does_not_hang_on_the_target() -> None:
    band = Band(lower_g=Decimal(2), upper_g=Decimal(3))
    assert tolerance(Fraction(50), band) == (Fraction(48), Fraction(53))
    assert tolerance(Fraction(500), band) == (Fraction(498), Fraction(503))


@pytest.mark.parametrize(
    ("target", "lower", "upper"),
    [("10", "9.5", "11"), ("20", "19", "22"), ("40", "39", "42")],
)
def test_of_a_percentage_and_grams_the_narrower_holds(target: str, lower: str, upper: str) -> None:
    """5 % below or 1 g, 10 % above or 2 g: the same at 20 g."""
    band = Band(Decimal("0.05"), Decimal("0.10"), Decimal(1), Decimal(2))
    assert tolerance(Fraction(target), band) == (Fraction(lower), Fraction(upper))


@pytest.mark.parametrize(
    ("guard", "lower", "upper"),
    [
        ("none", "24.0", "25.5"),
        ("lower", "24.2", "25.5"),
        ("upper", "24.0", "25.3"),
        ("both", "24.2", "25.3"),
    ],
)
def test_the_uncertainty_narrows_the_band_on_the_guarded_side_only(
    guard: str, lower: str, upper: str
) -> None:
    """JCGM 106:2012 and ILAC-G8:09/2019: the tolerance limits moved in by w = r U, here r = 1."""
    band = Band(Decimal("0.04"), Decimal("0.02"), guard=guard)  # type: ignore[arg-type]
    found = limits(Fraction(25), band, Decimal("0.2"), D, None)
    assert (found.accept_lower, found.accept_upper) == (Decimal(lower), Decimal(upper))
    assert found.span == Fraction(upper) - Fraction(lower)
    assert (found.lower, found.upper) == (24, Fraction("25.5"))  # the tolerance itself stays


@pytest.mark.parametrize(
    ("guard", "lower", "upper"), [("both", "24.2", "25.8"), ("upper", "24.0", "25.8")]
)
def test_the_worked_limits_of_a_tenth_of_a_gram(guard: str, lower: str, upper: str) -> None:
    """EURAMET cg-18 v4.0 and JCGM 106, worked for a bench (computed): d = 0.1 g, s = 0.05 g, 25 g
    +/-4 %, U = 0.129: 24.129 and 25.871 exact, 24.2 and 25.8 on the display."""
    band = Band(Decimal("0.04"), Decimal("0.04"), guard=guard)  # type: ignore[arg-type]
    found = limits(Fraction(25), band, Decimal("0.129"), D, None)
    assert (found.accept_lower, found.accept_upper) == (Decimal(lower), Decimal(upper))
    exact_lower = Fraction("24.129") if guard == "both" else 24
    assert found.span == Fraction("25.871") - exact_lower


@pytest.mark.parametrize(
    ("expanded", "lower", "upper"),
    [("0.1", "24.1", "25.4"), ("0.101", "24.2", "25.3"), ("0.199", "24.2", "25.3")],
)
def test_acceptance_limits_are_rounded_inward_to_the_division(
    expanded: str, lower: str, upper: str
) -> None:
    found = limits(Fraction(25), GUARDED, Decimal(expanded), D, None)
    assert (found.accept_lower, found.accept_upper) == (Decimal(lower), Decimal(upper))


@pytest.mark.parametrize(
    ("net", "accepted"),
    [("23.9", False), ("24.0", True), ("24.7", True), ("25.5", True), ("25.6", False)],
)
def test_a_weight_is_accepted_at_both_limits_and_not_a_division_beyond(
    net: str, accepted: bool
) -> None:
    assert limits(Fraction(25), PERCENT, NO_U, D, None).accepts(Decimal(net)) is accepted


@pytest.mark.parametrize(
    ("hard", "upper"), [("25.5", "25.5"), ("25.49", "25.4"), ("25.4", "25.4"), ("26", "25.5")]
)
def test_the_lawful_maximum_bounds_what_is_accepted(hard: str, upper: str) -> None:
    found = limits(Fraction(25), PERCENT, NO_U, D, Fraction(hard))
    assert found.accept_upper == Decimal(upper)
    assert found.hard == Fraction(hard)
    assert found.upper == Fraction("25.5")


def test_the_lawful_maximum_is_not_narrowed_by_the_uncertainty_once_more() -> None:
    """H is given with its own uncertainty taken off; TU - U is 25.3 here."""
    found = limits(Fraction(25), GUARDED, Decimal("0.2"), D, Fraction("25.2"))
    assert found.accept_upper == Decimal("25.2")


@pytest.mark.parametrize(
    ("least", "lower"), [("24", "24.0"), ("24.01", "24.1"), ("24.1", "24.1"), ("23", "24.0")]
)
def test_what_is_required_bounds_it_from_below(least: str, lower: str) -> None:
    found = limits(Fraction(25), PERCENT, NO_U, D, None, Fraction(least))
    assert found.accept_lower == Decimal(lower)
    assert found.lower == 24


@pytest.mark.parametrize(
    ("hard", "aim"),
    [
        (None, Fraction(25)),
        ("25", Fraction(25)),  # exactly at the upper limit: still the target
        ("24.99", Decimal("24.4")),  # limits 24.0 and 24.9: their middle, on the grid and below
        ("24.4", Decimal("24.2")),
    ],
)
def test_the_aim_is_the_target_until_that_lies_over_the_limits(
    hard: str | None, aim: Fraction | Decimal
) -> None:
    found = limits(Fraction(25), PERCENT, NO_U, D, None if hard is None else Fraction(hard))
    assert found.aim == aim
    assert found.aim_moved is (aim != 25)


@pytest.mark.parametrize(
    ("least", "aim"), [("25", Fraction(25)), ("25.01", Decimal("25.3")), ("25.3", Decimal("25.4"))]
)
def test_the_aim_moves_up_where_the_target_lies_under_what_is_required(
    least: str, aim: Fraction | Decimal
) -> None:
    found = limits(Fraction(25), PERCENT, NO_U, D, None, Fraction(least))
    assert found.aim == aim
    assert found.aim_moved is (aim != 25)


def test_a_line_at_its_legal_maximum_is_aimed_below_its_target() -> None:
    """9 CFR 424.21(c): 156.25 mg/kg. 7340 g of meat in two loads on d = 2 g (computed): target
    18.350 g of a 6.25 % premix, tolerance +2 % = 18.717 g, lawful about 18.30 g."""
    hard = Fraction(18_350 - 50, 1000)
    found = limits(Fraction("18.350"), GUARDED, Decimal("0.041"), Decimal("0.05"), hard)
    assert found.upper == Fraction("18.717")
    assert found.accept_upper == Decimal("18.30")
    assert found.aim_moved and Fraction(found.aim) < Fraction("18.350")


@pytest.mark.parametrize(("hard", "possible"), [("24", True), ("23.9", False)])
def test_a_single_division_inside_the_limits_is_enough_to_be_possible(
    hard: str, possible: bool
) -> None:
    found = limits(Fraction(25), PERCENT, NO_U, D, Fraction(hard))
    assert found.possible is possible
    assert found.accepts(Decimal("24.0")) is possible


def test_all_figures_are_kept_as_they_were_given() -> None:
    found = limits(Fraction(25), GUARDED, Decimal("0.2"), D, Fraction(30))
    assert found == Limits(
        target=Fraction(25),
        lower=Fraction(24),
        upper=Fraction("25.5"),
        accept_lower=Decimal("24.2"),
        accept_upper=Decimal("25.3"),
        span=Fraction("1.1"),
        aim=Fraction(25),
        expanded=Decimal("0.2"),
        hard=Fraction(30),
    )
