"""Why nothing can be accepted: each reason with its sentence, and the way out of it."""

from decimal import Decimal

import pytest

from drivers.reading import Condition, Kind
from station.weighing import commands as do
from tests.benchside import Bench


def test_something_set_down_freezes_acceptance_until_it_is_gone() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "132")
    bench.move("fine", "347.20")
    bench.show("fine", "347.20")  # 84 g at once: a spoon, not salt
    assert bench.told.troubles[0].reason == "jump"
    assert "+84.00 g" in bench.told.sentence
    bench.lift()
    assert bench.line("salt").accepted is None
    bench.show("fine", "263.20")
    assert "84.00 g less than when lifted" in bench.told.sentence
    bench.say(do.Accept("salt"))
    assert bench.told.word == "POUR"


def test_what_was_set_down_beside_the_cup_and_taken_away_changes_nothing() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "132")
    bench.move("fine", "347.20")
    bench.show("fine", "347.20")
    bench.show("fine", "263.20")
    assert (bench.told.word, bench.told.net_g) == ("POUR", Decimal(132))


def test_a_key_says_that_what_was_set_down_belongs_in() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "132")
    bench.move("fine", "347.20")
    bench.show("fine", "347.20")
    bench.say(do.Accept("salt"))
    assert bench.told.word != "IN BAND"  # it must settle anew
    bench.show("fine", "347.20")
    assert bench.told.word == "IN BAND"


def test_a_zero_key_under_load_looks_like_a_lift_and_is_found_out() -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    bench.show("fine", "0")  # zeroed while loaded
    assert bench.line("salt").accepted is not None
    bench.show("fine", f"-{gross}")  # now the cup is lifted
    assert bench.line("salt").accepted is None
    assert bench.told.troubles[0].reason == "zeroed"
    bench.show("fine", "0")
    bench.show("fine", str(gross))
    assert (bench.told.line, bench.told.word) == ("salt", "IN BAND")
    bench.lift()
    assert bench.line("salt").accepted is not None


@pytest.mark.parametrize(
    ("reading", "reason"),
    [
        ({"unit": "lb"}, "unit"),
        ({"kind": Kind.NET}, "zeroed"),
        ({"condition": Condition.OVERLOAD}, "overload"),
        ({"condition": Condition.UNDERLOAD}, "underload"),
        ({"condition": Condition.ERROR}, "error"),
    ],
)
def test_a_reading_that_cannot_be_believed_blocks(reading: dict[str, str], reason: str) -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.show("fine", "216", **reading)
    assert (bench.told.word, bench.told.troubles[0].reason) == ("BLOCKED", reason)
    assert bench.told.net_g is None
    bench.show("fine", "0")
    assert bench.line("salt").accepted is None


def test_a_silent_scale_is_stale_and_shows_no_number() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.silence(2)
    assert bench.told.troubles[0].reason == "stale"
    assert bench.told.net_g is None


def test_a_wandered_zero_blocks() -> None:
    bench = Bench().begin()
    bench.show("fine", "0.45")
    assert bench.told.troubles[0].reason == "zero"


def test_time_that_runs_backwards_blocks() -> None:
    bench = Bench().begin()
    bench.now -= 5
    bench.one("fine", "0")
    assert bench.told.troubles[0].reason == "clock"


def test_without_the_fine_scale_a_premix_is_refused_and_with_its_cable_out_blocked() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    assert (bench.told.scale, bench.told.troubles[0].reason) == ("fine", "link")
    coarse = Bench(scales=(Bench().scales[1],))
    coarse.show("bench", "130")
    coarse.say(do.RecordVessel("cup 3", "bench"))
    coarse.show("bench", "1200")
    coarse.say(do.RecordVessel("tub", "bench"))
    coarse.show("bench", "0")
    coarse.open("12000")
    coarse.weigh_meat("12000")
    coarse.say(do.OpenLot("premix", "P", {"sodium nitrite": Decimal("0.0625")}, None, "2026-11-30"))
    coarse.say(do.Skip("salt", "later"))
    assert coarse.told.troubles[0].reason == "unfit"
    coarse.show("bench", "130")
    assert coarse.line("premix").tare is None


def test_a_question_stays_while_the_weight_moves() -> None:
    """The wrong cup is on: pouring into it must not look like pouring into the right one."""
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.lift()
    bench.show("fine", "86.90")
    assert bench.told.word == "BLOCKED"
    for grams in range(1, 20):
        bench.move("fine", str(Decimal("86.90") + grams))
        assert bench.told.word == "BLOCKED"


def test_after_silence_nothing_is_poured_before_it_is_known_what_is_on_the_pan() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.silence(5)
    bench.move("fine", "250")
    assert (bench.told.word, bench.told.next) == ("BLOCKED", "let it settle")


def test_a_heavier_vessel_of_another_scale_is_known() -> None:
    bench = Bench()
    bench.show("bench", "340")
    bench.say(do.RecordVessel("bowl", "bench"))
    bench.show("bench", "0")
    bench.begin()
    bench.show("fine", "131.20")
    bench.show("fine", "0")  # taken off to be filled
    bench.show("fine", "340.00")
    assert (bench.told.word, bench.told.sentence) == ("ANSWER", "this weighs like bowl empty")


def test_a_void_is_done_when_the_cup_is_seen_empty_whatever_nobody_saw() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.silence(5)
    bench.show("fine", "226.20")
    assert bench.told.troubles[0].reason == "gap"
    bench.say(do.Void("salt", "spoonful lost"))
    bench.show("fine", "0")
    bench.show("fine", "131.20")
    assert bench.line("salt").voiding is None


def test_between_the_lift_and_its_decision_nothing_asks_the_cup_back() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    for grams in ("200", "20", "0"):
        bench.move("fine", grams)
        assert bench.told.sentence in ("salt: lifted", "salt 216.00 g", "salt: 147.20 g to go")
    bench.show("fine", "0")
    assert bench.line("salt").accepted is not None
