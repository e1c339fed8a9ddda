"""Lots: another strength stops for the maker, who sends it back or rescales by it."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.weighing import commands as do
from station.weighing import events as ev
from tests.benchside import Bench


def lot(strength: str, rescale: bool = False, **more: str) -> do.OpenLot:
    contains = {"sodium nitrite": Decimal(strength)}
    contains |= {agent.replace("_", " "): Decimal(share) for agent, share in more.items()}
    return do.OpenLot("premix", "P-77", contains, None, "2026-11-30", rescale)


def unopened() -> Bench:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    return bench


def ingoing(bench: Bench, agent: str) -> Fraction:
    """What all targets bring of an agent, per gram of meat."""
    found = Fraction(0)
    for line in bench.batch.lines.values():
        found += bench.batch.target(line.name) * Fraction(line.contains.get(agent, 0))
    return found / Fraction(bench.batch.meat_g)


def test_another_strength_stops_and_says_both_ways() -> None:
    bench = unopened()
    refused = bench.refused(lot("0.0588"))
    assert refused.code == "other-strength" and "--rescale" in refused.next


@pytest.mark.parametrize("strength", ["0.0588", "0.0625", "0.05", "0.0571", "0.07"])
def test_rescaled_by_the_bag_there_is_as_much_nitrite_and_as_much_salt(strength: str) -> None:
    """Exactly as much: 125 mg/kg of nitrite and 1.9875 % of salt, whatever the bag."""
    bench = unopened()
    bench.say(lot(strength, rescale=True))
    assert ingoing(bench, "sodium nitrite") == Fraction("0.000125")
    assert ingoing(bench, "salt") == Fraction("0.018") + Fraction("0.002") * Fraction("0.9375")
    premix = bench.line("premix")
    assert premix.contains["salt"] == 1 - Decimal(strength)


def test_a_rescaled_batch_is_weighed_to_its_new_targets_and_stays_lawful() -> None:
    bench = unopened()
    bench.say(lot("0.05", rescale=True))
    assert bench.batch.target("premix") == 30  # 24 g of 6.25 % are 30 g of 5 %
    salt = bench.batch.target("salt")
    assert salt == 216 + 24 * Fraction("0.9375") - 30 * Fraction("0.95")
    bench.add("salt", "cup 3", str(round(Decimal(float(salt)) * 20) / Decimal(20)))
    bench.add("premix", "cup 2", "30")
    assert bench.line("premix").accepted is not None and not bench.batch.hold


def test_it_is_too_late_once_the_salt_is_weighed() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    bench.say(lot("0.0625"))
    bench.add("salt", "cup 3", "216")
    assert bench.refused(lot("0.05", rescale=True)).code == "weighed"


def test_a_bag_that_brings_more_salt_than_there_was_to_be_is_refused() -> None:
    """From a 0.5 % premix 125 mg/kg of nitrite bring 2.4875 % of salt."""
    bench = unopened()
    refused = bench.refused(lot("0.005", rescale=True))
    assert refused.code == "no-rescale" and "more salt" in refused.sentence


def test_another_cure_is_no_other_strength() -> None:
    bench = unopened()
    both = lot("0.0625", rescale=True, sodium_nitrate="0.04")
    assert bench.refused(both).code == "other-agents"


def test_the_record_says_who_rescaled_and_to_what() -> None:
    bench = unopened()
    bench.say(lot("0.05", rescale=True))
    lines = [e.line for e in bench.events if isinstance(e, ev.Rescaled)]
    assert lines == ["premix", "salt"]
    assert bench.last(ev.Rescaled).who == "Ansel"  # type: ignore[attr-defined]


def jars(after: str) -> tuple[Bench, str]:
    """The jar on the bench scale, d = 2 g: 800 g before, `after` when 24 g of premix are in the
    cup."""
    bench = unopened()
    bench.say(lot("0.0625"))
    bench.add("salt", "cup 3", "216")
    bench.show("bench", "800")
    bench.say(do.WeighJar("premix", "bench"))
    bench.show("bench", "0")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.show("bench", after)
    return bench, bench.say(do.WeighJar("premix", "bench"))


def test_a_jar_that_lost_what_the_cup_gained_is_no_matter() -> None:
    bench, answer = jars("776")
    assert "it lost what the cup gained" in answer
    assert not [e for e in bench.events if isinstance(e, ev.Warned) and e.warning == "jar"]


def test_a_jar_that_lost_more_is_told_and_nothing_is_corrected() -> None:
    bench, answer = jars("750")
    assert "the jar lost 50 g and the cup gained 24 g" in answer
    assert bench.last(ev.Warned).warning == "jar"  # type: ignore[attr-defined]
    assert bench.line("premix").actual_g == 24 and not bench.batch.hold


def test_only_a_regulated_line_has_a_jar_and_not_where_something_is_weighed() -> None:
    bench = unopened()
    bench.say(lot("0.0625"))
    bench.show("bench", "800")
    assert bench.refused(do.WeighJar("pepper", "bench")).code == "no-jar"
    bench.show("fine", "131.20")
    assert bench.refused(do.WeighJar("premix", "fine")).code == "under-way"
    assert bench.refused(do.WeighJar("premix", "attic")).code == "unknown-scale"
