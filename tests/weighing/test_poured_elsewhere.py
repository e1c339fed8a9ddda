"""What is poured into another vessel than the one of the weighing may end in the mix: it counts for
the most, whatever happens to the station before that vessel is lifted off."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.weighing import commands as do
from station.weighing.commands import Refusal
from tests.benchside import CUPS, Bench
from tests.weighing.test_second_dose import restart


def at_premix() -> Bench:
    """Cup 3 was set down for the premix and lifted off again: the weighing is begun."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    assert bench.line("premix").tare.vessel == "cup 3"
    return bench


def gone(bench: Bench) -> list[Decimal]:
    return [part.content_g for part in bench.line("premix").gone]


def test_it_is_on_record_before_the_vessel_leaves_the_pan() -> None:
    bench = at_premix()
    bench.pour("cup 2", "24")
    assert gone(bench) == [Decimal("24.00")]
    bench.lift()
    assert gone(bench) == [Decimal("24.00")], "counted once"


@pytest.mark.parametrize(("net", "counted"), [("0.15", []), ("0.20", [Decimal("0.20")])])
def test_from_three_divisions_on(net: str, counted: list[Decimal]) -> None:
    bench = at_premix()
    bench.pour("cup 2", net)
    assert gone(bench) == counted


def test_each_part_counts_once() -> None:
    bench = at_premix()
    bench.pour("cup 2", "10")
    bench.show("fine", str(Decimal(CUPS["cup 2"]) + 24))
    bench.lift()
    assert gone(bench) == [Decimal("10.00"), Decimal("14.00")]


def test_the_vessel_set_down_again_counts_anew() -> None:
    bench = at_premix()
    for _ in range(2):
        bench.pour("cup 2", "10")
        bench.lift()
    assert gone(bench) == [Decimal("10.00"), Decimal("10.00")]


def test_a_restart_before_the_lift_loses_nothing() -> None:
    """24 g tipped unseen, and 23.90 g weighed as if nothing had happened: 250 mg/kg."""
    bench = at_premix()
    bench.pour("cup 2", "24")
    restart(bench)
    bench.lift()
    assert gone(bench) == [Decimal("24.00")]
    bench.pour("cup 3", "23.90")
    for _ in range(2):  # it is as it was; the key
        try:
            bench.say(do.Accept("premix"))
        except Refusal:
            break
    bench.lift()
    assert not bench.line("premix").loads
    assert bench.told.sentence == "nobody saw where 24 g of premix went"


def test_its_own_vessel_is_no_other() -> None:
    bench = at_premix()
    bench.pour("cup 3", "24")
    assert gone(bench) == []
    assert not any(isinstance(event, ev.PouredElsewhere) for event in bench.events)
