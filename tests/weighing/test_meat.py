"""The meat block: what is counted is counted once, and what left is not there."""

import pytest

from station.weighing import commands as do
from tests.benchside import RING, Bench


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


TWO = RING.replace(
    'name = "pork"\nshare = "100 %"',
    'name = "shoulder"\nshare = "60 %"\n[[meat]]\nname = "belly"\nshare = "40 %"',
)


@pytest.mark.parametrize(
    ("grams", "asked"), [("5700", False), ("5698", True), ("6300", False), ("6302", True)]
)
def test_a_meat_line_that_ends_far_off_its_share_is_asked_about_at_once(
    grams: str, asked: bool
) -> None:
    """60 % of a plan of 10 kg, three points to either side."""
    bench = Bench(TWO)
    bench.vessels()
    bench.open("10000")
    bench.say(do.Use("tub"))
    bench.show("bench", str(1200 + int(grams)))
    bench.say(do.Accept("shoulder"))
    if asked:
        refusal = bench.refused(do.End("shoulder"))
        assert refusal.code == "off-share"
        assert [offer.params["sure"] for offer in refusal.offers] == [True]
        bench.say(do.End("shoulder", sure=True))
    else:
        bench.say(do.End("shoulder"))
    assert bench.batch.meats["shoulder"].ended
