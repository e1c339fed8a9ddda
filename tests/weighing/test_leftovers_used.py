"""What is left of a batch and used as meat of the next: its salt, its cure, its allergens and its
age are counted there, and a product that has no place for them refuses it."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch import events as ev
from station.batch.amounts import salt, whole_g
from station.batch.evolve import evolve
from station.batch.lawful import hard_limit, least_g, most_g
from station.batch.leftovers import batch_of
from station.batch.line import MeatLine
from station.batch.state import Batch
from station.formula.limits import LimitRow
from station.metrology.uncertainty import expanded
from station.weighing import commands as do
from station.weighing.leftovers import may_be_in
from tests.benchside import Bench
from tests.formula.test_leftover import of, part
from tests.weighing.leftovers import (
    CUP_OF,
    CURED,
    LOT,
    PORK,
    REWORK,
    WHEAT,
    fill,
    kept,
    leftover,
    made,
    named,
    opens,
    refused,
    reworked,
    take,
)
from tests.weighing.test_clocks import passes
from tests.weighing.test_tallying import FORMULA

ADDED = {"salt": "216", "premix": "24", "pepper": "36", "garlic": "60"}


def test_a_leftover_of_the_same_formula_wants_no_more_of_anything() -> None:
    """1 kg of the mix beside 9 kg of meat: what is to be weighed is what 9 kg of meat takes, as
    near as the first batch was to its own targets."""
    bench = reworked()
    meat = bench.batch.meat_g
    assert meat == Decimal("9979.44")  # 12 000 of 12 251.80 g are meat
    for name, share in (("salt", "0.018"), ("pepper", "0.003")):
        clung = Fraction("0.10") / Fraction("12251.80") * 1000  # of what was weighed to its target
        assert abs(bench.batch.target(name) - 9000 * Fraction(share) - clung) < Fraction(1, 1000)


def test_masses_add_up_over_both_batches() -> None:
    bench = reworked()
    fill(bench)
    told = salt(bench.batch)
    assert told is not None
    assert abs(told.actual - told.planned) < Fraction(1, 100)
    assert whole_g(bench.batch) == Fraction(10000) + sum(
        Fraction(line.actual_g) for line in bench.batch.lines.values()
    )


def test_its_cure_counts_for_the_limit_by_the_most_that_it_may_hold() -> None:
    bench = reworked(CURED)
    (row,) = [row for row in bench.batch.rows if "sodium nitrite" in row.agents][:1]
    load, found = bench.batch.reworked[0]
    most = (Fraction(1000) + Fraction(expanded([load.division_g]))) * row.counted(found.most)
    assert most_g(bench.batch, row) == most > 0
    free = hard_limit(bench.batch, "premix", [Decimal("0.05")])
    assert free is not None
    allowed = Fraction(row.maximum) * (
        Fraction(bench.batch.meat_g) - Fraction(bench.batch.meat_expanded_g)
    )
    assert free == (allowed - most) / Fraction("0.0625") - Fraction(expanded([Decimal("0.05")]))


def test_the_least_that_a_rule_requires_is_less_by_what_it_surely_holds() -> None:
    bench = reworked(CURED)
    (row,) = bench.batch.rows[:1]
    with_rule = evolved(bench.batch, required=(row,))
    without = evolved(with_rule, reworked_off=True)
    load, found = bench.batch.reworked[0]
    sure = (Fraction(1000) - Fraction(expanded([load.division_g]))) * row.counted(found.least)
    one, other = (least_g(batch, "premix", []) for batch in (with_rule, without))
    assert one is not None and other is not None and sure > 0
    meat = Fraction(row.maximum) * (
        Fraction(with_rule.meat_g) + Fraction(with_rule.meat_expanded_g)
        - Fraction(without.meat_g) - Fraction(without.meat_expanded_g)
    )  # fmt: skip
    assert one - other == (meat - sure) / Fraction("0.0625")


def evolved(batch: Batch, reworked_off: bool = False, **changes: object) -> Batch:
    """The batch with other rules, or as if what was left of another had been meat."""
    if not reworked_off:
        return replace(batch, **changes)  # type: ignore[arg-type]
    meats: dict[str, MeatLine] = {
        name: replace(meat, lots={}) for name, meat in batch.meats.items()
    }
    return replace(batch, meats=meats)


def test_the_uncertainty_of_its_meat_is_in_that_of_the_block() -> None:
    bench = reworked()
    load, found = bench.batch.reworked[0]
    loads = [one.division_g for meat in bench.batch.meats.values() for one in meat.loads]
    doubted = load.net_g * (found.meat - found.meat_least)
    assert doubted > 0
    assert bench.batch.meat_expanded_g == expanded(loads) + doubted


def test_it_brings_never_less_than_nothing_to_be_weighed() -> None:
    bench = reworked()
    salty = of(part("salt", "0.9", "salt", salt="1"), part("pork", "0.1", "meat"))
    lots = {LOT: ev.MeatLotNamed(
        line="pork", lot=LOT, supplier=None, packed=None, use_by=None, who="", leftover=salty
    )}  # fmt: skip
    meats = {"pork": replace(bench.batch.meats["pork"], lots=lots)}
    batch = replace(bench.batch, meats=meats)
    assert batch.brought_g("salt") == 900
    assert batch.target("salt") == 0
    assert batch.meat_g == 9100


def test_a_formula_that_takes_none_refuses_it() -> None:
    bench = opens(kept(made()), FORMULA)
    assert refused(bench) == ("no-rework", "next takes nothing that is left of another batch")


def test_an_allergen_that_the_product_has_not_refuses_it() -> None:
    bench = opens(kept(made(WHEAT)), WHEAT + REWORK)
    bench.say(named())
    bench = kept(made(WHEAT))
    bench.station = replace(bench.station, soiled={})
    bench = opens(bench)
    assert refused(bench) == ("allergen", f"{LOT} brings wheat, and next has none")


def test_its_allergens_are_on_the_bench_once_it_is_weighed() -> None:
    bench = reworked(WHEAT)
    bench.station = evolve(bench.station, ev.WashedDown(allergens=("wheat",), who="Ansel"), "", "x")
    assert bench.station.soiled == {}
    again = bench.last(ev.MeatWeighed)
    bench.station = evolve(bench.station, again, bench.at, "261130-2")
    assert bench.station.soiled == {"wheat": "261130-2"}


def test_an_agent_that_no_rule_allows_in_the_product_refuses_it() -> None:
    bench = opens(kept(made(CURED)))  # a fresh sausage
    assert refused(bench) == (
        "not-allowed", f"{LOT} brings sodium nitrite, and no rule allows that in next"
    )  # fmt: skip


def test_meat_of_another_species_refuses_it() -> None:
    beef = FORMULA.replace(PORK, PORK + 'species = "beef"\n')
    bench = opens(kept(made(beef)), FORMULA.replace(PORK, PORK + 'species = "pork"\n') + REWORK)
    assert refused(bench) == ("species", f"{LOT} is of beef")
    bench = opens(kept(made()), FORMULA.replace(PORK, PORK + 'species = "pork"\n') + REWORK)
    assert refused(bench) == ("species", f"{LOT} is of a meat of unknown species")


def test_only_its_meat_has_a_species() -> None:
    pork = CURED.replace(PORK, PORK + 'species = "pork"\n')
    bench = opens(kept(made(pork)), pork + REWORK)
    assert leftover(bench).species == ("pork",)
    bench.say(named())


@pytest.mark.parametrize(("hours", "taken"), [(48, True), (48.001, False)])
def test_one_that_is_too_old_is_refused(hours: float, taken: bool) -> None:
    bench = opens(kept(made()))
    passes(bench, hours * 60)
    if taken:
        bench.say(named())
    else:
        assert refused(bench) == ("too-old", f"{LOT} is 48 h old, 48 h is the most")


def test_a_clock_that_was_set_back_makes_it_no_younger() -> None:
    bench = opens(kept(made()))
    passes(bench, 72 * 60)
    bench.say(do.Note("a day later"))
    passes(bench, 60)
    assert refused(bench)[0] == "too-old"


def test_one_that_was_never_kept_is_named_so() -> None:
    bench = opens(kept(made()))
    refusal = bench.refused(named(lot="261130-1-L7"))
    assert (refusal.code, refusal.next) == ("no-leftover", LOT)
    bench.say(named(lot="B-118-L1"))  # which is no name of a leftover


@pytest.mark.parametrize(
    ("lot", "batch"),
    [
        *(("261130-1-L1", "261130-1"), ("261130-12-L3", "261130-12"), ("P-41", None)),
        *(("261130-1", None), ("261130-1-L", None), ("2611-1-L1", None), ("261130--L1", None)),
        *(("2611301-1-L1", None),),
        *(("261130-1-Lx", None), ("2611301-L1", None)),
    ],
)
def test_a_lot_tells_the_batch_that_it_is_left_of(lot: str, batch: str | None) -> None:
    assert batch_of(lot) == batch


def test_no_more_goes_in_than_the_formula_lets_in() -> None:
    bench = opens(kept(made(), 2200))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "3202")
    refusal = bench.refused(do.Accept("pork"))
    assert refusal.code == "too-much-rework"
    assert refusal.sentence == "2002 g of leftovers is over 20 % of the meat, 2000 g"
    bench.show("bench", "3200")
    bench.say(do.Accept("pork"))


def test_without_a_plan_the_fresh_meat_comes_first() -> None:
    bench = opens(kept(made()), plan_g="0")
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2200")
    assert bench.refused(do.Accept("pork")).code == "too-much-rework"


@pytest.mark.parametrize(("more", "taken"), [(6, True), (8, False)])
def test_no_more_of_it_goes_in_than_was_kept(more: int, taken: bool) -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", str(2200 + more))
    if taken:
        bench.say(do.Accept("pork"))
    else:
        assert bench.refused(do.Accept("pork")).code == "too-much"


def test_one_that_is_used_up_is_refused() -> None:
    bench = reworked()
    assert bench.station.leftovers[LOT].left_g == 0
    bench.say(do.Park())
    bench.open("10000", "261130-3")
    assert refused(bench)[0] == "used-up"


def test_a_figure_by_hand_has_no_more_room_than_the_scale() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.floor.link("bench", False, "its cable is out", "plug it in")
    by_hand = do.ByHand("pork", Decimal(1008), "bench", "cable out", "Brida")
    assert bench.refused(by_hand).code == "too-much"


def test_a_block_that_came_out_smaller_is_told() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    take(bench, 1000)
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    take(bench, 3000)
    bench.say(do.End("pork", sure=True))
    said = [event.text for event in bench.events if isinstance(event, ev.Warned)]
    assert "25 % of the meat is left of other batches, 20 % at most" in said


def test_meat_is_not_taken_out_again_where_a_leftover_is_in() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    take(bench, 1000)
    bench.say(do.Use("tub"))
    bench.show("bench", "1700")
    assert bench.refused(do.TakeMeatOut("pork")).code == "leftover-is-in"


def test_fresh_meat_before_it_stays_fresh() -> None:
    bench = opens(kept(made()))
    take(bench, 5000)
    assert bench.say(named()) == "pork is left of batch 261130-1, 1000 g"
    take(bench, 1000)
    assert [load.lot for load in bench.batch.meats["pork"].loads] == [None, LOT]
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    assert [load.lot for load in bench.batch.meats["pork"].loads] == ["B-9", LOT]


def test_fresh_meat_that_is_taken_out_is_no_leftover() -> None:
    bench = opens(kept(made(CURED), 2000), CURED + REWORK, "5000")
    take(bench, 9000)
    bench.say(named())  # and nothing of it is weighed yet
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "0")
    bench.show("bench", "5200")
    bench.say(do.TakeMeatOut("pork"))
    assert bench.last(ev.MeatWeighed).lot is None  # type: ignore[attr-defined]
    assert bench.station.leftovers[LOT].left_g == 2000
    bench.show("bench", "0")
    bench.show("bench", "1200")
    bench.show("bench", "0")
    take(bench, 1100)
    assert [load.net_g for load, _ in bench.batch.reworked] == [1100]
    assert bench.batch.meat_g > 6000


def test_meat_that_is_taken_out_of_one_delivery_is_of_that() -> None:
    bench = opens(kept(made()))
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    take(bench, 5000)
    bench.say(do.Use("tub"))
    bench.show("bench", "1700")
    bench.say(do.TakeMeatOut("pork"))
    assert bench.last(ev.MeatWeighed).lot == "B-9"  # type: ignore[attr-defined]


def test_its_age_counts_when_it_is_weighed() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2200")
    passes(bench, 100 * 60)
    assert bench.refused(do.Accept("pork")).code == "too-old"
    passes(bench, 48 * 60)
    bench.say(do.Accept("pork", sure=True))


def test_the_tub_with_a_leftover_is_asked_about_where_it_is_weighed_as_fresh_meat() -> None:
    bench = opens(kept(made()))
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2206")  # within three divisions
    refusal = bench.refused(do.Accept("pork"))
    assert (refusal.code, refusal.sentence) == (
        "leftover", f"tub weighs as when {LOT} was kept in it"
    )  # fmt: skip
    bench.show("bench", "2208")
    bench.say(do.Accept("pork"))


def test_the_screen_offers_it_where_it_may_go() -> None:
    bench = opens(kept(made()))
    said = [offer for offer in bench.told.offers if offer.verb == "meat-lot"]
    assert [offer.params["lot"] for offer in said] == [LOT]
    assert said[0].means == f"{LOT}, 1000 g left of batch 261130-1"
    for hours, offered in ((48, True), (49, False)):
        now = passes(bench, hours * 60)
        verbs = [offer.verb for offer in bench.floor.guide(now=now).offers]
        assert ("meat-lot" in verbs) == offered


def test_one_thrown_away_while_it_is_named_has_no_room() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Discard(LOT, "fell"))
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2200")
    assert bench.refused(do.Accept("pork")).code == "no-leftover"


@pytest.mark.parametrize(("left", "code"), [("1", None), ("0", "used-up"), ("-3", "used-up")])
def test_as_long_as_a_gram_is_left_it_may_be_named(left: str, code: str | None) -> None:
    bench = opens(kept(made()))
    one = replace(bench.station.leftovers[LOT], used_g=1000 - Decimal(left))
    bench.station = replace(bench.station, leftovers={LOT: one})
    if code is None:
        bench.say(named())
    else:
        assert refused(bench)[0] == code


MEATS = """[[meat]]
name = "beef"
share = "20 %"
species = "beef"
[[meat]]
name = "pork"
share = "60 %"
[[meat]]
name = "veal"
share = "20 %"
species = "veal"
"""


def test_only_the_meat_that_it_is_weighed_as_decides_on_its_species() -> None:
    veal = FORMULA.replace(PORK, PORK + 'species = "veal"\n')
    bench = opens(kept(made(veal)), FORMULA.replace(PORK, MEATS) + REWORK)
    refusal = bench.refused(named())
    assert (refusal.code, refusal.next) == ("species", "pork is of any")
    assert bench.refused(named("beef")).next == "beef is of beef"
    bench.say(named("veal"))


def test_the_first_of_what_it_has_and_should_not_is_named() -> None:
    two = FORMULA.replace(PORK, MEATS.replace('name = "pork"', 'name = "goat"'))
    bench = Bench(two + REWORK)
    bench.vessels()
    bench.open("10000", "261130-1")
    for grams, name in ((2000, "beef"), (6000, "goat"), (2000, "veal")):
        take(bench, grams, name)
        bench.say(do.End(name, sure=True))
    fill(bench)
    bench = opens(kept(bench), FORMULA.replace(PORK, PORK + 'species = "lamb"\n') + REWORK)
    assert refused(bench) == ("species", f"{LOT} is of beef")


def test_the_first_agent_that_may_not_be_in_is_named() -> None:
    both = CURED.replace(
        '"sodium nitrite" = "6.25 %", "salt" = "93.75 %"',
        '"potassium nitrite" = "0.01 %", "sodium nitrite" = "6 %", "salt" = "93.99 %"',
    )
    bench = Bench(both + REWORK)
    bench.vessels()
    bench.open("12000", "261130-1")
    bench.weigh_meat()
    strength = {"potassium nitrite": Decimal("0.0001"), "sodium nitrite": Decimal("0.06")}
    bench.say(do.OpenLot("premix", "P-41", strength, None, "2026-11-30"))
    for name in bench.batch.lines:
        bench.add(name, CUP_OF[name], str(round(bench.batch.target(name) * 20) / Decimal(20)))
    bench = opens(kept(bench))
    assert refused(bench)[1].startswith(f"{LOT} brings potassium nitrite,")


def row(**changes: object) -> LimitRow:
    asked = {"kind": "ingoing", "seen": True, "authority": "us"} | changes
    return LimitRow(
        words=(), agents=("sodium nitrite",), basis="mix", maximum=Decimal(0), text="", source="",
        since="", **asked,  # type: ignore[arg-type]
    )  # fmt: skip


@pytest.mark.parametrize(
    ("found", "may"),
    [
        (row(), True), (row(kind="as needed"), True), (row(kind="required"), False),
        (row(kind="residual"), False), (row(seen=False), False), (row(authority="own"), False),
    ],
)  # fmt: skip
def test_only_a_row_of_the_law_that_was_seen_lets_an_agent_in(found: LimitRow, may: bool) -> None:
    assert may_be_in("sodium nitrite", (found,)) == may
    assert not may_be_in("sorbic acid", (found,))
    assert may_be_in("sodium nitrite", (row(seen=False), row())) and not may_be_in("x", ())


@pytest.mark.parametrize(
    ("within", "minutes", "said"),
    [
        ("30 min", 59, "59 min old, 30 min is the most"),
        ("1 h", 61, "1 h old, 1 h is the most"),
        ("30 min", 60, "1 h old, 30 min is the most"),
        ("1 h", 7199 / 60, "1 h old, 1 h is the most"),
    ],
)
def test_its_age_is_told_in_hours_once_there_is_one(within: str, minutes: float, said: str) -> None:
    bench = opens(kept(made()), FORMULA + REWORK.replace("48 h", within))
    passes(bench, minutes)
    assert refused(bench)[1] == f"{LOT} is {said}"


def smaller(fresh: int, grams: int = 1000) -> list[str]:
    """What is warned of where so much fresh meat came beside so much of a leftover."""
    bench = opens(kept(made(), grams))
    bench.say(named())
    take(bench, grams)
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    take(bench, fresh)
    bench.say(do.End("pork", sure=True))
    warned = [event for event in bench.events if isinstance(event, ev.Warned)]
    return [event.text for event in warned if event.warning == "rework"]


def test_a_word_is_said_only_of_more_than_the_formula_lets_in() -> None:
    assert smaller(5000) == []
    assert smaller(4000) == []  # 20 % of it, exactly
    said = "% of the meat is left of other batches, 20 % at most"
    assert smaller(3998) == [f"20 {said}"]
    assert smaller(2500) == [f"28.6 {said}"]


def test_of_two_loads_of_it_one_word_is_said() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    take(bench, 400)
    take(bench, 500)
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    take(bench, 2000)
    bench.say(do.End("pork", sure=True))
    warned = [event for event in bench.events if isinstance(event, ev.Warned)]
    assert [event.line for event in warned if event.warning == "rework"] == ["pork"]


def test_how_much_of_it_may_go_in_is_told_to_a_tenth() -> None:
    bench = opens(kept(made(), 2200), FORMULA + REWORK, "10003")
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "3202")
    assert bench.refused(do.Accept("pork")).sentence.endswith("20 % of the meat, 2000.6 g")
