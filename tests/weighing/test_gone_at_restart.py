"""What left a vessel of a limited line while the station was away, or stands there afterwards."""

from decimal import Decimal

from station.batch import events as ev
from station.weighing import commands as do
from tests.benchside import CUPS, Bench
from tests.weighing.test_gone import fill, gross
from tests.weighing.test_second_dose import restart, salted


def test_a_cup_refilled_after_a_restart_to_what_it_held_is_in_doubt() -> None:
    bench = salted()
    bench.pour("cup 2", "20")
    restart(bench)
    bench.show("fine", CUPS["cup 2"])
    bench.show("fine", gross("cup 2", "20"))
    assert bench.line("premix").in_doubt_g == 20


def test_another_vessel_after_a_restart_is_no_content() -> None:
    bench = salted()
    bench.pour("cup 2", "20")
    restart(bench)
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    bench.show("fine", gross("cup 2", "20"))
    assert not bench.line("premix").in_doubt
    assert not [e for e in bench.events if isinstance(e, ev.ContentSeen) and e.gross_g > 120]


def stands_at_a_restart(stands: str, tared: str) -> Bench:
    """One cup is tared, another stands there when the station comes back."""
    bench = salted()
    bench.show("fine", CUPS[tared])
    bench.show("fine", "0")
    bench.show("fine", CUPS[stands])
    restart(bench)
    bench.show("fine", CUPS[stands])
    return bench


def test_a_lighter_vessel_that_is_called_as_it_was_after_a_restart_stays_another_one() -> None:
    bench = stands_at_a_restart("cup 2", tared="cup 3")
    fill(bench, "cup 2", "0", "23.40")
    bench.say(do.Accept("premix"))
    assert bench.told.troubles[0].sentence == "lighter than its tare: another vessel?"
    bench.lift()
    assert bench.line("premix").in_doubt_g == Decimal("23.40")


def test_a_heavier_vessel_that_is_called_as_it_was_is_asked_about_by_its_weight() -> None:
    bench = stands_at_a_restart("cup 2", tared="cup 1")
    bench.say(do.Accept("premix"))
    (trouble,) = bench.told.troubles
    assert (trouble.asks, trouble.sentence) == ("swapped", "this weighs like cup 2 empty")


def test_a_vessel_that_is_as_it_was_is_poured_into_again() -> None:
    bench = salted()
    bench.pour("cup 2", "12")
    restart(bench)
    bench.show("fine", gross("cup 2", "12"))
    assert bench.told.troubles[0].asks == "away"
    bench.say(do.Accept("premix"))
    assert bench.told.word == "POUR"


def test_what_is_poured_while_it_is_to_be_voided_outlives_the_station() -> None:
    bench = salted()
    bench.pour("cup 1", "0.60")
    bench.say(do.Void("premix", "a spoon too early", second="Brida"))
    fill(bench, "cup 1", "0.60", "24")
    restart(bench)
    bench.lift()
    bench.show("fine", CUPS["cup 1"])
    assert bench.line("premix").in_doubt_g == Decimal("23.40")
