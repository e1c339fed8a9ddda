"""Control charts against the NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2."""

from math import sqrt

import pytest

from station.audit.control import D2, D4, SIGMAS, average_limits, averages, chart, signals

FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
"""6.3.2.2, individuals and moving range: the example's data."""

SMOOTHED = (
    *(52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5),
    *(49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1),
)
"""6.3.2.4, EWMA: the example's data; lambda 0.3, center 50, s 2.0539."""
PRINTED = (
    *(50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33),
    *(50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99),
)


def test_individuals_and_moving_range_are_those_of_the_handbook() -> None:
    """6.3.2.2 prints mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041."""
    found = chart(FLOW)
    assert found.mean == pytest.approx(50.81)
    assert found.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert (found.lower, found.upper) == pytest.approx((45.8159, 55.8041), abs=5e-5)


def test_the_handbooks_process_shows_no_signal() -> None:
    """6.3.2.2: "in control", none of the figures is outside; ours has more rules, none of them
    speaks."""
    assert signals(FLOW) == []


def test_the_moving_average_is_that_of_the_handbook() -> None:
    """6.3.2.4 prints the averages to two decimals."""
    assert averages(SMOOTHED, 50) == pytest.approx(PRINTED, abs=0.0051)


def test_the_limits_of_the_moving_average_are_those_of_the_handbook() -> None:
    """6.3.2.4 prints 47.4115 and 52.5884, and finds the process in control."""
    lower, upper = average_limits(50, 2.0539)
    assert (lower, upper) == pytest.approx((47.4115, 52.5884), abs=1e-4)
    assert all(lower < average < upper for average in averages(SMOOTHED, 50))


def test_the_constants_are_those_of_the_handbooks_table_for_two() -> None:
    """d2 = 1.128, D4 = 3.267 (6.3.2, table of factors); d2 of two normal figures is 2 / sqrt(pi),
    D4 = 1 + 3 sqrt(1 - 2 / pi) sqrt(pi / 2) (computed)."""
    assert (D2, D4) == (1.128, 3.267)
    assert pytest.approx(2 / sqrt(3.141592653589793), abs=5e-4) == D2
    assert pytest.approx(1 + 3 * sqrt(1.5707963267948966 - 1), abs=1e-3) == D4
    assert round(SIGMAS / D2, 2) == 2.66
