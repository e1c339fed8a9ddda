"""What several batches need together, and which lot is taken first."""

from decimal import Decimal
from fractions import Fraction

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from station.formula.model import Amount, Formula
from station.formula.needs import Batches, Lot, counted_of, expired, needs_of, taken
from station.formula.scaling import mix_of
from station.formula.sheet import parse_formula
from station.resources import packaged

TODAY = "2026-11-27"


def formula(name: str) -> Formula:
    return parse_formula((packaged() / "formulas" / f"{name}.toml").read_text(), name)


RING, LINK = formula("garlic-ring"), formula("herb-link")
WEEK = [Batches(RING, Fraction(40_000)), Batches(LINK, Fraction(25_000))]


def test_a_line_of_one_name_is_added_up_over_the_formulas() -> None:
    """By hand: 60 % of 40 kg and all of 25 kg; salt 1.8 % of 40 kg and 1.7 % of 25 kg."""
    found = {need.line: need for need in needs_of(WEEK)}
    assert found["pork shoulder"].need_g == 49_000
    assert found["salt"].need_g == 720 + 425
    assert found["curing premix"].need_g == 80
    assert found["salt"].formulas == [RING.name, LINK.name]
    assert found["curing premix"].formulas == [RING.name]


def test_what_is_needed_adds_up_to_the_mixes() -> None:
    whole = sum(mix_of(each.formula, each.meat_g) for each in WEEK)
    assert sum(need.need_g for need in needs_of(WEEK)) == whole


def test_one_name_for_different_goods_is_seen() -> None:
    weaker = msgspec.structs.replace(
        RING,
        additions=tuple(
            msgspec.structs.replace(a, contains={"sodium nitrite": Decimal("0.006")})
            if a.name == "curing premix"
            else a
            for a in RING.additions
        ),
    )
    both = [Batches(RING, Fraction(1000)), Batches(weaker, Fraction(1000))]
    found = {need.line: need.alike for need in needs_of(both)}
    assert found.pop("curing premix") is False and all(found.values())
    assert all(need.alike for need in needs_of(WEEK))


def test_what_is_counted_is_told_in_pieces_and_never_in_grams() -> None:
    pepper = next(a for a in RING.additions if a.name == "black pepper")
    leaf = msgspec.structs.replace(
        pepper, name="bay leaf", amount=Amount("2 / kg", "count", Decimal(2), Decimal(1000))
    )
    ring = msgspec.structs.replace(RING, additions=(*RING.additions, leaf))
    both = [Batches(ring, Fraction(1000)), Batches(ring, Fraction(500))]
    assert counted_of(both) == {"bay leaf": 3}
    assert "bay leaf" not in {need.line for need in needs_of(both)}


def test_what_expires_first_is_taken_first_and_what_has_no_date_last() -> None:
    lots = [
        Lot("no date", Fraction(50), None),
        Lot("later", Fraction(30), "2027-01-01"),
        Lot("sooner", Fraction(20), "2026-12-01"),
        Lot("empty", Fraction(0), "2026-11-30"),
        Lot("overdrawn", Fraction(-5), "2026-11-30"),
        Lot("past", Fraction(500), "2026-11-26"),
    ]
    takes, short = taken(Fraction(60), lots, TODAY)
    assert [(t.lot.lot, t.take_g) for t in takes] == [
        ("sooner", 20),
        ("later", 30),
        ("no date", 10),
    ]
    assert short == 0
    assert taken(Fraction(50), lots, TODAY)[0][-1].lot.lot == "later"
    assert taken(Fraction(101), lots, TODAY)[1] == 1
    assert taken(Fraction(2), [Lot("a gram", Fraction(1), None)], TODAY)[1] == 1


def test_a_lot_may_be_used_on_its_last_day() -> None:
    assert not expired(Lot("x", Fraction(1), TODAY), TODAY)
    assert expired(Lot("x", Fraction(1), "2026-11-26"), TODAY)
    assert not expired(Lot("x", Fraction(1), None), TODAY)


days = st.one_of(st.none(), st.dates().map(lambda day: day.isoformat()))
lots_there = st.lists(
    st.builds(Lot, st.text("AB12", min_size=1), st.integers(-5, 50).map(Fraction), days), max_size=6
)


@given(st.integers(1, 200).map(Fraction), lots_there)
def test_what_is_taken_and_what_is_short_are_what_is_needed(
    need_g: Fraction, lots: list[Lot]
) -> None:
    takes, short = taken(need_g, lots, TODAY)
    assert sum((take.take_g for take in takes), short) == need_g and short >= 0
    assert all(0 < take.take_g <= take.lot.left_g for take in takes)
    good = sum((lot.left_g for lot in lots if lot.left_g > 0 and not expired(lot, TODAY)), 0)
    assert (short == 0) is (good >= need_g)
    assert all(take.take_g == take.lot.left_g for take in takes[:-1])
