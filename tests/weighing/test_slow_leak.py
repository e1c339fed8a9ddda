"""A cup that loses 0.05 g a second, slower than anything that counts as movement."""

from decimal import Decimal

import pytest

from station.batch.lawful import agent_g
from station.batch.progress import phase
from station.weighing import commands as do
from tests.benchside import Bench
from tests.weighing.test_second_dose import salted

A_SECOND = Decimal("0.05")
SETTLED = pytest.mark.parametrize("settled", [True, False], ids=["settled", "moving"])


def leak(bench: Bench, gross: Decimal, seconds: int, settled: bool = True) -> Decimal:
    """The gross after so many seconds; `settled`: the scale calls it stable all the while."""
    for _ in range(seconds * 10):
        gross -= A_SECOND / 10
        bench.now += 0.1
        bench.one("fine", str(gross), stable=settled)
    return gross


def most_g(bench: Bench) -> Decimal:
    """Grams of premix that may be in the mix at most, by the judge."""
    (row,) = (row for row in bench.batch.rows if row.maximum == Decimal("0.00015625"))
    agent = agent_g(bench.line("premix"), row) / row.counted(bench.line("premix").contains)
    return Decimal(round(float(agent), 2))


@SETTLED
def test_what_leaks_out_of_a_cure_on_the_pan_counts_for_the_most(settled: bool) -> None:
    """Ten grams in 200 s, and poured on again: 34 g may be in the mix, 30 g are allowed."""
    bench = salted()
    gross = bench.pour("cup 2", "24")
    left = leak(bench, gross, 200, settled)
    bench.show("fine", str(left))
    assert abs(bench.line("premix").in_doubt_g - 10) <= Decimal("0.15")
    for part in range(1, 40):
        bench.move("fine", str(left + (gross - left) * part / 40))
    bench.show("fine", str(gross))
    assert bench.told.troubles[0].asks == "doubt"
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"
    bench.lift()
    assert not bench.line("premix").loads
    assert not bench.line("premix").accepted


def test_a_leak_that_leaves_the_most_lawful_is_counted_and_asks_nobody() -> None:
    bench = salted()
    gross = bench.pour("cup 2", "24")
    left = leak(bench, gross, 40)
    for part in range(1, 10):
        bench.move("fine", str(left + (gross - left) * part / 10))
    bench.show("fine", str(gross))
    assert bench.line("premix").in_doubt_g == 2 and bench.told.word == "IN BAND"
    bench.say(do.Accept("premix"))
    bench.lift()
    assert Decimal("26") < most_g(bench) < Decimal("26.5")


@SETTLED
@pytest.mark.parametrize("seconds", [2, 4, 10, 40])
def test_what_leaks_after_the_key_voids_the_key(seconds: int, settled: bool) -> None:
    bench = salted()
    gross = bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    leak(bench, gross, seconds, settled)
    bench.lift()
    assert not bench.line("premix").loads
    assert bench.told.word in ("PUT BACK", "ANSWER", "WAIT")
    assert bench.line("premix").lifted is not None


def test_one_division_after_the_key_is_no_leak_and_what_is_left_counts() -> None:
    bench = salted()
    gross = bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    leak(bench, gross, 1)
    bench.lift()
    assert bench.line("premix").loads[0].net_g == Decimal("23.95")


def test_a_cure_that_leaks_away_in_the_hand_is_missed_when_its_cup_comes_back() -> None:
    """Lifted without its key, a minute on a shelf."""
    bench = salted()
    gross = bench.pour("cup 2", "24")
    bench.lift()
    bench.show("fine", str(gross - 3))
    assert bench.told.troubles[0].asks == "missing"
    assert bench.line("premix").in_doubt_g == 3


def test_a_cup_that_leaks_empty_after_it_was_accepted_is_not_called_tipped_unseen() -> None:
    """Half of it left on the way: it is asked about, and counts as weighed until then."""
    bench = salted()
    gross = bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.show("fine", str(gross - 12))
    assert "PREMIX in the mix?" in bench.told.sentence
    assert bench.line("premix").standing and most_g(bench) >= 24
    assert phase(bench.batch) == "additions"


def test_a_leak_of_a_seasoning_is_weighed_as_what_is_left() -> None:
    bench = salted()
    bench.add("premix", "cup 2", "24")
    gross = bench.pour("cup 1", "36")
    leak(bench, gross, 30)
    bench.lift()
    assert bench.line("pepper").loads[0].net_g == Decimal("34.50")
