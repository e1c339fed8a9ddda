"""On the day a bag that was weighed ahead says how much to top up, or how much of it to use."""

from dataclasses import replace
from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.cups import held_in
from station.batch.plan import free_vessels
from station.formula.sheet import parse_formula
from station.weighing import commands as do
from tests.benchside import NITRITE, RING, Bench
from tests.weighing.bags import BAGS, ahead, closed, on_the_day, portion, put_on, weigh
from tests.weighing.test_clocks import passes
from tests.weighing.test_tallying import FORMULA


def test_the_bags_are_held_until_they_are_used() -> None:
    bench = on_the_day()
    assert "bag 1" not in [vessel.name for vessel in free_vessels(bench.station)]
    assert held_in(bench.station, "bag 1") == "salt weighed ahead in 261130-1"
    assert bench.refused(do.Use("bag 3")).code == "vessel-taken"  # it is the turn of the salt
    assert bench.refused(do.RecordVessel("bag 1", "fine")).code == "not-settled"
    put_on(bench, "10")
    assert bench.refused(do.RecordVessel("bag 1", "fine")).code == "vessel-taken"


def test_the_screen_offers_them_with_what_each_lacks() -> None:
    bench = on_the_day("7200")
    assert "2 bags are weighed ahead" in bench.told.sentence
    offers = {offer.params["vessel"]: offer.means for offer in bench.told.offers
              if offer.verb == "use" and "holds" in offer.means}  # fmt: skip
    assert offers == {
        "bag 1": "bag 1 holds 126.00 g, top up 3.60 g",
        "bag 2": "bag 2 holds 126.00 g, top up 3.60 g",
    }


def test_a_bag_with_too_little_is_topped_up() -> None:
    bench = on_the_day("7200")  # 129.60 g of salt
    said = bench.say(do.Use("bag 1"))
    assert said == "bag 1 for salt: it holds 126.00 g, top up 3.60 g"
    assert bench.told.sentence.endswith("it holds 126.00 g, top up 3.60 g")
    put_on(bench, "136")
    assert isinstance(bench.events[-1], ev.PortionUsed)
    assert (bench.told.word, bench.told.net_g) == ("POUR", 126)
    bench.move("fine", "138")
    bench.show("fine", "139.6")
    assert bench.told.word == "IN BAND"
    bench.lift()
    (load,) = bench.line("salt").loads
    assert (load.net_g, load.tare_g, load.vessel) == (Decimal("129.60"), 10, "bag 1")
    assert bench.line("salt").accepted is not None


def test_of_a_bag_with_too_much_so_much_is_used() -> None:
    bench = on_the_day("6800")  # 122.40 g of salt
    assert bench.say(do.Use("bag 1")).endswith("it holds 126.00 g, use 122.40 g of it")
    put_on(bench, "136")
    assert bench.told.word == "TAKE OUT"
    bench.move("fine", "134")
    bench.show("fine", "132.4")
    assert bench.told.word == "IN BAND"
    bench.lift()
    assert bench.line("salt").actual_g == Decimal("122.40")


def test_a_bag_that_is_right_is_lifted_off_and_accepted() -> None:
    bench = on_the_day("7040")  # 126.72 g, band 2 % of it
    assert bench.say(do.Use("bag 1")) == "bag 1 for salt: it holds 126.00 g, as it should be"
    put_on(bench, "136")
    assert bench.told.word == "IN BAND"
    bench.lift()
    assert bench.line("salt").accepted is not None
    put_on(bench, "10.05")
    assert bench.line("salt").loads[0].tipped


def test_a_bag_is_used_once() -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    put_on(bench, "136")
    assert "bag 1" not in bench.station.portions
    bench.lift()
    put_on(bench, "10.05")
    bench.show("fine", "0")
    bench.say(do.Park())
    bench.open("7000", "261201-3")
    bench.weigh_meat("7000")
    offered = [offer.params.get("vessel") for offer in bench.told.offers if "holds" in offer.means]
    assert offered == ["bag 2"]


@pytest.mark.parametrize(("grams", "used"), [("136.15", True), ("136.20", False),
                                             ("135.85", True), ("135.80", False)])  # fmt: skip
def test_a_bag_that_weighs_otherwise_than_then_is_not_believed(grams: str, used: bool) -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    put_on(bench, grams)
    assert (bench.line("salt").tare is not None) == used
    if not used:
        assert bench.told.word == "BLOCKED"
        assert bench.told.sentence == (
            f"bag 1 weighs {grams} g, and 136.00 g when it was weighed ahead"
        )


def test_a_bag_of_another_scale_goes_on_that_one() -> None:
    bench = on_the_day()
    moved = replace(bench.station.portions["bag 1"], scale="coarse")
    bench.station = replace(bench.station, portions={"bag 1": moved})
    bench.say(do.Use("bag 1"))
    put_on(bench, "136")
    assert bench.told.sentence == "bag 1 was weighed on coarse, not on fine"
    assert bench.line("salt").tare is None


def test_a_bag_that_nobody_named_is_asked_about() -> None:
    bench = on_the_day()
    put_on(bench, "136")
    assert bench.line("salt").tare is None
    told = bench.told
    assert told.sentence == "this holds salt weighed ahead in 261130-1"
    assert told.asks is not None
    assert [offer.params["vessel"] for offer in told.asks.answers] == ["bag 1"]
    bench.say(do.Use("bag 1"))
    bench.show("fine", "136")
    assert bench.line("salt").tare is not None


def test_a_bag_of_another_line_is_no_empty_vessel() -> None:
    bench = on_the_day()
    put_on(bench, "51")  # bag 3, pepper, of 30 g with 21 g
    assert bench.line("salt").tare is None
    assert bench.told.sentence == "this holds pepper weighed ahead in 261130-1, or is bag 5 empty?"
    bench.show("fine", "0")
    bench.show("fine", "60")  # bag 6, empty
    assert bench.line("salt").tare is not None


def test_a_full_bag_that_weighs_like_an_empty_one_is_asked_about() -> None:
    bench = closed()
    bench.show("fine", "136")
    bench.say(do.RecordVessel("jug", "fine"))
    bench.show("fine", "0")
    on_the_day(bench=bench)
    put_on(bench, "136")
    assert bench.line("salt").tare is None
    assert bench.told.sentence == "this holds salt weighed ahead in 261130-1, or is jug empty?"


def test_bags_of_another_formula_are_not_offered_or_taken() -> None:
    bench = closed()
    bench.formula = parse_formula(FORMULA.replace("test ring", "other"), "f.toml")
    on_the_day(bench=bench)
    assert not [offer for offer in bench.told.offers if "holds" in offer.means]
    refusal = bench.refused(do.Use("bag 1"))
    assert (refusal.code, refusal.sentence) == (
        "vessel-taken", "bag 1 holds salt weighed ahead in 261130-1, for test ring"
    )  # fmt: skip


def test_a_line_that_is_begun_takes_no_bag() -> None:
    bench = ahead(FORMULA.replace("1.8 %", "5 %"), count=1)
    weigh(bench, "salt bag 1", "bag 1", "350")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    bench.say(do.Close())
    on_the_day("13000", bench)  # 650 g of salt, in two loads
    weigh_a_load(bench)
    assert bench.line("salt").loads
    assert bench.refused(do.Use("bag 1")).code == "begun"


def weigh_a_load(bench: Bench) -> None:
    """A load of the salt before the last, ended by its key."""
    bench.say(do.WeighOn("salt", "fine"))
    bench.show("fine", BAGS["bag 5"])
    for part in range(1, 40):
        bench.move("fine", str(50 + 325 * part / 40))
    bench.show("fine", "375")
    bench.say(do.End("salt"))
    bench.lift()


def test_its_lot_is_opened_with_it() -> None:
    bench = on_the_day()
    portion(bench, lot="S-7", expires="2027-01-31")
    bench.say(do.Use("bag 1"))
    assert bench.line("salt").lot.lot == "S-7"
    put_on(bench, "136")
    bench.lift()
    assert bench.line("salt").loads[0].lot == "S-7"


def test_a_lot_that_is_open_already_is_not_opened_again() -> None:
    bench = on_the_day()
    portion(bench, lot="S-7")
    bench.say(do.OpenLot("salt", "S-7", {}, None, "2026-11-30"))
    before = len([event for event in bench.events if isinstance(event, ev.LotOpened)])
    bench.say(do.Use("bag 1"))
    assert len([event for event in bench.events if isinstance(event, ev.LotOpened)]) == before


def test_a_bag_of_a_lot_past_its_date_is_refused() -> None:
    bench = on_the_day()
    portion(bench, lot="S-7", expires="2026-11-29")
    assert bench.refused(do.Use("bag 1")).code == "expired"


def cured() -> Bench:
    """A bag of each line of the ring."""
    bench = ahead(RING, count=1)
    bench.say(do.OpenLot("premix bag 1", "P-41", NITRITE, None, "2026-11-30"))
    for line, bag, net in (("salt", "bag 1", "126"), ("premix", "bag 2", "14"),
                           ("pepper", "bag 3", "21"), ("garlic", "bag 4", "35")):  # fmt: skip
        weigh(bench, f"{line} bag 1", bag, net, key=line == "premix")
    bench.say(do.Close())
    return bench


def test_a_cure_of_another_strength_is_refused() -> None:
    bench = cured()
    one = bench.station.portions["bag 2"]
    assert (one.lot, one.contains["sodium nitrite"]) == ("P-41", Decimal("0.0625"))
    bench.open("7000", "261201-2")
    bench.weigh_meat("7000")
    weaker = {"sodium nitrite": Decimal("0.05"), "salt": Decimal("0.95")}
    bench.say(do.OpenLot("premix", "P-50", weaker, None, "2026-11-30", rescale=True))
    assert bench.refused(do.Use("bag 2", "premix")).code == "other-strength"


def test_a_bag_of_cure_wants_its_key_and_counts_for_the_limit() -> None:
    bench = cured()
    bench.open("7000", "261201-2")
    bench.weigh_meat("7000")
    bench.say(do.Use("bag 2", "premix"))  # which opens its lot, before the salt
    bench.say(do.Use("bag 1"))
    put_on(bench, "136")
    bench.lift()
    put_on(bench, "10.05")
    bench.show("fine", "0")
    put_on(bench, "34")
    assert bench.line("premix").tare is not None
    bench.say(do.Accept("premix"))
    bench.lift()
    assert bench.line("premix").accepted is not None
    assert bench.line("premix").loads[0].lot == "P-41"


def test_what_is_in_the_bag_is_of_its_own_lot_whichever_is_opened_since() -> None:
    bench = on_the_day()
    portion(bench, lot="S-7")
    bench.say(do.Use("bag 1"))
    bench.say(do.OpenLot("salt", "S-9", {}, None, "2026-11-30"))
    put_on(bench, "136")
    bench.lift()
    assert bench.line("salt").loads[0].lot == "S-7"


def test_a_bag_of_what_the_line_is_no_more_is_not_taken() -> None:
    bench = closed(FORMULA.replace('name = "pepper"', 'name = "pepper"\nallergens = ["wheat"]'))
    bench.formula = parse_formula(FORMULA.replace("revision = 1", "revision = 2"), "f.toml")
    bench.station = replace(bench.station, soiled={})
    on_the_day(bench=bench)
    assert bench.refused(do.Use("bag 3", "pepper")).code == "vessel-taken"
    bench.say(do.Use("bag 1"))
    portion(bench, contains={"salt": Decimal("0.9")})
    assert bench.refused(do.Use("bag 1")).code == "vessel-taken"


def test_a_bag_that_went_in_by_a_word_counts_as_it_was_weighed_ahead() -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    answer = bench.say(do.Tip("salt", unaccepted=True))
    assert answer == "126 g of salt is in the mix, as it was weighed ahead"
    (load,) = bench.line("salt").loads
    assert (load.net_g, load.vessel, load.tipped) == (126, "bag 1", True)
    assert "bag 1" not in bench.station.portions and "bag 2" in bench.station.portions


def test_a_bag_whose_figure_is_typed_waits_no_more() -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    bench.say(do.ByHand("salt", Decimal(126), "fine", "its cable is out"))
    assert "bag 1" not in bench.station.portions and "bag 2" in bench.station.portions


def test_a_bag_is_thrown_away_with_a_reason() -> None:
    bench = closed()
    assert bench.say(do.Discard("bag 1", "wet")) == "bag 1 holds nothing any more"
    event = bench.last(ev.PortionDiscarded)
    assert (event.vessel, event.net_g, event.of) == ("bag 1", 126, "261130-1")  # type: ignore[attr-defined]
    assert held_in(bench.station, "bag 1") is None
    assert bench.refused(do.Discard("bag 1", "wet")).code == "no-leftover"


def test_a_bag_that_is_named_for_a_line_is_not_thrown_away() -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    assert bench.refused(do.Discard("bag 1", "wet")).code == "in-use"
    bench.say(do.Use("bag 2"))
    bench.say(do.Discard("bag 1", "wet"))


def test_bags_wait_in_the_order_in_which_they_were_weighed() -> None:
    bench = on_the_day()
    portion(bench, at="2026-12-01T00:00:00.000Z")
    offers = [offer.params["vessel"] for offer in bench.told.offers if "holds" in offer.means]
    assert offers == ["bag 2", "bag 1"]


def opened_lots(bench: Bench) -> list[str]:
    return [event.lot for event in bench.events if isinstance(event, ev.LotOpened)]


def test_a_bag_of_no_lot_opens_none() -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    assert opened_lots(bench) == []


def test_no_other_bag_is_offered_once_one_is_named_or_a_load_is_weighed() -> None:
    bench = on_the_day()
    bench.say(do.Use("bag 1"))
    assert not [offer for offer in bench.told.offers if "holds" in offer.means]
    bench = ahead(FORMULA.replace("1.8 %", "5 %"), count=1)
    weigh(bench, "salt bag 1", "bag 1", "350")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    bench.say(do.Close())
    on_the_day("13000", bench)
    assert [offer for offer in bench.told.offers if "holds" in offer.means]
    weigh_a_load(bench)
    put_on(bench, BAGS["bag 5"])
    bench.show("fine", "0")
    assert not [offer for offer in bench.told.offers if "holds" in offer.means]


@pytest.mark.parametrize("open_now", ["S-5", "S-9"])
def test_a_bag_of_another_lot_than_the_one_that_is_open_opens_its_own(open_now: str) -> None:
    bench = on_the_day()
    portion(bench, lot="S-7")
    bench.say(do.OpenLot("salt", open_now, {}, None, "2026-11-30"))
    bench.say(do.Use("bag 1"))
    assert opened_lots(bench) == [open_now, "S-7"]


@pytest.mark.parametrize(
    ("hours", "expires", "taken"),
    [
        (24, "2026-12-01", True),
        (24, "2026-11-30", False),
        (72, "2026-12-02", False),
        (-24, "2026-11-29", False),
    ],
)
def test_the_date_of_a_bag_is_judged_by_the_latest_day_that_is_known(
    hours: int, expires: str, taken: bool
) -> None:
    bench = on_the_day()
    portion(bench, lot="S-7", expires=expires)
    passes(bench, hours * 60)
    if taken:
        bench.say(do.Use("bag 1"))
    else:
        assert bench.refused(do.Use("bag 1")).code == "expired"


def test_bags_of_a_like_formula_or_with_fewer_allergens_are_none_of_it() -> None:
    bench = on_the_day()
    other = replace(bench.station.portions["bag 2"], line="a salt")
    portion(bench, formula="a ring")
    bench.station = replace(bench.station, portions={**bench.station.portions, "bag 2": other})
    assert not [offer for offer in bench.told.offers if "holds" in offer.means]
    salted = FORMULA.replace('role = "salt"', 'role = "salt"\nallergens = ["fish"]')
    bench = closed()
    bench.formula = parse_formula(salted.replace("revision = 1", "revision = 2"), "f.toml")
    on_the_day(bench=bench)
    assert not [offer for offer in bench.told.offers if "holds" in offer.means]


def test_bags_before_and_behind_one_that_is_thrown_away_stay() -> None:
    bench = closed()
    bench.say(do.Discard("bag 2", "wet"))
    assert list(bench.station.portions) == ["bag 1", "bag 3", "bag 4"]
