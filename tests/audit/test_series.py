"""Figures batch by batch: their statistics, what a sign means, how they lie in a band, as text."""

import numpy
import pytest
from msgspec import structs
from scipy import stats

from station.audit.capability import BandPercent, against, band_percent
from station.audit.control import MEANING
from station.audit.drawn.text import ROWS, text_chart
from station.audit.series import LeftOut, Point, series, statistics
from tests.audit.test_sheet import row_of, salted_and_more

INDIVIDUALS = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
"""NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: mean 50.81, mean moving range 1.8778,
limits 45.8159 and 55.8041, in control."""


def names(count: int) -> list[str]:
    return [f"b-{n}" for n in range(count)]


def test_the_worked_example_of_the_handbook() -> None:
    found = statistics(INDIVIDUALS, names(10))
    assert (found.n, found.center, found.range_mean) == (10, 50.81, 1.8778)
    assert found.lcl == pytest.approx(45.8159, abs=1e-3)
    assert found.ucl == pytest.approx(55.8041, abs=1e-3)
    assert found.signals == ()


def test_mean_and_deviation_are_those_of_scipy() -> None:
    figures = numpy.random.default_rng(7).normal(3, 2, 200)
    found, reference = statistics(figures.tolist(), names(200)), stats.describe(figures)
    assert found.mean == pytest.approx(reference.mean, abs=1e-4)
    assert found.sd == pytest.approx(reference.variance**0.5, abs=1e-4)


def test_sigma_by_the_moving_range_is_that_of_the_normal_distribution() -> None:
    """The mean range of two is 2 / sqrt(pi) sigma: scipy's folded normal says the same 1.128."""
    assert stats.halfnorm.mean(scale=2**0.5) == pytest.approx(1.128, abs=5e-4)


def test_a_sign_names_its_batch_and_says_what_it_means() -> None:
    figures = [0.1, -0.1] * 12 + [9.0]
    found = statistics(figures, names(25))
    rules = {sign.rule for sign in found.signals}
    assert {"beyond the limits", "a jump"} <= rules
    for sign in found.signals:
        assert sign.means == MEANING[sign.rule] and len(sign.means) > 20


def test_the_moving_average_stands_beside_every_figure() -> None:
    """Started at the mean, lambda 0.3: each is 0.3 of the figure and 0.7 of the one before."""
    found = statistics([1.0, 2.0, 6.0], names(3))
    assert found.averages == pytest.approx((2.4, 2.28, 3.396))


def test_every_point_counts_and_what_has_no_figure_is_kept_with_its_reason() -> None:
    points = [
        Point(batch=n, at="2026", figure=f, formula="x", revision=1)
        for n, f in zip(names(3), ("1", "2", "900"), strict=True)
    ]
    made = series("salt", "%", points, [LeftOut("b-9", "2026", "at least 3 %")])
    assert (made.statistics.n, made.statistics.mean) == (3, 301.0)
    assert made.left_out[0].reason == "at least 3 %"


def test_one_figure_has_no_limits() -> None:
    found = statistics([1.0], names(1))
    assert (found.n, found.center, found.lcl, found.averages) == (1, None, None, ())


def spreading(center: float, sigma: float) -> list[float]:
    """Figures whose mean and sigma by the moving range are these."""
    half = sigma * 1.128 / 2
    return [center + half, center - half] * 20


def test_the_ratios_are_those_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 6.1.6 (from memory): limits 8 and 20, mean 16, s = 2 make Cp 1.0
    and Cpk 0.6667."""
    found = against(BandPercent("b-1", 8, 20), statistics(spreading(16, 2), names(40)))
    assert (found.cp, found.cpk) == (pytest.approx(1.0, abs=0.005), pytest.approx(0.67, abs=0.005))
    assert found.text == "the spread fits the band and lies to one side of it: look at the aim"


@pytest.mark.parametrize(
    ("center", "sigma", "says"),
    [
        (0, 2.01, "wider than the band"),
        (0, 1.99, "with little to spare"),
        (0, 1.4, "the spread fits the band"),
        (4, 1.0, "to one side"),
        (4.0, 0.5, "the spread fits the band"),
    ],
)
def test_the_spread_in_its_band_is_said_in_words(center: float, sigma: float, says: str) -> None:
    found = against(BandPercent("b-1", -6, 6), statistics(spreading(center, sigma), names(40)))
    assert says in found.text


def test_a_line_off_the_middle_is_judged_by_the_nearer_end() -> None:
    low = against(BandPercent("b-1", -6, 6), statistics(spreading(-4, 1), names(40)))
    high = against(BandPercent("b-1", -6, 6), statistics(spreading(4, 1), names(40)))
    assert low.cpk == high.cpk == pytest.approx(0.67, abs=0.005)


def test_figures_all_the_same_have_no_ratio() -> None:
    found = against(BandPercent("b-1", -2, 2), statistics([0.1] * 5, names(5)))
    assert (found.cp, found.cpk) == (None, None) and "nothing to hold" in found.text


@pytest.mark.parametrize(
    ("cpk", "says"),
    [(0.99, "to one side"), (1.0, "little to spare"), (1.32, "little to spare"), (1.34, "fits")],
)
def test_where_little_to_spare_begins_and_ends(cpk: float, says: str) -> None:
    """1.33, a spread of three quarters of the band, is common practice."""
    sigma = 1.0
    center = 9 - 3 * sigma * cpk
    found = against(BandPercent("b-1", -9, 9), statistics(spreading(center, sigma), names(40)))
    assert found.cpk == pytest.approx(cpk, abs=0.005)
    assert says in found.text and ("spare" in found.text) == ("spare" in says)


def test_ratios_are_told_to_a_hundredth() -> None:
    found = against(BandPercent("b-1", -1, 1), statistics(spreading(0.1, 0.3), names(40)))
    assert (found.cp, found.cpk) == (1.11, 1.0)


def test_a_line_without_a_target_has_no_band() -> None:
    row = row_of(salted_and_more(), "salt")
    for change in ({"target_g": None}, {"target_g": "0"}, {"lower_g": None}, {"upper_g": None}):
        assert band_percent("b-1", structs.replace(row, **change)) is None


def test_a_band_in_grams_is_told_in_percent_of_the_target() -> None:
    row = structs.replace(
        row_of(salted_and_more(), "salt"), target_g="3", lower_g="2.9", upper_g="3.2"
    )
    assert band_percent("b-1", row) == BandPercent("b-1", -3.3333, 6.6667)


def test_the_band_of_a_line_is_that_of_its_sheet_in_percent() -> None:
    """Salt: -2 % and +2 %, the bands file's; premix -4 % and +2 %."""
    sheet = salted_and_more()
    assert band_percent("b-1", row_of(sheet, "salt")) == BandPercent("b-1", -2, 2)
    assert band_percent("b-1", row_of(sheet, "premix")) == BandPercent("b-1", -4, 2)


def test_the_small_chart_has_a_column_a_figure_and_its_levels_named() -> None:
    levels = [("limit", 4.0), ("limit", -4.0), ("mean", 0.0)]
    lines = text_chart([(0.0, False), (4.0, True), (-2.0, False)], levels, 80).split("\n")
    assert len(lines) == ROWS
    assert lines[0] == "-#- limit 4.00" and lines[4] == "*-- mean 0.00"
    assert lines[6] == "  *" and lines[8] == "--- limit -4.00"


def test_the_small_chart_has_the_latest_that_have_room() -> None:
    figures = [(float(n), False) for n in range(100)]
    lines = text_chart(figures, [("mean", 90.0)], 40).split("\n")
    assert {len(line.partition(" mean")[0]) for line in lines} <= set(range(25))
    assert lines[0].endswith("*") and sum(line.count("*") for line in lines) == 24
