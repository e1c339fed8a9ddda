"""The emptied cup that was lifted off again begins no line: another empty one takes its place."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.weighing import commands as do
from tests.benchside import CUPS, Bench
from tests.weighing.test_second_dose import salted


def at_garlic(*others: str) -> Bench:
    """The cup of the pepper came back empty, and was taken for the garlic. `others`: grams of more
    vessels on record."""
    bench = Bench()
    for number, grams in enumerate(others, 4):
        bench.show("fine", grams)
        bench.say(do.RecordVessel(f"cup {number}", "fine"))
        bench.show("fine", "0")
    bench.begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "36")
    bench.lift()
    bench.show("fine", "87.00")
    bench.show("fine", "0")
    assert bench.line("garlic").tare.vessel == "cup 1"
    return bench


def test_another_empty_vessel_takes_its_place_without_a_question() -> None:
    bench = at_garlic()
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("garlic").tare.vessel == "cup 2"
    assert bench.told.word == "POUR"
    bench.pour("cup 2", "60")
    bench.lift()
    assert bench.line("garlic").loads[0].net_g == 60


def test_the_same_one_stays_its_vessel() -> None:
    bench = at_garlic()
    bench.show("fine", "87.00")
    assert bench.line("garlic").tare.vessel == "cup 1" and bench.told.word == "POUR"


@pytest.mark.parametrize("extra", ["0.15", "0.20"])
def test_a_vessel_that_is_not_empty_is_asked_about(extra: str) -> None:
    """Three divisions of 0.05 g are the same weight."""
    bench = at_garlic()
    bench.show("fine", f"{float(CUPS['cup 2']) + float(extra):.2f}")
    same = extra == "0.15"
    assert (bench.line("garlic").tare.vessel == "cup 2") is same
    assert (bench.told.asks is None) is same


def test_one_that_something_was_poured_into_is_asked_about() -> None:
    bench = at_garlic()
    bench.pour("cup 1", "20")
    bench.lift()
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("garlic").tare.vessel == "cup 1"
    assert bench.told.asks is not None


def test_a_lighter_one_takes_its_place_too() -> None:
    bench = at_garlic()
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("garlic").tare.vessel == "cup 2"


def test_for_a_cure_and_for_salt_a_person_is_asked() -> None:
    """The tared cup may have been filled away from the scale, and weigh like the other one."""
    for bench in (Bench().begin(), salted()):
        line = bench.told.line
        bench.show("fine", CUPS["cup 1"])
        bench.show("fine", "0")
        bench.show("fine", CUPS["cup 2"])
        assert bench.line(line).tare.vessel == "cup 1"
        assert bench.told.troubles[0].asks == "swapped"


def test_of_two_vessels_of_one_weight_a_person_says_which() -> None:
    bench = at_garlic("140.00", "140.05")
    bench.show("fine", "140.00")
    assert bench.line("garlic").tare.vessel == "cup 1"
    assert bench.told.asks is not None


def test_a_line_that_is_in_the_mix_takes_no_vessel() -> None:
    bench = salted()
    refusal = bench.refused(do.Use("cup 1", "salt"))
    assert (refusal.code, refusal.sentence) == ("done", "salt is in the mix")
    assert not [e for e in bench.events if e == ev.VesselUsed("salt", "cup 1")]


def test_a_line_that_stands_takes_no_other_vessel() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    assert bench.refused(do.Use("cup 1", "salt")).sentence == "salt stands"


def put_back(first: str) -> Bench:
    """Salt lifted with 238 g in it, 22 too much; set down again with so much in it."""
    bench = Bench().begin()
    bench.pour("cup 3", "238")
    bench.lift()
    assert bench.told.word == "PUT BACK"
    bench.show("fine", str(Decimal(CUPS["cup 3"]) + Decimal(first)))
    return bench


def spoon(bench: Bench, net: str) -> None:
    for part in ("232", "226", "220"):
        bench.move("fine", str(Decimal(CUPS["cup 3"]) + Decimal(part)))
    bench.show("fine", str(Decimal(CUPS["cup 3"]) + Decimal(net)))


@pytest.mark.parametrize("first", ["238", "237.85"])  # three divisions are the same weight
def test_taking_out_what_is_too_much_after_it_was_put_back_asks_nothing(first: str) -> None:
    bench = put_back(first)
    assert bench.told.word == "TAKE OUT"
    spoon(bench, "216")
    assert (bench.told.word, bench.told.asks) == ("IN BAND", None)
    bench.lift()
    assert bench.line("salt").loads[0].net_g == 216


@pytest.mark.parametrize(("first", "asks"), [("237.85", None), ("237.80", "missing")])
def test_what_came_back_lighter_is_asked_about(first: str, asks: str | None) -> None:
    """Three divisions of 0.05 g are the same weight."""
    bench = put_back(first)
    assert next((t.asks for t in bench.told.troubles), None) == asks


def test_what_is_less_of_a_cure_is_asked_about_wherever_it_left_the_cup() -> None:
    bench = salted()
    bench.pour("cup 2", "26")
    bench.lift()
    bench.show("fine", str(Decimal(CUPS["cup 2"]) + 26))
    bench.move("fine", str(Decimal(CUPS["cup 2"]) + 25))
    bench.show("fine", str(Decimal(CUPS["cup 2"]) + 24))
    assert bench.told.troubles[0].asks == "missing"


@pytest.mark.parametrize(("net", "taken"), [("0.15", True), ("0.20", False)])
def test_one_that_was_poured_into_while_nothing_could_be_recorded_is_asked_about(
    net: str, taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = at_garlic()
    with monkeypatch.context() as patched:
        patched.setattr(bench, "notice", lambda: None)
        bench.show("fine", CUPS["cup 2"])
        bench.show("fine", str(Decimal(CUPS["cup 2"]) + Decimal(net)))
    bench.show("fine", str(Decimal(CUPS["cup 2"]) + Decimal(net)))
    assert (bench.line("garlic").tare.vessel == "cup 2") is taken


def test_one_that_is_filled_until_it_weighs_like_an_empty_one_is_not_that_one() -> None:
    """A light bowl that is not on record, with 48.45 g in it, weighs as much as cup 2."""
    bench = at_garlic()
    bench.show("fine", "50.00")
    for part in range(1, 40):
        bench.move("fine", str(50 + Decimal("48.45") * part / 40))
    bench.show("fine", CUPS["cup 2"])
    assert bench.line("garlic").tare.vessel == "cup 1"
    assert bench.told.word == "BLOCKED"
