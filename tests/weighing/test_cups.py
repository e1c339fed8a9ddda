"""One cup: poured, lifted, put back, tipped, and what each of these accepts."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.progress import verdict
from station.weighing import commands as do
from tests.benchside import Bench


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
