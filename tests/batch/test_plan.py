"""On which scale, in which vessel and in how many loads a line is weighed, and its limits there."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace as with_fields

from station.batch.lawful import hard_limit, least_g
from station.batch.line import Line, Lot, MeatLine
from station.batch.plan import choice_for, free_vessels, limits_on, meat_plan, mix_g, onto
from station.batch.state import Station, Vessel
from station.formula.model import Amount, Band
from station.metrology.scale import Scale
from tests.batch.built import (
    BENCH,
    FINE,
    PREMIX,
    addition,
    batch,
    line,
    load,
    meat_load,
    row,
    station,
    tare,
)

CUPS = {
    name: Vessel(name, Decimal(grams), Decimal("0.05"))
    for name, grams in (("cup 2", "98"), ("cup 1", "80"), ("tub", "1200"))
}
SALT = addition("salt", "18", "salt", {"salt": Decimal(1)})
ICE = addition("ice", "100", "water", {}, onto=True)
ROW, REQUIRED = row(), row("0.00012", "required")
LARGE = Scale("large", Decimal(30_000), Decimal(5), "III", "g", "continuous")


def free(*lines: Line, parked: Line | None = None, **fields: object) -> list[str]:
    known = station(batch(*lines, **fields), vessels=CUPS)  # type: ignore[arg-type]
    if parked is not None:
        known = replace(known, parked={"b-2": batch(parked)})
    return [vessel.name for vessel in free_vessels(known)]


def test_vessels_that_hold_nothing_are_free_the_lightest_first() -> None:
    assert free(line()) == ["cup 1", "cup 2", "tub"]


def test_a_vessel_that_stands_is_weighed_or_was_counted_is_not_free() -> None:
    assert free(line(None, load("20"))) == ["cup 2", "tub"]
    assert free(line(None, load("20", tipped=True))) == ["cup 1", "cup 2", "tub"]
    assert free(line(tare=tare(vessel="cup 2"))) == ["cup 1", "tub"]
    assert free(line(), counted={"tub": Decimal(13_200)}) == ["cup 1", "cup 2"]
    both = line(None, load("20"), tare=tare(vessel="cup 2"))
    assert free(both, counted={"tub": Decimal(13_200)}) == []


def test_a_cup_that_stands_in_a_parked_batch_is_not_free() -> None:
    assert free(line(), parked=line(None, load("20"))) == ["cup 2", "tub"]


# the limits of a line


def test_the_limits_of_a_line_hang_on_its_loads_the_law_and_what_is_required() -> None:
    made = batch(line(), rows=[ROW], required=[REQUIRED])
    one, two = limits_on(made, "premix", FINE, 1), limits_on(made, "premix", FINE, 2)
    assert (one.target, one.lower, one.upper) == (20, Fraction("19.2"), Fraction("20.4"))
    assert (one.expanded, two.expanded) == (Decimal("0.041"), Decimal("0.057983"))
    assert one.hard == hard_limit(made, "premix", [FINE.division_g])
    assert two.hard == hard_limit(made, "premix", [FINE.division_g] * 2)
    assert least_g(made, "premix", [FINE.division_g]) == Fraction("19.24414880")
    assert one.accept_lower == Decimal("19.25")  # 19.244 up; TL + U is 19.241
    assert one.accept_upper == Decimal("20.35")  # TU - U = 20.359 down; H is 23.9


def test_what_is_required_narrows_the_limits_by_itself() -> None:
    more = row("0.000122", "required")
    found = limits_on(batch(line(), required=[more]), "premix", FINE, 1)
    assert found.accept_lower == Decimal("19.60")  # 0.000122 x 10001.64 / 6.25 % + U = 19.564


def test_a_load_that_was_weighed_counts_with_its_own_division() -> None:
    first = line(None, load("10", division="2"))
    found = limits_on(batch(first), "premix", FINE, 1)
    assert found.expanded == Decimal("1.640513")  # 0.82 x sqrt(2^2 + 0.05^2) = 1.6405124: up
    assert found.target == 20  # the limits are those of the sum


def test_a_stronger_bag_makes_the_target_of_the_sum_smaller() -> None:
    """4 g of twice the strength stand for 8 g: the sum that is meant is 16 g."""
    twice = {"P-2": Lot("P-2", {"sodium nitrite": Decimal("0.125"), "salt": Decimal("0.875")})}
    mixed = line(None, load("4", lot="P-2"), lots=twice)
    assert limits_on(batch(mixed), "premix", FINE, 1).target == 16


# the scale


def chosen(known: Station, name: str = "premix") -> tuple[str, int] | None:
    found = choice_for(known, name)
    return None if found is None else (found.scale.name, found.loads)


def test_the_vessel_that_was_named_takes_its_room_else_the_lightest_free_one() -> None:
    """530 g of salt: beside 80 g it has no room on a plate of 600 g; beside nothing it has."""
    heavy = addition("salt", "53", "salt", {"salt": Decimal(1)})
    assert chosen(station(batch(line(heavy)), vessels=CUPS), "salt") == ("bench", 1)
    assert chosen(station(batch(line(heavy))), "salt") == ("fine", 1)
    less = addition("salt", "51", "salt", {"salt": Decimal(1)})
    assert chosen(station(batch(line(less)), vessels=CUPS), "salt") == ("fine", 1)
    named = station(batch(line(less, used="cup 2")), vessels=CUPS)
    assert chosen(named, "salt") == ("bench", 1)


@pytest.mark.parametrize(("per_kg", "loads"), [("60", 1), ("60.05", 2)])
def test_where_no_vessel_is_on_record_the_whole_plate_is_room(per_kg: str, loads: int) -> None:
    heavy = addition("salt", per_kg, "salt", {"salt": Decimal(1)})
    assert chosen(station(batch(line(heavy), scales=(FINE,))), "salt") == ("fine", loads)


def test_what_was_weighed_already_is_not_weighed_again() -> None:
    """600 g, of which 100 g stand: 500 g are left beside 80 g, and fit on 600 g."""
    heavy = addition("salt", "60", "salt", {"salt": Decimal(1)})
    part = line(heavy, load("100", vessel="cup 2"))
    assert chosen(station(batch(part), vessels=CUPS), "salt") == ("fine", 1)
    over = line(heavy, load("700", vessel="cup 2"))
    found = choice_for(station(batch(over), vessels=CUPS), "salt")
    assert found is not None
    assert (found.loads, found.unfit) == (1, "0.00 g is under its Min of 1.00 g")


def test_a_scale_that_is_not_to_be_had_is_not_named() -> None:
    known = station(batch(line()))
    assert chosen(known) == ("fine", 1)
    found = choice_for(known, "premix", without=["fine"])
    assert found is not None and found.scale is BENCH and found.unfit is not None
    assert choice_for(known, "premix", without=["fine", "bench"]) is None


def test_a_weighing_under_way_stays_on_its_scale_with_its_vessel() -> None:
    """530 g: more than 520 g beside the cup of record, however light the tare was read."""
    heavy = addition("salt", "53", "salt", {"salt": Decimal(1)})
    begun = line(heavy, tare=tare("60"))
    assert chosen(station(batch(begun), vessels=CUPS), "salt") == ("fine", 2)
    nameless = line(heavy, tare=tare("60", vessel=None))
    assert chosen(station(batch(nameless), vessels=CUPS), "salt") == ("fine", 1)
    onto_mix = line(heavy, tare=tare("60", onto=True))
    assert chosen(station(batch(onto_mix), vessels=CUPS), "salt") == ("fine", 1)
    on_bench = line(heavy, tare=replace(tare("60"), scale="bench"))
    assert chosen(station(batch(on_bench), vessels=CUPS), "salt") == ("bench", 1)


# onto the mix's own vessel


def with_ice(meat: str, *others: Line, **fields: object) -> Station:
    """Ice at 100 g/kg, poured onto the mix in a tub of 1200 g."""
    return station(batch(line(ICE), *others, meat=(meat,), **fields))  # type: ignore[arg-type]


def test_the_mix_is_the_meat_and_what_was_tipped() -> None:
    made = batch(
        line(None, load("20", tipped=True), load("7")),
        line(SALT, load("180", residue="2", tipped=True)),
    )
    assert mix_g(made) == 10_198


@pytest.mark.parametrize(("meat", "bears"), [("12500", True), ("12545", True), ("12546", False)])
def test_a_line_goes_onto_the_mix_while_a_plate_bears_vessel_mix_and_target(
    meat: str, bears: bool
) -> None:
    """1200 + M + M / 10 up to 15 000 g: M up to 12 545.4 g."""
    assert onto(with_ice(meat), "ice") is bears


def test_the_mix_is_borne_up_to_exactly_max() -> None:
    tub = {"pork": MeatLine("pork", Decimal(1), (meat_load("12000", tare="1800"),), ended=True)}
    assert onto(station(batch(line(ICE), meats=tub)), "ice")  # 1800 + 12 000 + 1200 = 15 000
    small = Scale("small", Decimal(1350), Decimal("0.5"), "II", "g", "continuous")
    scales = (small, BENCH)  # aside it would be the small one
    assert chosen(station(batch(line(ICE), meats=tub, scales=scales)), "ice") == ("bench", 1)
    more = {"pork": MeatLine("pork", Decimal(1), (meat_load("12000", tare="1801"),), ended=True)}
    assert not onto(station(batch(line(ICE), meats=more)), "ice")


def test_the_heaviest_tub_of_the_meat_is_the_vessel_of_the_mix() -> None:
    loads = (meat_load("6000", tare="1000"), meat_load("6000", tare="1801"))
    tubs = {"pork": MeatLine("pork", Decimal(1), loads, ended=True)}
    assert not onto(station(batch(line(ICE), meats=tubs)), "ice")


@pytest.mark.parametrize(("grams", "bears"), [("15000", True), ("15000.5", False)])
def test_a_mix_without_a_tub_weighs_what_is_in_it(grams: str, bears: bool) -> None:
    fixed = replace(
        line(ICE), addition=with_fields(ICE, amount=Amount("fixed", "fixed", Decimal(grams)))
    )
    assert onto(station(batch(fixed, meat=())), "ice") is bears


def test_a_line_that_does_not_ask_for_it_is_weighed_aside() -> None:
    assert not onto(station(batch(line())), "premix")


def test_a_weighing_under_way_stays_where_it_was_begun() -> None:
    assert onto(station(batch(line(ICE, tare=tare("60", onto=True)), meat=("14000",))), "ice")
    assert not onto(station(batch(line(ICE, tare=tare("60")), meat=("1000",))), "ice")


def test_onto_the_mix_the_finest_plate_that_bears_it_all_is_named() -> None:
    """1200 + 12 000 + 1200 g are borne by 15 kg; 12 600 g of meat only by 30 kg."""
    scales = (FINE, LARGE, BENCH)
    assert chosen(with_ice("12000", scales=scales), "ice") == ("bench", 1)
    assert chosen(with_ice("12600", scales=scales), "ice") == ("large", 1)


def test_what_no_plate_bears_with_the_mix_is_weighed_aside_after_all() -> None:
    """1300 g of ice beside nothing go onto 15 kg at once."""
    assert chosen(with_ice("13000"), "ice") == ("bench", 1)


def test_aside_after_all_the_vessel_is_a_free_one() -> None:
    small = Scale("small", Decimal(1350), Decimal("0.5"), "II", "g", "continuous")
    known = replace(with_ice("13000", scales=(small, BENCH)), vessels=CUPS)
    assert chosen(known, "ice") == ("bench", 1)  # 1300 g beside a cup of 80 g
    assert chosen(with_ice("13000", scales=(small, BENCH)), "ice") == ("small", 1)


# meat


def planned(
    plan: str = "10000", tub: str | None = "tub", scales: tuple[Scale, ...] = (FINE, LARGE, BENCH)
) -> tuple[str, Fraction, Fraction, Fraction] | None:
    meats = {"pork": MeatLine("pork", Decimal("0.6"), tub=tub)}
    known = station(batch(line(), meats=meats, plan=plan, scales=scales), vessels=CUPS)
    found = meat_plan(known, "pork")
    return None if found is None else (found.scale.name, found.target, found.lower, found.upper)


def test_a_meat_line_is_its_share_of_the_plan_and_its_band_points_of_the_block() -> None:
    """60 % of 10 kg; 3 points of 10 kg on both sides."""
    assert planned() == ("bench", 6000, 5700, 6300)


def test_the_band_of_a_meat_line_does_not_reach_under_nothing() -> None:
    meats = {"pork": MeatLine("pork", Decimal("0.02"))}
    found = meat_plan(station(batch(line(), meats=meats)), "pork")
    assert found is not None and (found.lower, found.upper) == (0, 500)


def test_a_side_without_a_band_is_the_target_itself() -> None:
    meats = {"pork": MeatLine("pork", Decimal("0.6"))}
    for band, lower, upper in (
        (Band(upper=Decimal("0.03")), 6000, 6300),
        (Band(lower=Decimal("0.03")), 5700, 6000),
    ):
        found = meat_plan(station(batch(line(), meats=meats, bands={"meat": band})), "pork")
        assert found is not None and (found.lower, found.upper) == (lower, upper)


@pytest.mark.parametrize(
    ("plan", "tub", "named"),
    [
        ("23000", "tub", "bench"),  # 13 800 g and the tub: exactly Max
        ("23001", "tub", "large"),
        ("25000", None, "bench"),  # 15 000 g in no vessel of record
        ("25001", None, "large"),
        ("60000", "tub", "large"),  # more than any bears: the largest
        ("866", "cup 1", "fine"),
        ("867", "cup 1", "bench"),
    ],
)
def test_meat_goes_on_the_finest_scale_that_takes_the_plan_in_one_load(
    plan: str, tub: str | None, named: str
) -> None:
    found = planned(plan, tub)
    assert found is not None and found[0] == named


@pytest.mark.parametrize(("plan", "named"), [("66.7", "bench"), ("66.6", "large")])
def test_meat_under_min_goes_on_no_scale_but_the_largest(plan: str, named: str) -> None:
    """60 % of it; Min of the bench scale is 20 e = 40 g (OIML R 76-1:2006, table 3)."""
    found = planned(plan, None, (BENCH, LARGE))
    assert found is not None and found[0] == named


def test_meat_of_exactly_min_is_weighed_there() -> None:
    """A share of 60 % of 200 g is 120 g; LARGE has a Min of 100 g, this one of 120 g."""
    exact = Scale("exact", Decimal(3000), Decimal(6), "III", "g", "continuous")
    assert exact.min_g == 120
    wide = Scale("wide", Decimal(60_000), Decimal(10), "III", "g", "continuous")
    found = planned("200", None, (exact, wide))
    assert found is not None and found[0] == "exact"


def test_without_a_scale_meat_has_no_plan() -> None:
    assert planned(scales=()) is None


def test_the_law_asks_the_bag_in_use_and_not_the_formula() -> None:
    made = line(addition(contains={}), lot=Lot("P-1", PREMIX))
    assert limits_on(batch(made, rows=[ROW]), "premix", FINE, 1).hard is not None
