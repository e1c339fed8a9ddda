"""The meat block: what is counted is counted once, and what left is not there."""

from station.weighing import commands as do
from tests.benchside import Bench


def test_meat_is_not_counted_again_under_another_tubs_name() -> None:
    bench = Bench()
    bench.vessels()
    bench.show("bench", "1300")
    bench.say(do.RecordVessel("tub 2", "bench"))
    bench.show("bench", "0")
    bench.open("12000")
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.say(do.Use("tub 2"))
    assert bench.refused(do.Accept("pork")).code == "same-load"


def test_meat_that_left_is_neither_taken_out_twice_nor_counted_in() -> None:
    bench = Bench().begin()
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "3200")
    bench.say(do.TakeMeatOut("pork"))
    assert bench.refused(do.TakeMeatOut("pork")).code == "same-load"
    assert bench.refused(do.Accept("pork")).code == "same-load"
    assert bench.batch.meat_g == 10000


def test_meat_does_not_leave_after_an_unknown_amount_of_cure_went_in() -> None:
    bench = Bench().begin()
    bench.say(do.Tip("premix", unaccepted=True))
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "3200")
    assert bench.refused(do.TakeMeatOut("pork")).code == "cure-is-in"


def test_one_tub_may_bring_more_meat_after_its_line_was_ended() -> None:
    bench = Bench().begin()
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "1200")
    bench.show("bench", "0")
    bench.show("bench", "1700")
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == 12500


def test_meat_weighed_in_the_wrong_tub_leaves_and_is_weighed_again() -> None:
    bench = Bench()
    bench.vessels()
    bench.show("bench", "340")
    bench.say(do.RecordVessel("bowl", "bench"))
    bench.show("bench", "0")
    bench.open("6000")
    bench.say(do.Use("bowl"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))  # 860 g of tub counted as meat
    assert bench.refused(do.End("pork")).code == "off-plan"
    bench.say(do.TakeMeatOut("pork"))
    assert bench.batch.meat_g == 0
    bench.say(do.Use("tub"))
    assert bench.refused(do.Accept("pork")).code == "same-load"  # not lifted yet
    bench.show("bench", "0")
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == 6000
