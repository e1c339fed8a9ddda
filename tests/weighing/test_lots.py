"""Lots: another strength stops for the maker, who sends it back or rescales by it."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch import events as ev
from station.weighing import commands as do
from tests.benchside import RING, Bench


def lot(strength: str, rescale: bool = False, **more: str) -> do.OpenLot:
    contains = {"sodium nitrite": Decimal(strength)}
    contains |= {agent.replace("_", " "): Decimal(share) for agent, share in more.items()}
    return do.OpenLot("premix", f"P-{strength}", contains, None, "2026-11-30", rescale)


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
    assert refused.code == "other-strength" and "work line and salt out by it" in refused.next


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
    refused = bench.refused(opened("0.005", "A", rescale=True, second="Brida"))
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


# the strength that a line is worked out for


def at_limit() -> Bench:
    """The ring with 0.25 % of a 6.25 % premix: exactly at 156.25 mg/kg."""
    bench = Bench(RING.replace('amount = "0.20 %"', 'amount = "0.25 %"'))
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    return bench


def opened(strength: str, name: str, rescale: bool = False, **more: str) -> do.OpenLot:
    contains = {"sodium nitrite": Decimal(strength)}
    today, expires = "2026-11-30", more.get("expires")
    return do.OpenLot("premix", name, contains, expires, today, rescale, more.get("second"))


def target(bench: Bench, name: str) -> str:
    """A target as the fine scale can show it."""
    return str(round(bench.batch.target(name) * 20) / Decimal(20))


def test_after_a_rescale_a_bag_of_the_formulas_strength_is_another_strength() -> None:
    """A strength misread and corrected: 75 g of a 6.25 % premix would be 390 mg/kg."""
    bench = unopened()
    bench.say(opened("0.04", "P-77", rescale=True))
    assert bench.batch.target("premix") == Fraction("37.5")
    assert bench.refused(opened("0.0625", "P-77")).code == "second-wanted"
    again = opened("0.0625", "P-77", second="Brida")
    assert bench.refused(again).code == "other-strength"
    bench.say(opened("0.0625", "P-77", rescale=True, second="Brida"))
    assert bench.batch.target("premix") == 24 and bench.batch.target("salt") == 216
    assert bench.line("premix").contains["sodium nitrite"] == Decimal("0.0625")


def test_a_rescale_said_twice_changes_nothing() -> None:
    bench = unopened()
    for _ in range(3):
        bench.say(opened("0.05", "A", rescale=True))
    assert bench.batch.target("premix") == 30
    bench.say(opened("0.05", "B"))  # another bag of the strength the line is made for
    assert bench.batch.target("premix") == 30 and bench.line("premix").lot.lot == "B"  # type: ignore[union-attr]
    assert ingoing(bench, "sodium nitrite") == Fraction("0.000125")


def test_the_limit_is_that_of_the_bag_in_use() -> None:
    """With a 10 % bag H is 0.00015625 (12000 g - U) / 0.10 - U, under 18.75 g."""
    bench = at_limit()
    bench.say(opened("0.0625", "A"))
    bench.say(opened("0.10", "B", rescale=True))
    bench.add("salt", "cup 3", target(bench, "salt"))
    bench.pour("cup 2", "18.85")
    assert bench.refused(do.Accept("premix")).code == "over"
    assert bench.told.limits is not None and bench.told.limits.hard < Decimal("18.75")


def test_no_other_strength_goes_into_the_same_line() -> None:
    bench = at_limit()
    bench.say(opened("0.0625", "A"))
    bench.say(opened("0.07", "B", rescale=True))
    bench.add("salt", "cup 3", target(bench, "salt"))
    bench.pour("cup 2", "10")
    assert bench.refused(do.NextBag("premix", "A")).code == "other-strength"


def test_what_went_in_before_its_lot_was_open_is_judged_by_what_the_bag_says() -> None:
    """24 g of a 10 % premix on 12 kg are 200 mg/kg."""
    bench = unopened()
    bench.say(do.Skip("salt", "later"))
    bench.say(do.ByHand("premix", Decimal(24), "fine", "power cut", "Brida", in_mix=True))
    assert any("strength" in reason for reason in bench.batch.hold)
    bench.say(opened("0.10", "B"))
    assert any("156.25" in reason for reason in bench.batch.hold)
    bench.say(opened("0.0625", "B", second="Brida"))  # read again: which of the two is true?
    assert any("156.25" in reason for reason in bench.batch.hold)
    assert bench.line("premix").loads[0].lot == "B"


def test_a_strength_far_off_wants_a_second_person() -> None:
    bench = unopened()
    assert bench.refused(opened("0.02", "A", rescale=True)).code == "second-wanted"
    same = opened("0.02", "A", rescale=True, second="Ansel")
    assert bench.refused(same).code == "same-person"
    bench.say(opened("0.02", "A", rescale=True, second="Brida"))
    assert bench.batch.target("premix") == 75


def test_of_two_open_bags_the_last_one_is_in_use_until_something_is_weighed() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.say(opened("0.0625", "B"))
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    assert bench.line("premix").loads[0].lot == "B"


def test_a_bag_that_expired_while_the_batch_was_parked_is_not_open_any_more() -> None:
    bench = unopened()
    bench.say(opened("0.0625", "A", expires="2026-11-30"))
    bench.say(do.Park())
    bench.at = "2026-12-01T08:00:00Z"
    bench.say(do.TakeUp(next(iter(bench.station.parked))))
    assert bench.told.sentence == "before salt, premix: open its lot, with the strength on the bag"
    late = do.NextBag("garlic", "G-2", "2026-11-30", "2026-12-01")
    assert bench.refused(late).code == "expired"


def test_salt_that_is_not_all_salt_is_made_up_by_what_it_holds() -> None:
    """60 % of it is salt: total salt stays 0.6 x 1.8 % + 0.2 % x 93.75 %."""
    half = 'role = "salt"\ncontains = { "salt" = "60 %" }'
    bench = Bench(RING.replace('role = "salt"', half))
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    before = ingoing(bench, "salt")
    bench.say(opened("0.05", "A", rescale=True))
    assert ingoing(bench, "salt") == before


def test_a_second_jar_is_compared_with_what_came_from_it() -> None:
    """14 g from one bag; the second bag's jar lost 24 g while the cup gained 10."""
    bench = unopened()
    bench.say(opened("0.0625", "A"))
    bench.say(opened("0.0625", "B"))
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "14")
    bench.say(do.NextBag("premix", "A"))
    bench.show("bench", "700")
    bench.say(do.WeighJar("premix", "bench"))
    bench.show("bench", "0")
    for part in range(1, 20):
        bench.move("fine", str(Decimal("98.45") + 14 + Decimal(part) / 2))
    bench.show("fine", "122.45")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.show("bench", "676")
    assert "lost 24 g and the cup gained 10 g" in bench.say(do.WeighJar("premix", "bench"))


@pytest.mark.parametrize("agent", ["sodium nitrite", "potassium nitrate"])
def test_a_bag_of_more_than_a_tenth_of_a_cure_is_read_by_two(agent: str) -> None:
    """Pure nitrite is sold for food only mixed with salt (note to SI 2007/1778)."""
    bench = unopened()
    bag = opened("0.0625", "A")
    near, pure = ({**bag.contains, agent: Decimal(share)} for share in ("0.10", "0.1001"))
    assert bench.refused(replace(bag, contains=near)).code == "other-strength"  # and no more
    assert bench.refused(replace(bag, contains=pure)).code == "second-wanted"
    assert bench.refused(replace(bag, contains=pure, second="Brida")).code == "other-strength"


def test_a_strong_cure_that_was_weighed_before_its_lot_was_open_is_read_by_two() -> None:
    bench = unopened()
    bench.say(do.Skip("salt", "later"))
    bench.say(do.ByHand("premix", Decimal(24), "fine", "power cut", "Brida", in_mix=True))
    assert bench.refused(opened("0.1001", "B")).code == "second-wanted"
    bench.say(opened("0.1001", "B", second="Brida"))


def test_salt_in_a_bag_is_no_cure() -> None:
    bench = unopened()
    bench.say(replace(opened("0.0625", "A"), contains={"sodium nitrite": Decimal("0.0625"),
                                                       "salt": Decimal("0.9375")}))  # fmt: skip
    assert bench.line("premix").lot is not None
