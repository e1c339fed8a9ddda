"""What a bag of known size has left, by what was weighed from it in all batches."""

from decimal import Decimal

import pytest

from station.batch.bags import left_g, low
from station.bench.overview import overview
from station.weighing import commands as do
from tests.benchside import NITRITE, Bench
from tests.screen.moments import shown


def sized(size_g: str | None, lot: str = "P-50") -> do.OpenLot:
    size = Decimal(size_g) if size_g else None
    return do.OpenLot("premix", lot, NITRITE, None, "2026-11-30", size_g=size)


def before_the_cure(size_g: str | None) -> Bench:
    bench = Bench().begin()
    bench.say(sized(size_g))
    bench.add("salt", "cup 3", "216")
    return bench


def left(bench: Bench) -> Decimal | None:
    return left_g(bench.station, bench.line("premix").lot)


def test_what_was_weighed_from_it_is_gone() -> None:
    bench = before_the_cure("1000")
    assert left(bench) == 1000
    bench.add("premix", "cup 2", "24")
    assert left(bench) == 976, "what clings to the cup left the bag, too"


def test_batches_that_are_over_count() -> None:
    bench = before_the_cure("1000")
    bench.add("premix", "cup 2", "24")
    bench.say(do.Abandon("a test"))
    assert bench.station.drawn == {"P-50": Decimal("24.00")}
    bench.open(batch="b-2")
    bench.weigh_meat()
    bench.say(sized("1000"))
    assert left(bench) == 976
    bench.say(do.Abandon("a test"))
    assert bench.station.drawn == {"P-50": Decimal("24.00")}, "nothing more was weighed"


def test_told_again_without_its_size_it_keeps_it() -> None:
    bench = before_the_cure("1000")
    bench.say(sized(None))
    assert left(bench) == 1000


def test_a_bag_of_which_nobody_said_the_size_is_never_low() -> None:
    bench = before_the_cure(None)
    assert left(bench) is None and low(bench.station) == []
    assert not bench.station.drawn


def test_more_than_was_in_it_leaves_nothing() -> None:
    bench = before_the_cure("20")
    bench.add("premix", "cup 2", "24")
    assert left(bench) == 0


@pytest.mark.parametrize(
    ("size_g", "told"),
    [("30", False), ("24", False), ("23.95", True)],
)
def test_it_is_low_before_the_line_when_it_holds_too_little_for_it(size_g: str, told: bool) -> None:
    assert bool(low(before_the_cure(size_g).station)) is told


@pytest.mark.parametrize(("size_g", "told"), [("30", False), ("29.95", True)])
def test_it_is_low_under_a_fifth_of_its_size(size_g: str, told: bool) -> None:
    """24 g out of 30 leave 6, a fifth."""
    bench = before_the_cure(size_g)
    bench.add("premix", "cup 2", "24")
    assert bool(low(bench.station)) is told


def test_what_nobody_weighed_takes_nothing_off() -> None:
    bench = before_the_cure("1000")
    bench.say(do.Tip("premix", more=True))
    assert left(bench) == 1000


def test_before_the_meat_is_weighed_nothing_is_wanted_yet() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.say(sized("2"))
    assert low(bench.station) == []


def test_the_overview_says_what_is_left() -> None:
    bench = before_the_cure("25")
    bench.add("premix", "cup 2", "24")
    assert "premix: lot P-50 is low, 1 g left" in overview(shown(bench))
