"""The most that may be in the mix and the least that surely is: what nobody saw widens the gap, and
only a proof closes it. In a hand that lies, the record must not say less than the mix may hold."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.lawful import breaches
from station.batch.progress import phase
from station.weighing import commands as do
from tests.benchside import CUPS, Bench
from tests.weighing.test_lots import opened, unopened
from tests.weighing.test_second_dose import restart


def standing() -> Bench:
    """24 g of premix accepted in cup 2, and nobody has tipped it yet."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    assert bench.line("premix").standing
    return bench


def test_a_cure_voided_unseen_stays_in_the_sum_of_the_most() -> None:
    """Really tipped, void said twice, weighed again: 250 mg/kg would be in the mix."""
    bench = standing()
    bench.say(do.Void("premix", "dropped"))
    bench.say(do.Void("premix", "dropped"))
    assert phase(bench.batch) == "on hold"
    assert "24 g of premix went" in bench.batch.hold[0]
    assert "second person" in bench.told.next and "jar" in bench.told.next
    assert not bench.line("premix").loads
    assert bench.refused(do.Accept("premix")).code == "not-its-turn"
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("premix").tare is None, "no second weighing begins"
    assert bench.refused(do.Close(("premix",))).code == "not-closable"


def test_an_empty_cup_proves_nothing_of_where_a_cure_went() -> None:
    bench = standing()
    bench.say(do.Void("premix", "wrong cup"))
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("premix").doubts and phase(bench.batch) == "on hold"


def test_a_second_person_closes_the_doubt_and_the_one_at_the_bench_does_not() -> None:
    bench = standing()
    bench.say(do.Void("premix", "dropped"))
    bench.say(do.Void("premix", "dropped"))
    again = do.Void("premix", "swept up", second="Ansel")
    assert bench.refused(again).code == "same-person"
    assert bench.refused(do.Void("premix", "swept up", second="Nobody")).code == "unknown-person"
    assert bench.refused(do.Void("premix", "swept up")).code == "nothing-to-void"
    bench.say(do.Void("premix", "swept up", second="Brida"))
    assert phase(bench.batch) == "additions" and not bench.line("premix").doubts
    bench.add("premix", "cup 2", "24")
    assert bench.line("premix").accepted is not None and not breaches(bench.batch)


@pytest.mark.parametrize(("after", "settled"), [("500", True), ("480", False), ("520", False)])
def test_the_jar_proves_it_where_it_is_heavier_by_what_was_voided(
    after: str, settled: bool
) -> None:
    """A maker who works alone has the jar: 500 g before, 476 g without the 24 g of the cup."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.show("bench", "500")
    bench.say(do.WeighJar("premix", "bench"))
    bench.show("bench", "0")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Void("premix", "not today"))
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("premix").doubts
    bench.show("bench", after)
    bench.say(do.WeighJar("premix", "bench"))
    assert (not bench.line("premix").doubts) is settled
    assert (phase(bench.batch) == "additions") is settled


def test_what_was_poured_and_not_accepted_is_in_doubt_too() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "20")
    bench.say(do.Void("premix", "clumped"))
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("premix").doubts[0].content_g == 20


def test_a_cup_in_which_nothing_was_poured_is_voided_without_a_doubt() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.show("fine", CUPS["cup 2"])
    bench.say(do.Void("premix", "another cup"))
    assert not bench.line("premix").doubts and phase(bench.batch) == "additions"


def test_a_line_that_no_rule_limits_is_voided_as_ever() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Void("salt", "wet"))
    bench.show("fine", CUPS["cup 3"])
    assert not bench.line("salt").doubts and phase(bench.batch) == "additions"


def test_a_spoon_that_looks_like_residue_buys_no_more_than_the_limit() -> None:
    """5.90 g on the emptied cup: 18.10 g are sure, and 24 g may be in the mix all the same. 6.30 g
    more would be in the band by the least and 30.30 g, 158 mg/kg, by the most."""
    bench = standing()
    bench.show("fine", "104.35")
    bench.say(do.Tip("premix"))
    bench.show("fine", "0")
    assert bench.line("premix").actual_g == Decimal("18.10")
    bench.pour("cup 1", "6.30")
    assert bench.told.word == "TAKE OUT"
    assert bench.refused(do.Accept("premix")).code == "over"
    bench.show("fine", str(Decimal(CUPS["cup 1"]) + Decimal("5.30")))
    assert bench.told.troubles[0].asks == "doubt", "what is taken out may be in the mix as well"
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"
    bench.say(do.Accept("premix", second="Brida"))
    assert bench.told.word == "IN BAND"


def test_a_bag_told_twice_is_judged_by_the_stronger_and_lifts_no_hold() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.say(opened("0.10", "A", second="Brida"))
    assert phase(bench.batch) == "on hold"
    assert bench.refused(opened("0.0625", "A")).code == "second-wanted"
    bench.say(opened("0.0625", "A", second="Brida"))
    assert phase(bench.batch) == "on hold" and breaches(bench.batch)


def test_a_bag_told_again_before_anything_of_it_was_weighed_is_only_corrected() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.say(opened("0.05", "A", rescale=True, second="Brida"))
    assert bench.line("premix").lot.before == ()
    assert bench.batch.target("premix") == 30


def test_a_cure_retold_as_another_agent_stays_on_hold_when_told_back() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    other = {"potassium nitrate": Decimal("0.0625"), "salt": Decimal("0.9375")}
    bench.say(do.OpenLot("premix", "A", other, None, "2026-11-30", second="Brida"))
    bench.say(opened("0.0625", "A", second="Brida"))
    assert any("another cure" in reason for reason in bench.batch.hold)


def test_a_refused_bag_stays_refused_without_its_date() -> None:
    bench = unopened()
    assert bench.refused(opened("0.0625", "B", expires="2026-01-31")).code == "expired"
    assert bench.refused(opened("0.0625", "B")).code == "expired"
    assert bench.refused(opened("0.0625", "B", expires="2027-01-31")).code == "expired"
    bench.say(opened("0.0625", "C"))


def test_a_bag_is_expired_by_the_latest_day_on_record_however_the_clock_is_set() -> None:
    bench = unopened()
    bench.at = "2026-12-05T08:00:00.000Z"
    bench.say(do.Note("five days later"))
    bench.at = "2026-11-30T08:00:00.000Z"  # set back
    bench.say(do.Note("and back"))
    assert bench.refused(opened("0.0625", "B", expires="2026-12-04")).code == "expired"
    bench.say(opened("0.0625", "C", expires="2026-12-05"))


def two_tubs(second: str) -> Bench:
    """12 kg counted in the tub, then so much in a second one; nobody has seen the first empty."""
    bench = Bench()
    bench.vessels()
    bench.show("bench", "1300")
    bench.say(do.RecordVessel("tub 2", "bench"))
    bench.show("bench", "0")
    bench.open("24000")
    bench.say(do.Use("tub"))
    bench.show("bench", "11200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.say(do.Use("tub 2"))
    bench.show("bench", str(1300 + int(second)))
    return bench


@pytest.mark.parametrize(("second", "asked"), [("9800", True), ("9798", False), ("10200", True)])
def test_meat_within_two_percent_of_a_load_before_is_asked_about(second: str, asked: bool) -> None:
    """10 000 g in one tub, and a little trimmed in another."""
    bench = two_tubs(second)
    if not asked:
        bench.say(do.Accept("pork"))
        return
    refusal = bench.refused(do.Accept("pork"))
    assert refusal.code == "like-load"
    (offer,) = refusal.offers
    assert offer.params == {"line": "pork", "sure": True}
    bench.say(do.Accept("pork", sure=True))
    assert bench.batch.meat_g == 10000 + int(second)


def test_a_tub_seen_empty_between_makes_a_like_load_another_one() -> None:
    bench = two_tubs("9900")
    bench.show("bench", "0")
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "0")
    bench.say(do.Use("tub 2"))
    bench.show("bench", "11200")
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == 19900


@pytest.mark.parametrize(("off", "taken"), [("0.15", True), ("0.20", False), ("-0.20", False)])
def test_a_vessel_for_a_cure_is_itself_within_three_divisions_or_is_asked_about(
    off: str, taken: bool
) -> None:
    """A spoon in it, or the rest of the last line, would be weighed in as cure."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.show("fine", str(Decimal(CUPS["cup 2"]) + Decimal(off)))
    assert (bench.line("premix").tare is not None) is taken
    assert (bench.told.word == "BLOCKED") is not taken


def half_full(grams: str = "20") -> Bench:
    """So much premix in cup 2 on the scale, settled and not accepted."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", grams)
    return bench


def test_a_cure_that_went_back_by_one_persons_word_is_in_doubt() -> None:
    """Lifted with 20 g, really tipped, shown empty, "it went back", and poured once more: 44 g."""
    bench = half_full()
    bench.lift()
    bench.show("fine", CUPS["cup 2"])
    assert bench.told.troubles[0].asks == "missing"
    bench.say(do.Accept("premix"))
    assert [part.content_g for part in bench.line("premix").doubts] == [20]
    assert bench.batch.hold == ("nobody saw where 20 g of premix went",)
    bench.pour("cup 2", "24")
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"
    bench.lift()
    assert not bench.line("premix").loads


def test_a_second_person_settles_what_went_back_and_the_weighing_begins_anew() -> None:
    bench = half_full()
    bench.lift()
    bench.show("fine", CUPS["cup 2"])
    bench.say(do.Accept("premix"))
    bench.say(do.Void("premix", "back in its jar", second="Brida"))
    assert not bench.line("premix").doubts and not bench.batch.hold
    bench.show("fine", "0")
    bench.add("premix", "cup 2", "24")
    assert bench.line("premix").accepted is not None


def test_salt_that_went_back_is_believed() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.lift()
    bench.show("fine", CUPS["cup 3"])
    bench.say(do.Accept("salt"))
    assert not bench.line("salt").doubts and not bench.batch.hold


def test_what_settled_of_a_cure_outlives_the_station() -> None:
    """20 g settled and not accepted, the power goes, they are tipped, and the empty cup is shown:
    it cannot be called as it was, and to void it leaves the 20 g in doubt."""
    bench = half_full()
    restart(bench)
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 2"])
    assert bench.told.troubles[0].asks == "gone"
    assert bench.refused(do.Accept("premix")).code == "blocked-gap"
    bench.say(do.Void("premix", "nobody knows"))
    assert [part.content_g for part in bench.line("premix").doubts] == [20]


def test_a_cup_that_is_as_it_was_after_a_restart_goes_on_once_a_person_says_so() -> None:
    bench = half_full()
    restart(bench)
    bench.show("fine", "118.45")
    assert bench.told.troubles[0].asks == "away"
    bench.say(do.Accept("premix"))
    assert bench.told.word == "POUR"


@pytest.mark.parametrize(("grams", "kept"), [("118.60", 1), ("118.65", 2), ("118.25", 2)])
def test_what_settles_is_kept_once_it_differs_by_more_than_three_divisions(
    grams: str, kept: int
) -> None:
    """Poured on or spooned out: the last of it is what a restart asks about."""
    bench = half_full()
    bench.show("fine", grams)
    seen = [event for event in bench.events if isinstance(event, ev.ContentSeen)]
    assert len(seen) == kept
    assert bench.line("premix").seen_g == seen[-1].gross_g


def test_nothing_of_a_line_that_no_rule_limits_is_kept_on_the_way() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    assert not any(isinstance(event, ev.ContentSeen) for event in bench.events)
