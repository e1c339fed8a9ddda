"""Meats of different fat to one fat: balances worked by hand, and every blend there can be."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.formula.blend import (
    OutOfReachError,
    Stock,
    as_the_formula,
    cheapest,
    fat_of,
    in_percent,
    price_of,
)


def stock(name: str, share: str, fat: str, price: str | None = None) -> Stock:
    priced = None if price is None else Fraction(price)
    return Stock(name, Fraction(share), Fraction(fat), priced)


SHOULDER = stock("shoulder", "0.6", "0.1799", "5")
BELLY = stock("belly", "0.4", "0.5301", "4")
"""Fat of raw pork: USDA SR24, 10070 and 10005."""


def test_two_meats_are_balanced_by_the_distances_to_the_fat_that_is_wanted() -> None:
    """The square for 25 % (common practice): 53.01 - 25 parts of the one, 25 - 17.99 of the other;
    computed by hand, 2801 and 701 of 3502."""
    found = as_the_formula([SHOULDER, BELLY], Fraction("0.25"))
    assert found == {"shoulder": Fraction(2801, 3502), "belly": Fraction(701, 3502)}
    assert cheapest([SHOULDER, BELLY], Fraction("0.25")) == found
    assert price_of([SHOULDER, BELLY], found) == 5 - Fraction(701, 3502)


def test_the_formulas_own_fat_gives_the_formulas_own_shares() -> None:
    meats = [SHOULDER, BELLY, stock("trim", "0", "0.657")]
    meats[0] = meats[0]._replace(share=Fraction("0.5"))
    meats[2] = meats[2]._replace(share=Fraction("0.1"))
    own = {meat.name: meat.share for meat in meats}
    assert as_the_formula(meats, fat_of(meats, own)) == own


def test_a_meat_of_just_that_fat_keeps_its_share() -> None:
    meats = [
        stock("lean", "0.25", "0.1"), stock("even", "0.5", "0.3"), stock("rich", "0.25", "0.7")
    ]  # fmt: skip
    found = as_the_formula(meats, Fraction("0.3"))
    assert found == {"lean": Fraction(1, 3), "even": Fraction(1, 2), "rich": Fraction(1, 6)}
    assert list(found) == ["lean", "even", "rich"]


@pytest.mark.parametrize("make", [as_the_formula, cheapest])
def test_the_leanest_and_the_fattest_can_be_made_and_nothing_beyond(make) -> None:  # type: ignore[no-untyped-def]
    meats = [SHOULDER, BELLY]
    assert make(meats, Fraction("0.1799")) == {"shoulder": 1, "belly": 0}
    assert make(meats, Fraction("0.5301")) == {"shoulder": 0, "belly": 1}
    for fat in ("0.1798", "0.5302"):
        with pytest.raises(OutOfReachError) as out:
            make(meats, Fraction(fat))
        assert (out.value.low, out.value.high) == (Fraction("0.1799"), Fraction("0.5301"))


def test_a_meat_without_a_price_makes_nothing_cheapest() -> None:
    with pytest.raises(ValueError, match="no price of dear"):
        cheapest([SHOULDER, stock("dear", "0.4", "0.5")], Fraction("0.25"))


def test_of_blends_as_cheap_the_meats_named_first_are_taken() -> None:
    meats = [SHOULDER, stock("loin", "0", "0.1799", "5"), BELLY]
    assert cheapest(meats, Fraction("0.25"))["loin"] == 0


hundredths = st.integers(0, 100).map(lambda n: Fraction(n, 100))
MEATS = st.lists(
    st.tuples(hundredths, st.integers(1, 9), st.integers(0, 20)), min_size=2, max_size=4
).map(
    lambda rows: [
        Stock(f"meat {n}", Fraction(part, sum(row[1] for row in rows)), fat, Fraction(price))
        for n, (fat, part, price) in enumerate(rows)
    ]
)


@given(MEATS, hundredths)
def test_every_blend_is_all_of_it_and_has_the_fat_and_none_costs_less(
    meats: list[Stock], between: Fraction
) -> None:
    low, high = min(m.fat for m in meats), max(m.fat for m in meats)
    fat = low + between * (high - low)
    kept, least = as_the_formula(meats, fat), cheapest(meats, fat)
    for found in (kept, least):
        assert sum(found.values()) == 1
        assert min(found.values()) >= 0
        assert fat_of(meats, found) == fat
        assert sum(in_percent(found).values()) == 100
    assert price_of(meats, least) <= price_of(meats, kept)
