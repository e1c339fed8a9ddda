"""What of a row of figures is a sign, by which rule, and told once."""

import pytest

from station.audit.control import Chart, _beyond, _jumps, chart, signals


def rules(figures: list[float]) -> list[tuple[int, str]]:
    return [(signal.at, signal.rule) for signal in signals(figures)]


def swings(*ends: float) -> list[float]:
    """Figures about 0 that swing by 1, sigma 2 / 1.128, and then `ends`."""
    return [1.0, -1.0] * 20 + list(ends)


def test_no_figure_and_one_figure_make_no_limits() -> None:
    assert (chart([]).n, chart([]).mean) == (0, None)
    one = chart([0.5])
    assert (one.n, one.mean, one.sd, one.upper) == (1, 0.5, None, None)
    assert signals([]) == signals([0.5]) == []


def test_two_figures_make_limits() -> None:
    assert chart([0.0, 1.0]).upper == pytest.approx(0.5 + 3 / 1.128)


def test_figures_that_are_all_the_same_are_no_sign() -> None:
    """Their mean may be off by the last bit of a float, and the limits are on it."""
    assert signals([0.1] * 3) == signals([0.7] * 11) == []


def test_an_outlier_is_a_sign_and_counts_in_the_limits() -> None:
    figures = swings(30.0)
    assert (40, "beyond the limits") in rules(figures)
    assert (40, "a jump") in rules(figures)
    assert chart(figures).n == 41
    assert chart(figures).mean == pytest.approx(30 / 41)


def test_what_is_below_the_limits_is_a_sign_too() -> None:
    told = [signal.text for signal in signals(swings(-30.0)) if signal.rule == "beyond the limits"]
    (text,) = told
    assert text.startswith("-30.00 is below -")


LIMITS = Chart(9, 0.0, 1.0, 0.5, 0.5, -1.0, 1.0, 2.0)
"""Limits at exact figures, that no data make."""


def test_a_limit_itself_is_no_sign_and_a_little_more_is() -> None:
    assert list(_beyond([1.0, -1.0], LIMITS)) == []
    assert [signal.at for signal in _beyond([1.01, -1.01], LIMITS)] == [0, 1]


def test_a_jump_as_large_as_the_limit_is_no_sign_and_a_little_more_is() -> None:
    assert list(_jumps([1.0, -1.0], LIMITS)) == []
    assert [signal.at for signal in _jumps([1.0, -1.01, 1.0], LIMITS)] == [1, 2]


def test_eight_on_one_side_are_a_run_and_seven_are_none() -> None:
    quiet = [0.1, -0.1] * 30
    assert not any(rule == "a run" for _, rule in rules([*quiet, *[0.02] * 7]))
    figures = [*quiet, *[0.02] * 8]
    assert (67, "a run") in rules(figures)
    (told,) = [signal.text for signal in signals(figures) if signal.rule == "a run"]
    assert told == "8 in a row above the center"


def test_a_long_run_is_told_once_and_with_its_length() -> None:
    figures = [*[0.1, -0.1] * 30, *[0.1], *[-0.02] * 12]
    told = [signal.text for signal in signals(figures) if signal.rule == "a run"]
    assert told == ["12 in a row below the center"]


def test_two_of_three_far_out_on_one_side_are_a_sign_and_one_is_none() -> None:
    sigma = 2 / 1.128
    far = 2.4 * sigma
    name = "two of three far out"
    assert not any(rule == name for _, rule in rules(swings(far, 0, 0, far)))
    assert (42, name) in rules(swings(far, 0, far))
    assert not any(rule == name for _, rule in rules(swings(far, 0, -far)))


def test_a_slow_drift_is_told_by_the_moving_average_once() -> None:
    """No figure is beyond the limits of a single one."""
    figures = swings(*[4.0] * 12)
    told = [at for at, rule in rules(figures) if rule == "a drift"]
    assert len(told) == 1
    assert not any(rule == "beyond the limits" for _, rule in rules(figures))
