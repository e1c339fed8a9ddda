"""What comes into the cup all at once may be a spoon, or a scoop of the cure: no scale tells. Taken
out again, it counts for the most until somebody else saw where it went."""

from decimal import Decimal

import pytest

from station.weighing import commands as do
from tests.benchside import CUPS, Bench

CUP = Decimal(CUPS["cup 2"])


def at(line: str, cup: str = "cup 2") -> Bench:
    bench = Bench().begin()
    if line == "premix":
        bench.add("salt", "cup 3", "216")
    bench.show("fine", CUPS[cup])
    return bench


def dumped(bench: Bench, grams: str, cup: str = "cup 2") -> None:
    """It lies there from one reading to the next, and settles."""
    bench.show("fine", str(Decimal(CUPS[cup]) + Decimal(grams)))


def spooned_out(bench: Bench, cup: str = "cup 2") -> None:
    bench.show("fine", CUPS[cup])


def gone(bench: Bench) -> list[Decimal]:
    return [part.content_g for part in bench.line("premix").gone]


def test_what_was_dumped_and_taken_out_again_counts_for_the_most() -> None:
    """20 g from one reading to the next, spooned into the mix, and 24 g poured as they should be:
    44 g of premix would make 229 mg/kg."""
    bench = at("premix")
    dumped(bench, "20")
    assert bench.told.word == "ANSWER"
    assert bench.told.next == (
        "accept if it belongs in; taken off, somebody must say where it went"
    )
    spooned_out(bench)
    assert gone(bench) == [Decimal("20.00")]
    assert bench.told.sentence == "nobody saw where 20 g of premix went"
    for net in range(1, 25):
        bench.move("fine", str(CUP + net))
    bench.show("fine", str(CUP + 24))
    assert [o.verb for o in bench.told.offers if o.verb == "accept"] == ["accept"]
    assert bench.told.asks is not None and "premix went" in bench.told.asks.question


def test_a_second_person_who_saw_it_ends_the_question() -> None:
    bench = at("premix")
    dumped(bench, "20")
    spooned_out(bench)
    bench.say(do.Accept("premix", second="Brida"))
    assert gone(bench) == [] and bench.told.word == "POUR"


def test_what_belongs_in_is_accepted_and_leaves_no_doubt() -> None:
    bench = at("premix")
    dumped(bench, "20")
    bench.say(do.Accept("premix"))
    assert gone(bench) == [] and bench.told.word == "POUR"


@pytest.mark.parametrize(("stays", "counted"), [("19.85", []), ("19.80", [Decimal("0.20")])])
def test_a_part_of_it_counts_from_three_divisions_on(stays: str, counted: list[Decimal]) -> None:
    bench = at("premix")
    dumped(bench, "20")
    dumped(bench, stays)
    assert gone(bench) == counted


def test_a_spoon_that_lay_in_the_salt_is_taken_off_and_nothing_is_asked() -> None:
    bench = at("salt", "cup 3")
    dumped(bench, "120", "cup 3")
    assert bench.told.next == "take it off, or accept if it belongs in"
    spooned_out(bench, "cup 3")
    assert bench.told.word == "POUR" and not bench.line("salt").gone
