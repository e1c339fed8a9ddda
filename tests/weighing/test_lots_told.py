"""What is told of a bag after it went in: judged by what it says, never by what was meant."""

from decimal import Decimal

from station.weighing import commands as do
from tests.benchside import NITRITE, Bench
from tests.weighing.test_lots import opened, unopened


def in_mix(bench: Bench, lots: tuple[str, str] = ("A", "A")) -> Bench:
    """12 g from each bag, both in the mix."""
    for name in dict.fromkeys(lots):
        bench.say(opened("0.0625", name))
    bench.say(opened("0.0625", lots[0]))
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "12")
    if lots[0] != lots[1]:
        bench.say(do.NextBag("premix", lots[1]))
    for part in range(1, 25):
        bench.move("fine", str(Decimal("110.45") + Decimal(part) / 2))
    bench.show("fine", "122.45")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.tip("cup 2")
    return bench


def test_each_load_is_judged_by_its_own_bag() -> None:
    """12 g of 6.25 % and 12 g of 12.5 % on 12 kg are 187.5 mg/kg."""
    bench = in_mix(unopened(), ("A", "B"))
    assert not bench.batch.hold
    assert bench.refused(opened("0.125", "B")).code == "second-wanted"
    bench.say(opened("0.125", "B", second="Brida"))
    assert any("156.25 mg/kg" in reason for reason in bench.batch.hold)
    bench.say(opened("0.0625", "B", second="Brida"))  # told back: the stronger of both holds
    assert any("156.25 mg/kg" in reason for reason in bench.batch.hold)


def test_a_bag_that_turns_out_weaker_holds_the_batch() -> None:
    bench = in_mix(unopened())
    assert bench.refused(opened("0.003", "A")).code == "second-wanted"
    bench.say(opened("0.05", "A", second="Brida"))
    assert any("under its band" in reason for reason in bench.batch.hold)
    assert bench.refused(do.Accept("premix")).code in ("other-strength", "not-its-turn")


def test_a_bag_that_turns_out_to_be_another_cure_holds_the_batch() -> None:
    bench = in_mix(unopened())
    other = {"potassium nitrate": Decimal("0.0625"), "salt": Decimal("0.9375")}
    bench.say(do.OpenLot("premix", "A", other, None, "2026-11-30", second="Brida"))
    assert any("another cure" in reason for reason in bench.batch.hold)


def test_a_stronger_bag_is_brought_back_by_more_meat() -> None:
    """24 g of 12.5 % are right for 24 kg."""
    bench = in_mix(unopened())
    bench.say(opened("0.125", "A", second="Brida"))
    assert bench.batch.hold
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "13200")
    bench.say(do.Accept("pork"))
    assert not any("premix" in reason for reason in bench.batch.hold)


def test_what_went_in_from_another_bag_can_be_told() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.add("salt", "cup 3", "216")
    told = do.ByHand("premix", Decimal(24), "fine", "power cut", "Brida", in_mix=True, lot="Q-9")
    bench.say(told)
    assert any("strength" in reason for reason in bench.batch.hold)
    assert bench.refused(opened("0.125", "Q-9")).code == "second-wanted"
    bench.say(opened("0.125", "Q-9", second="Brida"))
    assert any("156.25 mg/kg" in reason for reason in bench.batch.hold)
    assert bench.line("premix").lot.lot == "A"


def test_a_required_line_that_was_voided_is_still_required() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Void("premix", "cup dropped"))
    bench.say(do.Void("premix", "cup dropped", second="Brida"))
    bench.say(do.Close(("premix", "pepper", "garlic")))
    assert bench.batch.end is None
    assert bench.batch.hold == ("premix is missing, and the batch must have it",)


def test_a_strength_that_was_not_read_opens_nothing() -> None:
    bench = unopened()
    only = do.OpenLot("premix", "A", {"salt": Decimal("0.9375")}, None, "2026-11-30")
    assert bench.refused(only).code == "no-strength"


def test_an_expiry_told_once_is_not_forgotten() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.say(opened("0.0625", "A", expires="2026-11-30"))
    bench.say(opened("0.0625", "A"))
    assert bench.line("premix").lot.expires == "2026-11-30"
    bench.at = "2026-12-01T08:00:00Z"
    bench.say(do.Note("the next day"))
    late = do.OpenLot("premix", "A", {"sodium nitrite": Decimal("0.0625")}, None, "2026-12-01")
    assert bench.refused(late).code == "expired"


def test_an_expired_bag_that_is_in_the_mix_can_be_told() -> None:
    bench = unopened()
    bench.say(do.Skip("salt", "later"))
    told = do.ByHand("premix", Decimal(24), "fine", "power cut", "Brida", in_mix=True)
    bench.say(told)
    bench.say(opened("0.0625", "B", expires="2026-01-31"))
    assert bench.line("premix").loads[0].lot == "B" and not bench.batch.hold


def told_twice() -> Bench:
    bench = in_mix(unopened())
    bench.say(opened("0.125", "A", second="Brida"))
    bench.say(opened("0.0625", "A", second="Brida"))
    assert any("156.25 mg/kg" in reason for reason in bench.batch.hold)
    return bench


def test_a_review_by_two_people_settles_which_strength_was_right() -> None:
    bench = told_twice()
    bench.say(do.ReviewLot("premix", "A", "the bag was read again", second="Brida"))
    assert not bench.batch.hold
    assert bench.line("premix").lots["A"].tellings == ({**NITRITE, "salt": Decimal("0.9375")},)


def test_a_review_that_finds_the_stronger_leaves_the_hold() -> None:
    bench = in_mix(unopened())
    bench.say(opened("0.125", "A", second="Brida"))
    bench.say(do.ReviewLot("premix", "A", "the bag was read again", second="Brida"))
    assert any("156.25 mg/kg" in reason for reason in bench.batch.hold)


def test_a_review_wants_another_second_person() -> None:
    bench = told_twice()
    assert bench.refused(do.ReviewLot("premix", "A", "why")).code == "second-wanted"
    assert bench.refused(do.ReviewLot("premix", "A", "why", "Ansel")).code == "same-person"
    assert bench.batch.hold


def test_a_lot_that_was_told_once_has_nothing_to_review() -> None:
    bench = in_mix(unopened())
    assert bench.refused(do.ReviewLot("premix", "A", "why", "Brida")).code == "told-once"
    assert bench.refused(do.ReviewLot("premix", "Z", "why", "Brida")).code == "told-once"
