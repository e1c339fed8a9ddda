"""The jar of a limited line, weighed before and after, shows whether what left a cup went back."""

import pytest

from station.weighing import commands as do
from tests.benchside import Bench
from tests.weighing.test_gone import fill
from tests.weighing.test_second_dose import salted


def test_the_jar_shows_that_it_went_back() -> None:
    """300 g less the 24 g in the cup: the 12 g that were spooned out are in the jar again."""
    bench = salted()
    bench.show("bench", "300")
    bench.say(do.WeighJar("premix", "bench"))
    bench.show("bench", "0")
    bench.pour("cup 2", "12")
    fill(bench, "cup 2", "12", "0")
    fill(bench, "cup 2", "0", "24")
    bench.show("bench", "276")
    assert "all is back" in bench.say(do.WeighJar("premix", "bench"))
    assert bench.told.word == "IN BAND"


def test_the_jar_shows_that_it_did_not_go_back() -> None:
    bench = salted()
    bench.show("bench", "300")
    bench.say(do.WeighJar("premix", "bench"))
    bench.show("bench", "0")
    bench.pour("cup 2", "12")
    fill(bench, "cup 2", "12", "0")
    fill(bench, "cup 2", "0", "24")
    bench.show("bench", "264")
    bench.say(do.WeighJar("premix", "bench"))
    assert bench.told.troubles[0].asks == "doubt"


def test_the_jar_is_not_weighed_while_the_cup_is_lifted() -> None:
    bench = salted()
    bench.pour("cup 2", "12")
    bench.lift()
    bench.show("bench", "288")
    assert bench.refused(do.WeighJar("premix", "bench")).code == "under-way"


@pytest.mark.parametrize(
    ("grams", "vessel"),
    [
        ("340", "bowl"),
        ("346", "bowl"),  # three divisions of 2 g are the same weight
        ("332", None),
        ("358", "bowl"),  # with the 12 g that are in doubt
        ("360", None),
        ("1200", "tub"),
        ("620", None),
    ],
)
def test_what_may_be_a_vessel_is_no_jar(grams: str, vessel: str | None) -> None:
    """A cup on the pan, and the same cup with what is in doubt, would prove that it went back."""
    bench = Bench()
    bench.show("bench", "340")
    bench.say(do.RecordVessel("bowl", "bench"))
    bench.show("bench", "0")
    bench.begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "12")
    fill(bench, "cup 2", "12", "0")
    bench.show("bench", grams)
    if vessel is None:
        bench.say(do.WeighJar("premix", "bench"))
        return
    refusal = bench.refused(do.WeighJar("premix", "bench"))
    assert (refusal.code, refusal.sentence) == ("no-jar", f"this may be {vessel}, and no jar")
