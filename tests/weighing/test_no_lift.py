"""What looks like the lift that accepts, and is none: each was found by attack."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.weighing import commands as do
from tests.benchside import Bench


def cure() -> Bench:
    """24 g of premix in cup 2, settled in band, its key pressed."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    return bench


@pytest.mark.parametrize("drift", ["0.50", "3.00"])
def test_a_zero_that_drifts_under_the_cup_and_is_zeroed_after_it_accepts_nothing(
    drift: str,
) -> None:
    bench = Bench().begin()
    gross = bench.pour("cup 3", "216")
    bench.show("fine", str(gross - Decimal(drift)))
    bench.move("fine", "20")
    bench.show("fine", f"-{drift}")
    assert bench.told.troubles[0].reason in ("zero", "zeroed")
    bench.show("fine", "0")
    assert bench.line("salt").accepted is None
    bench.show("fine", str(gross))
    assert (bench.told.word, bench.told.net_g) == ("IN BAND", Decimal(216))
    bench.lift()
    assert bench.line("salt").accepted is not None


@pytest.mark.parametrize("readings", [1, 4, 9])
def test_grains_between_the_key_of_a_cure_and_its_lift_void_the_key(readings: int) -> None:
    bench = cure()
    for _ in range(readings):
        bench.move("fine", "123.95")
    bench.lift()
    assert bench.line("premix").accepted is None
    assert bench.line("premix").lifted is not None


def test_a_cure_whose_key_was_void_is_asked_for_again_and_then_accepted() -> None:
    bench = cure()
    bench.move("fine", "125.00")
    bench.lift()
    assert bench.told.word == "PUT BACK"
    assert bench.told.sentence == "premix: in band, and its key comes before the lift"
    bench.show("fine", "122.45")
    assert bench.told.next == "press the key, then lift it off"
    bench.say(do.Accept("premix"))
    bench.lift()
    assert bench.line("premix").accepted is not None


def test_what_was_taken_out_between_the_key_of_a_cure_and_its_lift_voids_it() -> None:
    bench = cure()
    for _ in range(5):
        bench.move("fine", "121.00")
    bench.lift()
    assert bench.line("premix").accepted is None


@pytest.mark.parametrize(("readings", "accepted"), [(3, True), (4, False)])
def test_salt_poured_in_the_last_second_counts_and_the_hand_that_grips_does_not(
    readings: int, accepted: bool
) -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    for _ in range(readings):
        bench.move("fine", "349.20")
    bench.lift()
    assert (bench.line("salt").accepted is not None) is accepted
    if not accepted:
        lifted = bench.last(ev.Lifted)
        assert isinstance(lifted, ev.Lifted)
        assert (lifted.gross_g, lifted.unsettled) == (Decimal("349.20"), True)


def test_a_device_of_coarser_steps_under_the_name_of_the_fine_scale_accepts_nothing() -> None:
    bench = Bench().begin()
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    bench.floor.link("fine", True)
    bench.show("fine", "0")
    for grams in range(20, 132, 14):
        bench.move("fine", str(grams))
    bench.show("fine", "132")
    assert (bench.told.word, bench.told.troubles[0].reason) == ("BLOCKED", "device")
    assert bench.line("salt").tare is None
