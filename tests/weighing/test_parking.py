"""Several batches on one bench."""

from decimal import Decimal

from station.batch import events as ev
from station.weighing import commands as do
from tests.benchside import CUPS, NITRITE, Bench

SALT_GROSS = str(Decimal(CUPS["cup 3"]) + 216)


def with_salt_standing() -> Bench:
    """The first batch, its salt in cup 3, parked; a second one at the bench with its meat in."""
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.weigh_meat()
    bench.say(do.OpenLot("premix", "P-42", NITRITE, None, "2026-11-30"))
    return bench


def test_a_parked_batch_comes_back_as_it_was() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    before = bench.batch
    bench.say(do.Park())
    assert bench.station.batch is None and bench.told.word == "READY"
    bench.say(do.TakeUp("b-1"))
    assert bench.batch == before


def test_a_batch_is_not_parked_in_the_middle_of_a_weighing() -> None:
    bench = Bench().begin()
    bench.show("fine", CUPS["cup 3"])
    assert bench.refused(do.Park()).code == "under-way"
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Park())
    assert list(bench.station.parked) == ["b-1"]


def test_standing_salt_of_a_parked_batch_is_no_vessel_and_no_salt_of_another() -> None:
    bench = with_salt_standing()
    bench.show("fine", SALT_GROSS)
    assert "this holds salt of b-1" in bench.told.sentence
    bench.show("fine", str(Decimal(CUPS["cup 3"]) + 2))  # it comes back nearly empty
    assert "is this salt of b-1?" in bench.told.sentence
    assert bench.line("salt").tare is None and not bench.line("salt").loads
    assert bench.refused(do.Use("cup 3")).code == "vessel-taken"


def test_salt_of_a_parked_batch_set_down_in_mid_pour_is_noticed() -> None:
    bench = with_salt_standing()
    bench.pour("cup 1", "100")
    bench.lift()
    bench.show("fine", SALT_GROSS)
    assert (bench.told.word, bench.told.troubles[0].reason) == ("BLOCKED", "vessel")


def test_what_stayed_on_a_pan_is_expected_there_again() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.show("fine", SALT_GROSS)
    bench.say(do.Park())
    assert bench.station.parked["b-1"].left == {"fine": Decimal(SALT_GROSS)}
    bench.show("fine", "0")
    answer = bench.say(do.TakeUp("b-1"))
    assert "347.20 g stayed on fine" in answer
    assert bench.last(ev.Warned).warning == "left"  # type: ignore[attr-defined]


def test_a_tub_that_holds_meat_of_a_parked_batch_takes_no_other_meat_before_it_is_seen_empty() -> (
    None
):
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.say(do.Park())
    bench.open(batch="b-2")
    assert bench.refused(do.Use("tub")).code == "vessel-taken"
    bench.show("bench", "1200")
    assert "tub" not in bench.station.parked["b-1"].counted
    bench.say(do.Use("tub"))


def test_a_zeroing_found_out_late_reopens_the_parked_batch_it_belongs_to() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    bench.show("fine", "0")  # zeroed while loaded: it looked like a lift
    assert bench.line("salt").accepted is not None
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.show("fine", f"-{gross}")
    assert bench.station.parked["b-1"].lines["salt"].accepted is None
    assert bench.last(ev.Reopened).line == "salt"  # type: ignore[attr-defined]


def test_only_a_parked_batch_is_taken_up_and_only_onto_a_free_bench() -> None:
    bench = Bench().begin()
    assert bench.refused(do.TakeUp("b-1")).code == "batch-open"
    bench.say(do.Park())
    assert bench.refused(do.TakeUp("b-9")).code == "unknown-batch"


def two_tubs() -> Bench:
    """Two tubs alike, 6000 g of the first batch counted in one of them."""
    bench = Bench()
    bench.vessels()
    bench.show("bench", "1202")
    bench.say(do.RecordVessel("tub 2", "bench"))
    bench.show("bench", "0")
    bench.open()
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    return bench


def test_meat_that_stayed_on_the_pan_is_no_meat_of_the_next_batch() -> None:
    bench = two_tubs()
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.say(do.Use("tub 2"))
    assert bench.refused(do.Accept("pork")).code == "same-load"
    bench.show("bench", "0")
    bench.show("bench", "7200")  # lifted and put back
    assert bench.refused(do.Accept("pork")).code == "same-load"


def test_a_tub_named_before_parking_is_asked_about_when_another_batch_has_filled_it() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.say(do.Use("tub"))
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.say(do.Park())
    bench.say(do.TakeUp("b-1"))
    bench.show("bench", "7200")
    assert bench.refused(do.Accept("pork")).code == "vessel-taken"


def test_a_tub_like_another_is_not_seen_empty_by_its_weight_alone() -> None:
    bench = two_tubs()
    bench.show("bench", "0")
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.say(do.Use("tub 2"))
    bench.show("bench", "1202")
    assert "tub" in bench.station.parked["b-1"].counted


def test_the_wrong_cup_lifted_accepts_nothing() -> None:
    """While BLOCKED says that this is another batch's salt, a lift is no acceptance."""
    CUPS["cup 4"] = "134.20"
    try:
        bench = Bench().begin()
    finally:
        del CUPS["cup 4"]
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.weigh_meat()
    bench.say(do.OpenLot("premix", "P-42", NITRITE, None, "2026-11-30"))
    bench.show("fine", "134.20")
    bench.show("fine", "0")
    bench.show("fine", SALT_GROSS)
    assert bench.told.word == "BLOCKED"
    bench.lift()
    assert bench.line("salt").accepted is None


def test_who_is_at_the_bench_stays_there_when_batches_change() -> None:
    bench = Bench().begin()
    bench.say(do.Park())
    bench.say(do.Who("Brida", ("Ansel", "Brida")))
    bench.say(do.TakeUp("b-1"))
    assert bench.batch.who == "Brida"


def test_a_parked_cup_reopened_by_a_zeroing_is_still_known() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    bench.show("fine", "0")
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.weigh_meat()
    bench.say(do.OpenLot("premix", "P-42", NITRITE, None, "2026-11-30"))
    bench.show("fine", f"-{gross}")
    bench.show("fine", "0")
    assert bench.refused(do.Use("cup 3")).code == "vessel-taken"
    bench.show("fine", str(gross))
    assert bench.line("salt").tare is None


def test_a_zeroing_is_found_out_while_no_batch_is_at_the_bench() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    bench.show("fine", "0")
    bench.say(do.Park())
    bench.show("fine", f"-{gross}")
    bench.show("fine", "0")
    bench.say(do.TakeUp("b-1"))
    assert bench.line("salt").accepted is None


def test_a_batch_is_not_abandoned_while_something_stands() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    assert bench.refused(do.Abandon("spoilt")).code == "standing"
    bench.say(do.Void("salt", "spoilt"))
    bench.say(do.Void("salt", "thrown away"))
    bench.say(do.Abandon("spoilt"))


def parked_before_its_cure() -> Bench:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Park())
    return bench


def test_a_parked_batch_is_judged_by_the_limits_it_was_opened_with_and_says_so() -> None:
    """The eu's limit is 150 mg/kg or less; by that of the us 24 g on 12 kg are 125 mg/kg."""
    bench = parked_before_its_cure()
    rows = bench.station.parked["b-1"].rows
    answer = bench.say(do.TakeUp("b-1", "eu"))
    assert "judged by the limits of us" in answer and "eu" in answer
    warned = bench.last(ev.Warned)
    assert (warned.line, warned.warning) == ("b-1", "authority")  # type: ignore[attr-defined]
    assert bench.batch.rows == rows and bench.batch.opened.authority == "us"


def test_a_parked_batch_under_the_same_limits_has_nothing_to_tell() -> None:
    bench = parked_before_its_cure()
    assert bench.say(do.TakeUp("b-1", "us")) == "batch b-1 is at the bench again"
    assert not [event for event in bench.events if isinstance(event, ev.Warned)]
