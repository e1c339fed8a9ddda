"""What a scale may be told: to zero with an empty pan, to clear its tare, and never to tare."""

import pytest

from drivers.reading import Kind
from station.weighing import commands as do
from station.weighing.commands import Refusal
from station.weighing.orders import may_tell
from tests.benchside import CUPS, Bench


def refused(bench: Bench, order: str, scale: str = "fine") -> str:
    with pytest.raises(Refusal) as caught:
        may_tell(bench.floor.sight(), do.TellScale(scale, order))
    return caught.value.code


def test_an_empty_pan_is_zeroed_even_where_its_zero_has_wandered() -> None:
    bench = Bench().begin()
    may_tell(bench.floor.sight(), do.TellScale("fine", "zero"))
    bench.show("fine", "0.40")
    assert bench.told.troubles[0].reason == "zero"
    may_tell(bench.floor.sight(), do.TellScale("fine", "zero"))


def test_a_loaded_pan_is_never_zeroed() -> None:
    bench = Bench()
    bench.show("fine", CUPS["cup 3"])
    assert refused(bench, "zero") == "not-empty"
    bench.move("fine", "0")
    assert refused(bench, "zero") == "not-empty"  # not settled


def test_a_zero_that_a_tare_hangs_on_is_not_moved() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.show("fine", "0")  # the cup is in the hand
    assert refused(bench, "zero") == "under-way"
    bench.say(do.Void("salt", "test"))
    assert refused(bench, "zero", "nothing") == "unknown-scale"


def test_a_tare_that_somebody_set_is_cleared_and_a_dead_scale_is_told_nothing() -> None:
    bench = Bench().begin()
    bench.show("fine", "0", kind=Kind.NET)
    assert bench.told.troubles[0].reason == "zeroed"
    may_tell(bench.floor.sight(), do.TellScale("fine", "clear-tare"))
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    assert refused(bench, "clear-tare") == "blocked-link"
