"""Whole batches on the real watches and the real decider, hand by hand."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.progress import phase, verdict
from station.weighing import commands as do
from tests.benchside import FINE, NITRITE, RING, Bench


def test_a_batch_goes_from_meat_to_close() -> None:
    bench = Bench().begin()
    for line, cup, net in (
        ("salt", "cup 3", "216"),
        ("premix", "cup 2", "24"),
        ("pepper", "cup 1", "36"),
    ):
        assert bench.told.line == line
        bench.add(line, cup, net)
        assert verdict(bench.batch, bench.line(line)) == "in"
    bench.pour("cup 1", "60.10")  # on the tare with what clung of the pepper: 87.00
    bench.lift()
    assert bench.told.sentence == "standing: garlic"
    assert bench.refused(do.Close()).code == "standing"
    bench.tip("cup 1", "0.30")
    bench.say(do.Close())
    assert bench.batch.end == "closed"
    assert bench.line("garlic").actual_g == Decimal("59.80")


def test_the_same_line_is_not_weighed_twice() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    refusal = bench.refused(do.Accept("salt"))
    assert refusal.code == "blocked-again"
    assert "by Ansel at 10:00 UTC" in refusal.sentence


def test_void_takes_back_what_stands_once_the_vessel_is_seen_empty() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Void("salt", "wet"))
    assert bench.line("salt").standing
    assert bench.told.sentence == "void salt: empty its vessel"
    bench.show("fine", "131.25")
    assert not bench.line("salt").loads
    assert bench.told.line == "salt"


def test_after_tipping_nothing_is_void() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    assert bench.refused(do.Void("salt", "x")).code == "nothing-to-void"


def test_a_skipped_line_comes_at_the_end_and_is_named_at_close() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.say(do.Skip("pepper", "none left"))
    bench.add("garlic", "cup 1", "60")
    assert bench.told.line == "pepper"
    assert bench.refused(do.Close()).line == "pepper"
    bench.say(do.Close(("pepper",)))
    assert bench.batch.named == ("pepper",)


def test_a_required_line_named_at_close_puts_the_batch_on_hold_until_it_is_weighed() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Skip("premix", "no bag"))
    bench.add("pepper", "cup 1", "36")
    bench.add("garlic", "cup 1", "60")
    bench.say(do.Close(("premix",)))
    assert phase(bench.batch) == "on hold"
    assert bench.refused(do.Close(("premix",))).code == "not-closable"
    assert bench.told.sentence == "premix was skipped"
    bench.say(do.Use("cup 2"))
    bench.add("premix", "cup 2", "24")
    assert phase(bench.batch) == "additions"
    bench.say(do.Close())
    assert bench.batch.end == "closed"


def test_seasoning_may_be_taken_as_weighed_and_salt_never() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "200")
    assert bench.refused(do.Accept("salt", as_weighed=True)).code == "never-as-weighed"
    bench.show("fine", "347.20")
    bench.lift()
    bench.tip("cup 3")
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "30")
    bench.say(do.Accept("pepper", as_weighed=True))
    assert verdict(bench.batch, bench.line("pepper")) == "out"


def test_several_loads_end_by_key_and_only_the_sum_is_in_band() -> None:
    bench = Bench(RING.replace('"1.8 %"', '"5 %"'), scales=(FINE,))
    bench.show("fine", "131.20")
    bench.say(do.RecordVessel("cup 3", "fine"))
    bench.show("fine", "86.90")
    bench.say(do.RecordVessel("cup 1", "fine"))
    bench.show("fine", "0")
    bench.open("12000")  # 600 g of salt, 513.10 g of room over the lightest cup
    for name in ("pork",):
        bench.station = evolve(
            bench.station,
            ev.MeatWeighed(name, Decimal(12000), Decimal(12000), Decimal(0), "fine",
                           Decimal("0.05"), "tub", "Ansel", ""),
            "2026-11-30T09:00:00.000Z", "b-1",
        )  # fmt: skip
    bench.say(do.End("pork"))
    bench.say(do.OpenLot("premix", "P-41", NITRITE, None, "2026-11-30"))
    assert "600.00 g in 2 loads" in bench.told.sentence
    bench.pour("cup 3", "400")
    assert bench.told.word == "POUR"
    bench.say(do.End("salt"))
    assert bench.line("salt").accepted is None
    bench.lift()
    bench.tip("cup 3")
    bench.pour("cup 1", "200.20")  # what clung to the first cup is not in the sum
    assert (bench.told.word, bench.told.net_g) == ("IN BAND", Decimal("600.10"))
    bench.lift()
    accepted = bench.last(ev.Accepted)
    assert isinstance(accepted, ev.Accepted)
    assert (accepted.loads, accepted.net_g) == (2, Decimal("600.10"))


def test_a_next_bag_ends_a_load_with_the_cup_left_on() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "20")
    bench.say(do.NextBag("pepper", "bag 2"))
    assert bench.told.net_g == Decimal(20)
    bench.show("fine", "122.90")
    bench.lift()
    assert [load.lot for load in bench.line("pepper").loads] == [None, "bag 2"]
    assert bench.line("pepper").actual_g == Decimal(36)
    bench.tip("cup 1")
    assert not bench.line("pepper").standing


def test_next_bag_of_a_cure_must_be_open_with_the_same_strength() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "12")
    assert bench.refused(do.NextBag("premix", "P-42")).code == "no-lot"
    weak = {"sodium nitrite": Decimal("0.006")}
    assert (
        bench.refused(do.OpenLot("premix", "P-42", weak, None, "2026-11-30")).code
        == "other-strength"
    )
    bench.say(
        do.OpenLot("premix", "P-43", {"sodium nitrite": Decimal("0.0625")}, None, "2026-11-30")
    )
    bench.say(do.NextBag("premix", "P-43"))
    bench.show("fine", "122.45")
    bench.say(do.Accept("premix"))
    bench.lift()
    assert [load.lot for load in bench.line("premix").loads] == ["P-41", "P-43"]


def test_no_strength_no_weighing() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    assert "open its lot" in bench.told.sentence
    bench.show("fine", "131.20")
    assert bench.line("salt").tare is None
    assert bench.refused(do.OpenLot("premix", "P", {}, None, "2026-11-30")).code == "no-strength"
    old = do.OpenLot(
        "premix", "P", {"sodium nitrite": Decimal("0.0625")}, "2026-11-29", "2026-11-30"
    )
    assert bench.refused(old).code == "expired"


def test_a_step_is_not_done_while_something_before_it_stands() -> None:
    step = '[[step]]\nname = "knead"\nafter = "premix"\n'
    bench = Bench(
        RING.replace('[[addition]]\nname = "pepper"', f'{step}[[addition]]\nname = "pepper"')
    )
    bench.begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    assert bench.told.sentence == "premix stands: tip it before knead"
    assert bench.refused(do.EndStep("knead")).code == "standing"
    bench.tip("cup 2")
    bench.say(do.EndStep("knead"))
