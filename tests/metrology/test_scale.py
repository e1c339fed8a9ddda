"""Min by accuracy class, and how near two readings are one weight."""

from decimal import Decimal

import pytest

from station.metrology.scale import Scale, ScaleClass


def scale(division: str, accuracy: ScaleClass) -> Scale:
    return Scale("s", Decimal(15_000), Decimal(division), accuracy, "g", "continuous")


@pytest.mark.parametrize(
    ("accuracy", "division", "least"),
    [
        ("I", "0.001", "0.100"),  # 100 e
        ("II", "0.001", "0.020"),  # 20 e up to e = 0.05 g
        ("II", "0.05", "1.00"),
        ("II", "0.1", "5.0"),  # 50 e from e = 0.1 g
        ("III", "0.1", "2.0"),  # 20 e
        ("III", "5", "100"),
        ("IIII", "5", "50"),  # 10 e
    ],
)
def test_min_is_so_many_divisions_by_the_class(
    accuracy: ScaleClass, division: str, least: str
) -> None:
    """OIML R 76-1:2006, table 3, column Min (seen in transcription)."""
    assert scale(division, accuracy).min_g == Decimal(least)


def test_between_its_two_rows_class_ii_takes_the_larger_min() -> None:
    """The table has no e between 0.05 g and 0.1 g; the station stays on the safe side."""
    assert scale("0.06", "II").min_g == 50 * Decimal("0.06")


def test_readings_within_three_divisions_are_near() -> None:
    """3 d is the station's own figure, not a published one."""
    assert scale("0.05", "II").near_g == Decimal("0.15")
    assert scale("2", "III").near_g == Decimal(6)
