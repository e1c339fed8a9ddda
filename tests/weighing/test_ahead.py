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
from station.batch.evolve import evolve
from station.batch.lawful import allowed_g, breaches
from station.batch.overview import rows
from station.batch.state import Station
from station.formula.ahead import weighed_ahead
from station.formula.sheet import parse_formula
from station.ledger.tables import batch_row
from station.weighing import commands as do
from tests.benchside import NITRITE, RING, Bench
from tests.formula.made import COUNTING
from tests.weighing.bags import WET, ahead, closed, put_on, weigh
from tests.weighing.test_tallying import FORMULA


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


def test_only_one_load_in_a_vessel_that_a_scale_saw_is_a_bag() -> None:
    bench = ahead(count=1)
    weigh(bench, "salt bag 1", "bag 1", "126")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    line = bench.line("salt bag 1")
    (load,) = line.loads
    for loads in (
        (load, replace(load, vessel="bag 2")),
        (load, load),
        (replace(load, vessel=None),),
        (replace(load, scale=None),),
        (replace(load, gross_g=Decimal(0)),),
    ):
        lines = {**bench.batch.lines, line.name: replace(line, loads=loads)}
        station = replace(bench.station, batch=replace(bench.batch, lines=lines))
        after = evolve(station, ev.Closed(named=(), who="Ansel"), bench.at, "261130-1")
        assert list(after.portions) == ["bag 3"]


def test_a_bag_keeps_the_lot_that_it_is_of_and_its_date() -> None:
    bench = ahead(count=1)
    bench.say(do.OpenLot("salt bag 1", "S-7", {}, "2027-01-31", "2026-11-30"))
    weigh(bench, "salt bag 1", "bag 1", "126")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    bench.say(do.Close())
    kept = bench.station.portions
    assert [(one.lot, one.expires) for one in kept.values()] == [
        ("S-7", "2027-01-31"),
        (None, None),
    ]


def test_a_bag_of_an_ordinary_batch_is_none() -> None:
    bench = Bench(FORMULA).begin()
    bench.add("salt", "cup 3", "216")
    bench.add("pepper", "cup 1", "36")
    bench.say(do.Close())
    assert bench.station.portions == {}
