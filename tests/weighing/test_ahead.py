"""Bags of the dry lines that are weighed ahead for a planned meat block: on the day each says how
much to top up, or how much of it to use."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace as changed

from station.audit.label import NoLabel, label
from station.batch import events as ev
from station.batch.bags import drawn_after
from station.batch.cups import held_in
from station.batch.evolve import evolve
from station.batch.lawful import allowed_g, breaches
from station.batch.overview import rows
from station.batch.plan import free_vessels
from station.batch.state import Station
from station.formula.ahead import count_of, formula_of, line_of, weighed_ahead
from station.formula.bands import parse_bands
from station.formula.sheet import parse_formula
from station.ledger.tables import batch_row
from station.resources import Config
from station.weighing import commands as do
from tests.benchside import NITRITE, RING, Bench
from tests.formula.made import COUNTING
from tests.weighing.test_tallying import FORMULA

WET = """
[[addition]]
name = "ice"
amount = "10 %"
role = "water"
[[addition]]
name = "soaked crumb"
role = "binder"
parts = [{ name = "crumb", amount = "2 %" }, { name = "milk", amount = "3 %", role = "water" }]
[[addition]]
name = "sachets"
amount = "1 sachet / 10 kg"
role = "culture"
"""
BAGS = {f"bag {n}": str(10 * n) for n in range(1, 7)}
PLANNED = 7000


def ahead(formula: str = FORMULA, count: int = 2) -> Bench:
    """So many bags of each line are to be weighed, for 7 kg of meat each."""
    bench = Bench(formula)
    for name, grams in BAGS.items():
        bench.show("fine", grams)
        bench.say(do.RecordVessel(name, "fine"))
        bench.show("fine", "0")
    bench.show("bench", "1200")
    bench.say(do.RecordVessel("tub", "bench"))
    bench.show("bench", "0")
    meant = bench.formula
    bench.formula = weighed_ahead(meant, Fraction(PLANNED), count)
    bench.open(str(PLANNED * count), "261130-1")
    bench.formula = meant
    opened = changed(bench.last(ev.BatchOpened), ahead=count)  # type: ignore[type-var]
    bench.station = evolve(replace(bench.station, batch=None), opened, bench.at, "261130-1")  # type: ignore[arg-type]
    return bench


def weigh(bench: Bench, line: str, bag: str, net: str, key: bool = False) -> None:
    """An empty bag is filled and lifted off."""
    empty = Decimal(BAGS[bag])
    bench.show("fine", str(empty))
    for part in range(1, 40):
        bench.move("fine", str(empty + Decimal(net) * part / 40))
    bench.show("fine", str(empty + Decimal(net)))
    if key:
        bench.say(do.Accept(line))
    bench.lift()


def closed(formula: str = FORMULA, salt: str = "126") -> Bench:
    """Two bags of salt and two of pepper wait."""
    bench = ahead(formula)
    weigh(bench, "salt bag 1", "bag 1", salt)
    weigh(bench, "salt bag 2", "bag 2", "126")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    weigh(bench, "pepper bag 2", "bag 4", "21")
    bench.say(do.Close())
    return bench


def on_the_day(meat_g: str = "7000", bench: Bench | None = None) -> Bench:
    bench = bench or closed()
    bench.open(meat_g, "261201-2")
    bench.weigh_meat(meat_g)
    return bench


def put_on(bench: Bench, grams: str) -> None:
    bench.move("fine", str(Decimal(grams) / 2))
    bench.show("fine", grams)


# what is weighed ahead


def test_each_dry_line_is_so_many_bags_of_its_target() -> None:
    formula = parse_formula(RING + WET, "f.toml")
    bags = weighed_ahead(formula, Fraction(7000), 2)
    assert [line.name for line in bags.additions] == [
        *("salt bag 1", "salt bag 2", "premix bag 1", "premix bag 2"),
        *("pepper bag 1", "pepper bag 2", "garlic bag 1", "garlic bag 2"),
    ]
    bench = ahead(RING + WET)
    targets = {name: bench.batch.target(name) for name in bench.batch.lines}
    assert targets["salt bag 1"] == targets["salt bag 2"] == 126
    assert targets["premix bag 2"] == 14


def test_onto_the_mix_and_into_a_pickle_nothing_is_weighed_ahead() -> None:
    onto = FORMULA.replace('name = "pepper"', 'name = "pepper"\nweigh = "onto"')
    names = [one.name for one in weighed_ahead(parse_formula(onto, "f"), Fraction(1), 1).additions]
    assert names == ["salt bag 1"]
    pickled = parse_formula(FORMULA, "f")
    pepper = changed(pickled.additions[1], in_pickle=True)
    made = weighed_ahead(changed(pickled, additions=(pepper,)), Fraction(1), 1)
    assert made.additions == ()


def test_its_steps_its_pieces_and_its_packs_are_of_the_day() -> None:
    step = '\n[[step]]\nname = "knead"\nafter = "salt"\ntime = "<= 10 min"\n'
    made = weighed_ahead(parse_formula(FORMULA + step, "f"), Fraction(7000), 2)
    assert (made.steps, made.piece_g, made.piece_band, made.packs) == ((), None, None, ())


def test_a_bag_knows_its_line_and_its_formula() -> None:
    assert line_of("salt bag 2") == "salt"
    assert line_of("a bag of herbs bag 12") == "a bag of herbs"
    assert formula_of("herb link weighed ahead") == "herb link"


@pytest.mark.parametrize(("text", "count"), [("1", 1), ("20", 20), ("0", None), ("21", None),
                                             ("-1", None), ("two", None), ("²", None)])  # fmt: skip
def test_there_are_from_one_to_twenty_bags(text: str, count: int | None) -> None:
    if count is not None:
        assert count_of(text) == count
        return
    with pytest.raises(ValueError, match="expected a whole number from 1 to 20"):
        count_of(text)


def test_the_law_counts_all_bags_on_all_the_meat_that_is_planned() -> None:
    bench = ahead(RING)
    (row,) = [row for row in bench.batch.rows if "sodium nitrite" in row.agents][:1]
    assert allowed_g(bench.batch, row) == Fraction(row.maximum) * 14000
    assert not breaches(bench.batch)


def test_there_is_no_meat_and_no_mix() -> None:
    bench = ahead()
    weigh(bench, "salt bag 1", "bag 1", "126")
    assert bench.batch.weighed_meat_g == 0 and batch_row(bench.batch)["meat_text"] == "0"
    assert next(iter(rows(bench.batch))).name == "salt bag 1"
    for command in (
        *(
            do.Tip("salt bag 1"),
            do.Tip("salt bag 1", unaccepted=True),
            do.Tip("salt bag 1", more=True),
        ),
        *(do.Accept("pork"), do.ByHand("pepper bag 1", Decimal(21), "fine", "dark", "Brida")),
        *(do.CountPieces("links", "bench"), do.TakeSample(None, None, Decimal(50), "cook it")),
        do.NextBag("salt bag 2", "S-2", None, "2026-11-30"),
    ):
        assert bench.refused(command).code == "ahead", command
    assert not [offer for offer in bench.told.offers if offer.verb == "tip"]


def test_no_figure_is_typed_for_a_bag() -> None:
    bench = ahead()
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    assert not [form for form in bench.told.forms if form.verb == "by-hand"]


def test_a_bag_that_comes_back_empty_is_voided() -> None:
    bench = ahead()
    weigh(bench, "salt bag 1", "bag 1", "126")
    assert [load.tipped for load in bench.line("salt bag 1").loads] == [False]
    put_on(bench, "10.05")
    event = bench.last(ev.Voided)
    assert (event.line, event.net_g, event.reason) == (  # type: ignore[attr-defined]
        "salt bag 1", 126, "its bag came back empty"
    )  # fmt: skip
    assert not bench.line("salt bag 1").loads
    assert not any(isinstance(event, ev.Tipped) for event in bench.events)


def test_a_bag_that_comes_back_full_waits() -> None:
    bench = ahead()
    weigh(bench, "salt bag 1", "bag 1", "126")
    put_on(bench, "136")
    assert (bench.told.word, bench.told.sentence) == ("SET DOWN", "bag 1 still holds salt bag 1")
    assert bench.told.next == "lift it off: it waits for its meat"


def test_a_cure_that_stands_in_its_bag_does_not_ask_to_be_tipped() -> None:
    bench = ahead(RING)
    for number in (1, 2):
        bench.say(do.OpenLot(f"premix bag {number}", "P-41", NITRITE, None, "2026-11-30"))
    weigh(bench, "salt bag 1", "bag 1", "126")
    weigh(bench, "salt bag 2", "bag 2", "126")
    weigh(bench, "premix bag 1", "bag 3", "14", key=True)
    assert bench.line("premix bag 1").standing
    assert bench.told.word == "SET DOWN"


def test_it_is_closed_with_its_bags_standing() -> None:
    bench = closed()
    assert bench.batch.end == "closed"
    assert [(one.vessel, one.line, one.net_g, one.formula) for one in
            bench.station.portions.values()] == [
        ("bag 1", "salt", 126, "test ring"), ("bag 2", "salt", 126, "test ring"),
        ("bag 3", "pepper", 21, "test ring"), ("bag 4", "pepper", 21, "test ring"),
    ]  # fmt: skip


def test_what_is_left_out_must_be_named_and_the_screen_says_what_to_do() -> None:
    bench = ahead()
    weigh(bench, "salt bag 1", "bag 1", "126")
    assert bench.refused(do.Close()).code == "to-be-named"
    bench.say(do.Close(("salt bag 2", "pepper bag 1", "pepper bag 2")))
    assert list(bench.station.portions) == ["bag 1"]
    bench = ahead(count=1)
    weigh(bench, "salt bag 1", "bag 1", "126")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    assert bench.told.sentence == "2 bags are weighed ahead: write 261130-1 on each"
    assert bench.say(do.Close()) == "batch 261130-1 closed: 2 bags wait for their meat"


def test_it_changes_no_revision_and_draws_from_no_bag_of_goods() -> None:
    bench = closed()
    opened = next(event for event in bench.events if isinstance(event, ev.BatchOpened))
    fresh = evolve(Station(), changed(opened, ahead=2), bench.at, "261130-1")
    assert fresh.formulas == {} and fresh.batches == 1
    assert drawn_after(bench.station, bench.batch) == bench.station.drawn == {}


def test_there_is_no_label_of_it() -> None:
    with pytest.raises(NoLabel, match="nothing was weighed in"):
        label(ahead().batch, COUNTING)


# on the day


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


def portion(bench: Bench, **changes: object) -> None:
    """Bag 1 as it would be had it been weighed otherwise."""
    one = replace(bench.station.portions["bag 1"], **changes)  # type: ignore[arg-type]
    bench.station = replace(bench.station, portions={**bench.station.portions, "bag 1": one})


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


def test_a_cure_of_another_strength_is_refused() -> None:
    bench = ahead(RING, count=1)
    bench.say(do.OpenLot("premix bag 1", "P-41", NITRITE, None, "2026-11-30"))
    for line, bag, net in (("salt", "bag 1", "126"), ("premix", "bag 2", "14"),
                           ("pepper", "bag 3", "21"), ("garlic", "bag 4", "35")):  # fmt: skip
        weigh(bench, f"{line} bag 1", bag, net, key=line == "premix")
    bench.say(do.Close())
    one = bench.station.portions["bag 2"]
    assert (one.lot, one.contains["sodium nitrite"]) == ("P-41", Decimal("0.0625"))
    bench.open("7000", "261201-2")
    bench.weigh_meat("7000")
    weaker = {"sodium nitrite": Decimal("0.05"), "salt": Decimal("0.95")}
    bench.say(do.OpenLot("premix", "P-50", weaker, None, "2026-11-30", rescale=True))
    assert bench.refused(do.Use("bag 2", "premix")).code == "other-strength"


def test_a_bag_of_cure_wants_its_key_and_counts_for_the_limit() -> None:
    bench = ahead(RING, count=1)
    bench.say(do.OpenLot("premix bag 1", "P-41", NITRITE, None, "2026-11-30"))
    for line, bag, net in (("salt", "bag 1", "126"), ("premix", "bag 2", "14"),
                           ("pepper", "bag 3", "21"), ("garlic", "bag 4", "35")):  # fmt: skip
        weigh(bench, f"{line} bag 1", bag, net, key=line == "premix")
    bench.say(do.Close())
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


def test_a_cure_that_is_voided_ahead_of_any_mix_is_in_none() -> None:
    bench = ahead(RING, count=1)
    bench.say(do.OpenLot("premix bag 1", "P-41", NITRITE, None, "2026-11-30"))
    weigh(bench, "salt bag 1", "bag 1", "126")
    weigh(bench, "premix bag 1", "bag 2", "14", key=True)
    bench.say(do.Void("premix bag 1", "spilt"))
    put_on(bench, "20")
    bench.show("fine", "0")
    assert not bench.line("premix bag 1").loads and not bench.batch.hold
    assert not bench.line("premix bag 1").doubts


def test_no_answer_says_that_a_bag_is_in_the_mix() -> None:
    bench = ahead(RING, count=1)
    bench.say(do.OpenLot("premix bag 1", "P-41", NITRITE, None, "2026-11-30"))
    weigh(bench, "salt bag 1", "bag 1", "126")
    bench.show("fine", "20")
    for part in range(1, 20):
        bench.move("fine", str(20 + 10 * part / 20))
    bench.show("fine", "30")
    bench.lift()
    bench.show("fine", "25")  # lighter than it was lifted
    told = bench.told
    assert told.asks is not None
    assert [offer.verb for offer in told.asks.answers] == ["accept"]
    bench.say(do.Accept("premix bag 1"))
    assert not bench.line("premix bag 1").doubts


# thrown away


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


def test_what_stands_in_two_vessels_is_no_bag() -> None:
    bench = ahead(count=1)
    weigh(bench, "salt bag 1", "bag 1", "126")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    line = bench.line("salt bag 1")
    for loads in (
        (line.loads[0], replace(line.loads[0], vessel="bag 2")),
        (replace(line.loads[0], vessel=None),),
        (replace(line.loads[0], gross_g=Decimal(0)),),
    ):
        lines = {**bench.batch.lines, line.name: replace(line, loads=loads)}
        station = replace(bench.station, batch=replace(bench.batch, lines=lines))
        after = evolve(station, ev.Closed(named=(), who="Ansel"), bench.at, "261130-1")
        assert list(after.portions) == ["bag 3"]


def test_bags_wait_in_the_order_in_which_they_were_weighed() -> None:
    bench = on_the_day()
    portion(bench, at="2026-12-01T00:00:00.000Z")
    offers = [offer.params["vessel"] for offer in bench.told.offers if "holds" in offer.means]
    assert offers == ["bag 2", "bag 1"]


def test_the_bands_of_the_bags_are_those_of_their_lines() -> None:
    bands = parse_bands(*Config().read("bands.toml"))
    formula = parse_formula(RING, "f.toml")
    one = bands.for_formula(formula)
    other = bands.for_formula(weighed_ahead(formula, Fraction(7000), 2))
    assert {name: band for name, band in other.items() if name.startswith("premix")} == {
        "premix bag 1": one["premix"], "premix bag 2": one["premix"],
    }  # fmt: skip
