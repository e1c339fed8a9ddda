"""U of net weights, rounded up, and the probability that a weight is inside its tolerance."""

from decimal import Decimal

import pytest

from station.metrology.uncertainty import conformance, expanded


@pytest.mark.parametrize(
    ("divisions", "U"),
    [
        ([], "0"),
        (["1"], "0.82"),  # k = 2 times 0.41 d; EURAMET cg-18 v4.0: sqrt(2/12) d = 0.408 d
        (["0.1"], "0.082"),
        (["1", "1"], "1.159656"),  # 0.82 x sqrt(2) = 1.1596551: up
        (["3", "4"], "4.1"),  # 0.82 x 5: the root of the sum of squares, not the sum of 5.74
        (["2", "2", "0.05"], "2.319673"),  # computed: 0.82 x sqrt(8.0025) = 2.3196724
    ],
)
def test_the_uncertainty_of_a_sum_is_the_root_of_its_squares_rounded_up(
    divisions: list[str], U: str
) -> None:
    assert expanded([Decimal(d) for d in divisions]) == Decimal(U)


def test_the_uncertainty_is_never_rounded_down() -> None:
    """0.82 x 0.0000013 g is 0.000001066 g: two micrograms, not one."""
    assert expanded([Decimal("0.0000013")]) == Decimal("0.000002")


def test_it_covers_the_rounding_of_both_readings() -> None:
    """EURAMET cg-18 v4.0, 7.4.1.5: u of two roundings is sqrt(2 d^2 / 12); 0.41 d is no less."""
    assert (expanded([Decimal(1)]) / 2) ** 2 >= Decimal(2) / 12


@pytest.mark.parametrize(
    ("net", "inside"), [("9.9", 0.0), ("10", 1.0), ("10.5", 1.0), ("11", 1.0), ("11.1", 0.0)]
)
def test_an_exact_weight_is_either_in_or_out_and_in_at_both_limits(net: str, inside: float) -> None:
    assert conformance(Decimal(net), Decimal(10), Decimal(11), Decimal(0)) == inside


@pytest.mark.parametrize(
    ("z", "chance"), [("0.84", 0.80), ("1.28", 0.90), ("1.64", 0.95), ("2.33", 0.99)]
)
def test_so_many_standard_uncertainties_from_one_limit_give_the_published_chance(
    z: str, chance: float
) -> None:
    """JCGM 106:2012, table 1 (from memory, computed). U = 2 u = 0.2 g, the other limit far off."""
    net = Decimal(50) - Decimal(z) / 10
    assert conformance(net, Decimal(0), Decimal(50), Decimal("0.2")) == pytest.approx(
        chance, abs=0.002
    )
    mirrored = Decimal(50) + Decimal(z) / 10
    assert conformance(mirrored, Decimal(50), Decimal(100), Decimal("0.2")) == pytest.approx(
        chance, abs=0.002
    )
