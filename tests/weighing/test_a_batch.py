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


def test_lifting_in_band_accepts_without_a_key_and_the_cup_stands() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    assert (bench.told.word, bench.told.next) == ("IN BAND", "lift it off: that accepts")
    bench.lift()
    accepted = bench.last(ev.Accepted)
    assert isinstance(accepted, ev.Accepted)
    assert (accepted.net_g, accepted.as_weighed) == (Decimal(216), False)
    assert bench.line("salt").standing[0].vessel == "cup 3"


def test_a_pause_is_not_the_end_and_a_lift_below_the_band_accepts_nothing() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "120")
    assert bench.told.word == "POUR"
    bench.lift()
    assert bench.line("salt").accepted is None
    assert (bench.told.word, bench.told.alarm) == ("PUT BACK", True)
    assert bench.told.sentence == "salt: 91.70 g too little in it"
    assert "put cup 3 back" in bench.told.next
    bench.show("fine", "347.20")  # filled away from the scale: the one tare still holds
    assert (bench.told.word, bench.told.net_g) == ("IN BAND", Decimal(216))


def test_a_half_filled_cup_put_back_is_no_new_tare() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.lift()
    bench.show("fine", "231.20")
    assert bench.line("salt").tare.tare_g == Decimal("131.20")
    assert bench.told.net_g == Decimal(100)


def test_a_cure_wants_its_key_and_the_key_goes_when_the_weight_leaves_the_limits() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.lift()
    assert bench.line("premix").accepted is None
    bench.show("fine", "122.45")
    bench.say(do.Accept("premix"))
    bench.show("fine", "124.45")  # two grams more: over
    bench.show("fine", "122.45")
    bench.lift()
    assert bench.line("premix").accepted is None
    bench.show("fine", "122.45")
    bench.say(do.Accept("premix"))
    bench.lift()
    assert bench.line("premix").accepted.keyed


def test_a_lift_long_after_the_weight_moved_accepts_nothing() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    for _ in range(12):  # more than a second unsettled before the fall
        bench.move("fine", str(gross + 1))
    bench.lift()
    assert bench.line("salt").accepted is None


def test_a_lift_across_a_gap_in_the_readings_accepts_nothing() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.silence(3)
    bench.show("fine", "0")
    assert bench.line("salt").accepted is None
    assert (bench.told.word, bench.told.alarm) == ("ANSWER", True)
    assert bench.told.troubles[0].reason == "gap"
    bench.show("fine", "347.20")
    assert bench.told.troubles[0].asks == "away"  # nobody saw what was done to it meanwhile
    bench.say(do.Accept("salt"))
    assert bench.told.word == "IN BAND"


def test_what_stays_on_the_pan_was_spilt_and_comes_off_the_net() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.move("fine", "20")
    bench.show("fine", "0.10")
    accepted = bench.last(ev.Accepted)
    assert isinstance(accepted, ev.Accepted)
    assert accepted.net_g == Decimal("215.90")
    assert isinstance(bench.last(ev.Spilt), ev.Spilt)


def test_a_spill_that_leaves_the_limits_accepts_nothing() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "211.70")  # the lower acceptance limit
    bench.move("fine", "20")
    bench.show("fine", "0.10")
    assert bench.line("salt").accepted is None


def test_too_much_is_taken_out_and_recorded_once() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "230")
    assert bench.told.word == "TAKE OUT"
    bench.lift()
    assert bench.line("salt").accepted is None
    bench.show("fine", str(gross))
    assert sum(isinstance(event, ev.Overpoured) for event in bench.events) == 1


def test_a_cup_back_lighter_than_lifted_is_asked_about() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "230")
    bench.lift()
    bench.show("fine", "331.20")  # 30 g less than when lifted
    assert "SALT in the mix?" in bench.told.sentence
    bench.say(do.Accept("salt"))  # it went back into the sack
    bench.show("fine", "347.20")
    assert bench.told.word == "IN BAND"
    assert isinstance(bench.last(ev.TakenBack), ev.TakenBack)


def test_an_unaccepted_cup_that_went_in_is_recorded_as_last_settled() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "230")
    bench.lift()
    bench.show("fine", "131.40")
    bench.say(do.Tip("salt", unaccepted=True))
    assert verdict(bench.batch, bench.line("salt")) == "unaccepted"
    assert bench.line("salt").actual_g == Decimal("229.80")
    assert bench.told.line == "premix"


def test_a_standing_cup_put_back_is_no_tare() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    bench.lift()
    bench.show("fine", str(gross))
    assert bench.told.sentence == "cup 3 still holds salt"
    assert bench.line("premix").tare is None


def test_a_cup_between_full_and_empty_is_asked_about() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.show("fine", "240")
    assert "SALT in the mix?" in bench.told.sentence
    assert bench.line("salt").standing


def test_the_cup_of_salt_is_not_the_next_lines_at_once() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.show("fine", "131.30")
    assert not bench.line("salt").standing
    assert bench.line("premix").tare is None
    assert bench.told.sentence == "this vessel held salt"


def test_a_tipped_cup_of_seasoning_is_the_next_lines_at_once() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "36")
    bench.lift()
    bench.show("fine", "87.10")
    assert bench.line("garlic").tare.tare_g == Decimal("87.10")
    bench.show("fine", "0")
    bench.show("fine", "98.45")  # another cup instead of the tared one
    assert bench.line("garlic").tare.vessel == "cup 2"


def test_salt_needs_a_vessel_on_record() -> None:
    bench = Bench().begin()
    bench.show("fine", "55.00")
    assert bench.told.troubles[0].reason == "vessel"
    assert bench.line("salt").tare is None
    bench.say(do.RecordVessel("cup 9", "fine"))
    assert bench.line("salt").tare.vessel == "cup 9"


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
