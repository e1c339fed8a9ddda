"""What a reading's gross weight is, whatever the frame carries beside the value."""

from decimal import Decimal

import pytest

from drivers.reading import Condition, Kind, Reading


@pytest.mark.parametrize(
    ("kind", "tare", "gross"),
    [
        (Kind.GROSS, None, "3.500"),
        (Kind.GROSS, "0.000", "3.500"),
        (Kind.GROSS, "1.200", "3.500"),  # it is in the gross already
        (Kind.NET, "1.200", "4.700"),
        (Kind.NET, "0.000", "3.500"),
        (Kind.NET, None, None),  # tared by nobody knows how much
        (Kind.TARE, None, None),
        (Kind.TARE, "1.200", None),
    ],
)
def test_a_tare_counts_only_beside_a_net_weight(
    kind: Kind, tare: str | None, gross: str | None
) -> None:
    beside = None if tare is None else Decimal(tare)
    found = Reading(Decimal("3.500"), "kg", kind, True, Condition.OK, 0.0, b"", beside).gross
    assert (None if found is None else str(found)) == gross


def test_a_weight_the_scale_gives_no_number_for_has_no_gross() -> None:
    for kind in Kind:
        bad = Reading(None, "kg", kind, True, Condition.OVERLOAD, 0.0, b"", Decimal("1.200"))
        assert bad.gross is None
