"""Scales, uncertainty and decisions against published figures and scipy."""

from decimal import Decimal
from fractions import Fraction

import pytest
from scipy.stats import norm

from station.formula.model import Band
from station.metrology.band import limits
from station.metrology.fitness import why_unfit
from station.metrology.scale import Scale
from station.metrology.uncertainty import conformance, expanded

CURE = Band(Decimal("0.04"), Decimal("0.02"), guard="both")


def scale(division: str, accuracy: str = "II", most: str = "600") -> Scale:
    return Scale("s", Decimal(most), Decimal(division), accuracy, "g", "continuous")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("division", "accuracy", "least"),
    [("5", "III", "100"), ("0.1", "II", "5"), ("0.05", "II", "1")],
)
def test_min_by_class(division: str, accuracy: str, least: str) -> None:
    """OIML R 76-1:2006, table 3: III 20 e; II 20 e up to e = 0.05 g and 50 e from 0.1 g."""
    assert scale(division, accuracy, "15000").min_g == Decimal(least)


@pytest.mark.parametrize(
    ("y", "u", "lower", "upper", "chance"),
    [
        ("-5.47", "0.05", "-1000", "-5.40", 0.919),  # JCGM 106:2012 7.3.3, from memory, computed
        ("13.6", "1.8", "12.5", "16.3", 0.6626),  # JCGM 106:2012 7.4, from memory, computed
    ],
)
def test_conformance_probability(y: str, u: str, lower: str, upper: str, chance: float) -> None:
    found = conformance(Decimal(y), Decimal(lower), Decimal(upper), 2 * Decimal(u))
    assert found == pytest.approx(chance, abs=5e-4)
    reference = norm(float(y), float(u))
    assert found == pytest.approx(
        reference.cdf(float(upper)) - reference.cdf(float(lower)), abs=1e-12
    )


def test_the_guard_of_a_scale_of_one_gram_leaves_less_than_a_division() -> None:
    """Computed: d = 1 g, 25 g +/-4 %, u = 0.41 d: acceptance 24.82 to 25.18, so it is refused."""
    band = Band(Decimal("0.04"), Decimal("0.04"), guard="both")
    found = limits(Fraction(25), band, expanded([Decimal(1)]), Decimal(1), None)
    assert found.span == Fraction("25.18") - Fraction("24.82")
    assert why_unfit(scale("1", "II"), found, found.target) is not None


@pytest.mark.parametrize(("target", "fit"), [("154", False), ("155", True)])
def test_a_cure_on_two_grams_is_fit_from_155_g(target: str, fit: bool) -> None:
    """Computed: (TU - TL) - 2 U = 0.06 T - 3.28 g must span 3 d = 6 g."""
    coarse = scale("2", "III", "15000")
    found = limits(Fraction(target), CURE, expanded([Decimal(2)]), Decimal(2), None)
    assert (why_unfit(coarse, found, found.target) is None) is fit


@pytest.mark.parametrize(
    ("division", "share", "least"),
    [("0.1", "0.01", "8.2"), ("0.1", "0.05", "1.64"), ("1", "0.01", "82"), ("1", "0.05", "16.4")],
)
def test_minimum_weight(division: str, share: str, least: str) -> None:
    """The form of USP <41>, m_min = k max(s, 0.41 d) / requirement (computed, k = 2)."""
    band = Band(Decimal(share), Decimal(share))
    step = Decimal(division)
    for target, fit in ((Fraction(least), True), (Fraction(least) - Fraction(1, 1000), False)):
        found = limits(target, band, Decimal(0), step, None)
        half = (found.upper - found.lower) / 2
        assert (half >= Fraction(expanded([step]))) is fit


def test_uncertainty_of_several_loads_goes_with_the_root() -> None:
    """EURAMET cg-18 v4.0: root sum of squares; 0.41 d a net weight, k = 2, rounded up."""
    assert expanded([Decimal("0.05")]) == Decimal("0.041")
    assert expanded([Decimal(2)] * 4) == Decimal("3.28")
    assert expanded([Decimal(2)] * 2) == Decimal("2.319311")
