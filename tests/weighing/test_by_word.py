"""What the batch must have is in the mix by more than one person's word before it is closed."""

from decimal import Decimal

import pytest

from station.weighing import commands as do
from tests.benchside import RING, Bench
from tests.weighing.test_gone import gross
from tests.weighing.test_second_dose import salted


def by_word() -> Bench:
    """The cure accepted and called tipped while its cup is on a shelf; all else is made."""
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Tip("premix"))
    bench.say(do.Skip("pepper", "none"))
    bench.say(do.Skip("garlic", "none"))
    return bench


ALL = ("pepper", "garlic")


def peppered() -> Bench:
    """Salt and pepper, and the formula says that nothing is made without the pepper."""
    fresh = RING.replace("cooked cured comminuted", "fresh comminuted sausage")
    parts = fresh.replace('amount = "0.30 %"', 'amount = "0.30 %"\nrequired = true')
    return salted("[[addition]]".join(parts.split("[[addition]]")[n] for n in (0, 1, 3)))


def test_a_cure_that_one_person_calls_tipped_does_not_close_the_batch() -> None:
    bench = by_word()
    refusal = bench.refused(do.Close(ALL))
    assert refusal.code == "unseen" and bench.batch.end is None


def test_its_empty_vessel_on_the_scale_is_enough() -> None:
    bench = by_word()
    bench.show("fine", gross("cup 2", "0.10"))
    assert bench.line("premix").loads[0].residue_g == Decimal("0.10")
    bench.say(do.Close(ALL))
    assert bench.batch.end == "closed"


def test_a_second_person_who_saw_it_go_in_is_enough() -> None:
    bench = by_word()
    bench.say(do.Tip("premix", second="Brida"))
    bench.say(do.Close(ALL))
    assert bench.batch.end == "closed"


def test_every_vessel_of_the_cure_must_be_seen() -> None:
    bench = salted()
    bench.pour("cup 2", "12")
    bench.say(do.End("premix"))
    bench.lift()
    bench.show("fine", gross("cup 2", "0"))
    bench.show("fine", "0")
    bench.pour("cup 2", "12")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Tip("premix"))
    assert [load.seen_in for load in bench.line("premix").loads] == [True, False]
    bench.say(do.Skip("pepper", "none"))
    bench.say(do.Skip("garlic", "none"))
    assert bench.refused(do.Close(ALL)).code == "unseen"


def test_what_went_in_unweighed_on_top_of_what_was_seen_needs_no_witness() -> None:
    bench = peppered()
    bench.add("pepper", "cup 1", "36")
    bench.say(do.Tip("pepper", more=True))
    bench.say(do.Close(("pepper",)))
    assert bench.batch.end == "closed"


def test_what_went_in_unweighed_by_one_persons_word_alone_needs_a_second_person() -> None:
    bench = peppered()
    bench.say(do.Tip("pepper", more=True))
    refusal = bench.refused(do.Close(("pepper",)))
    assert (refusal.code, refusal.next) == ("unseen", "let a second person say so")
    bench.say(do.Tip("pepper", second="Brida"))
    bench.say(do.Close(("pepper",)))
    assert bench.batch.end == "closed"


def test_a_second_person_may_say_it_with_the_tip() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Tip("premix", second="Brida"))
    assert bench.line("premix").loads[0].seen_in


@pytest.mark.parametrize(("net", "seen"), [("0.95", True), ("1.00", False), ("-0.15", True)])
def test_as_good_as_empty_is_a_twenty_fifth_of_what_was_in_it(net: str, seen: bool) -> None:
    bench = by_word()
    bench.show("fine", gross("cup 2", net))
    assert bench.line("premix").loads[0].seen_in is seen


def test_another_scale_does_not_know_the_vessel() -> None:
    bench = by_word()
    bench.show("bench", "98")
    assert not bench.line("premix").loads[0].seen_in


def test_a_vessel_that_weighs_like_another_proves_nothing() -> None:
    bench = Bench()
    bench.show("fine", gross("cup 2", "0.60"))
    bench.say(do.RecordVessel("cup 9", "fine"))
    bench.show("fine", "0")
    bench.begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Use("cup 2"))
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Tip("premix"))
    bench.show("fine", gross("cup 2", "0.10"))
    assert bench.line("premix").loads and not bench.line("premix").loads[0].seen_in


def test_pepper_in_the_mix_by_one_persons_word_closes_as_ever() -> None:
    bench = salted()
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "36")
    bench.lift()
    bench.say(do.Tip("pepper"))
    bench.say(do.Skip("garlic", "none"))
    bench.say(do.Close(("garlic",)))
    assert bench.batch.end == "closed"
