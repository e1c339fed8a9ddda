"""The cables of two scales exchanged: each device speaks under the other's name."""

from collections.abc import Callable
from decimal import Decimal

import pytest

from drivers.reading import Condition, Kind, Reading
from station.weighing import commands as do
from tests.benchside import BENCH, CUPS, FINE, Bench, as_shown
from tests.weighing.test_second_dose import restart, salted

EMPTY, FULL = CUPS["cup 2"], str(Decimal(CUPS["cup 2"]) + 24)
Sends = Callable[[Decimal], Decimal]


def as_sent(value: Decimal) -> Decimal:
    return value


def two_decimals(value: Decimal) -> Decimal:
    """A bench scale that sends as many decimals as the fine one."""
    return value.quantize(Decimal("0.01"))


class Swapped:
    """A bench after the exchange; `fine` and `bench` are what lies on those devices."""

    def __init__(self, bench: Bench, bench_sends: Sends = as_sent) -> None:
        self.bench = bench
        self._sends = bench_sends

    def show(self, fine: str, bench: str, seconds: float = 1.5, stable: bool = True) -> None:
        found = {"bench": as_shown(fine, FINE), "fine": self._sends(as_shown(bench, BENCH))}
        for _ in range(round(seconds * 10)):
            self.bench.now += 0.1
            for name, value in found.items():
                reading = Reading(
                    value,
                    "g",
                    Kind.GROSS,
                    stable,
                    Condition.OK,
                    self.bench.now,
                    str(value).encode(),
                )
                self.bench.floor.observe(name, reading)
            self.bench.floor.tick(self.bench.now)
            self.bench.notice()

    def pour_on_the_bench_device(self) -> None:
        self.show("0", "0")
        self.show("0", EMPTY)
        for part in range(1, 40):
            self.show("0", str(Decimal(EMPTY) + Decimal(24) * part / 40), 0.1, stable=False)
        self.show("0", FULL)

    def pour_on_the_fine_device(self) -> None:
        self.show("0", "0")
        self.show(EMPTY, "0")
        for part in range(1, 40):
            self.show(str(Decimal(EMPTY) + Decimal(24) * part / 40), "0", 0.1, stable=False)
        self.show(FULL, "0")

    def lift(self) -> None:
        self.show("20", "20", 0.1, stable=False)
        self.show("0", "0")


def running(bench: Bench) -> Bench:
    for up in (False, True):
        for name in ("fine", "bench"):
            bench.floor.link(name, up, "its cable is out", "plug it in")
    return bench


def stopped(bench: Bench) -> Bench:
    restart(bench)
    return bench


WHEN = pytest.mark.parametrize("when", [running, stopped])
SENDS = pytest.mark.parametrize("sends", [as_sent, two_decimals])


def accepts_nothing(bench: Bench) -> None:
    assert bench.told.word not in ("IN BAND", "POUR")
    assert bench.refused(do.Accept("premix")).code.startswith(("blocked", "no-vessel", "not-"))


@WHEN
@SENDS
def test_a_cure_on_the_coarse_scale_under_the_fine_ones_name_is_not_accepted(
    when: Callable[[Bench], Bench], sends: Sends
) -> None:
    swapped = Swapped(when(salted()), sends)
    swapped.pour_on_the_bench_device()
    accepts_nothing(swapped.bench)
    swapped.lift()
    assert not swapped.bench.line("premix").loads


@WHEN
@SENDS
def test_a_cure_on_the_fine_scale_under_the_coarse_ones_name_is_not_accepted(
    when: Callable[[Bench], Bench], sends: Sends
) -> None:
    swapped = Swapped(when(salted()), sends)
    swapped.pour_on_the_fine_device()
    accepts_nothing(swapped.bench)
    assert any(trouble.reason == "device" for trouble in swapped.bench.pans()["bench"].troubles)
    swapped.lift()
    assert not swapped.bench.line("premix").loads


@WHEN
@SENDS
def test_a_cure_half_poured_when_the_cables_are_exchanged_is_not_accepted(
    when: Callable[[Bench], Bench], sends: Sends
) -> None:
    """Its cup goes to the pan of the coarse device, which now speaks for the fine one."""
    bench = salted()
    bench.pour("cup 2", "12")
    swapped = Swapped(when(bench), sends)
    half = Decimal(EMPTY) + 12
    swapped.show("0", str(half))
    for part in range(1, 40):
        swapped.show("0", str(half + Decimal(12) * part / 40), 0.1, stable=False)
    swapped.show("0", FULL)
    accepts_nothing(bench)
    swapped.lift()
    assert not bench.line("premix").loads


def test_fewer_decimals_are_told_at_once_and_the_way_back_is_a_right_cable() -> None:
    swapped = Swapped(running(salted()))
    swapped.show("0", "0")
    assert "it shows 0 g, but its division is 0.05 g" in swapped.bench.told.sentence
    bench = running(swapped.bench)
    for grams in ("0", "0.05", "0"):
        bench.show("fine", grams)
        bench.show("bench", "0")
    bench.add("premix", "cup 2", "24")
    assert bench.line("premix").tipped_g > 23


def test_a_coarse_scale_with_the_fine_ones_decimals_meets_the_vessel_on_record_first() -> None:
    """98.45 g on record; steps of 2 g show 98.00 g, which is no empty vessel for a cure."""
    swapped = Swapped(running(salted()), two_decimals)
    swapped.show("0", "0")
    swapped.show("0", EMPTY)
    assert "no empty vessel on record" in swapped.bench.told.sentence
    assert swapped.bench.line("premix").tare is None
