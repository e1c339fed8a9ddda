"""A cure in fixed grams, and other meat than was planned: the meat weighed judges it."""

from decimal import Decimal

import pytest

from station.weighing import commands as do
from tests.benchside import CUPS, NITRITE, RING, Bench
from tests.weighing.test_hold_and_law import REQUIRED

CUP_NET = Decimal("24.00")
FIXED = RING.replace('amount = "0.20 %"', 'amount = "24 g"')


def at_its_turn(*tubs: str, required: bool = False) -> Bench:
    """Planned for 12 kg; so many grams of meat weighed, the salt put off, the premix next."""
    bench = Bench(FIXED)
    if required:
        bench.limits = (*bench.limits, REQUIRED)
    bench.vessels()
    bench.open("12000")
    for grams in tubs:
        bench.say(do.Use("tub"))
        bench.show("bench", str(1200 + int(grams)))
        bench.say(do.Accept("pork"))
        bench.show("bench", "0")
        bench.show("bench", "1200")
        bench.show("bench", "0")
    bench.say(do.End("pork", sure=True))
    bench.say(do.OpenLot("premix", "P-41", NITRITE, None, "2026-11-30"))
    bench.say(do.Skip("salt", "later"))
    assert bench.told.line == "premix" and bench.batch.target("premix") == 24
    return bench


def test_for_far_less_meat_than_planned_it_is_refused_before_anything_is_poured() -> None:
    """8000 g may hold 20 g of the premix, less the U of both weighings."""
    bench = at_its_turn("8000")
    assert (bench.told.word, bench.told.troubles[0].reason) == ("BLOCKED", "unfit")
    assert "24.00 g of premix is more than the 19.95 g that the meat weighed" in bench.told.sentence
    bench.show("fine", CUPS["cup 2"])
    assert bench.told.word == "BLOCKED"
    bench.pour("cup 2", "24")
    assert bench.refused(do.Accept("premix")).code.startswith("blocked")
    bench.lift()
    assert not bench.line("premix").loads


def test_what_would_be_lawful_for_the_meat_is_still_not_in_its_band() -> None:
    """Nobody may weigh 19 g of the 24 g that the formula says."""
    bench = at_its_turn("8000")
    bench.pour("cup 2", "19")
    assert bench.refused(do.Accept("premix")).code.startswith("blocked")
    bench.lift()
    assert not bench.line("premix").loads


@pytest.mark.parametrize(
    ("grams", "word", "says"),
    [
        ("9200", "BLOCKED", "is more than the 22.95 g that the meat weighed allows"),
        ("9260", "BLOCKED", "fine is not fit"),
        ("9400", "SET DOWN", "aim moved from 24.00 g"),
    ],
)
def test_the_law_is_named_only_where_it_leaves_nothing_of_the_band(
    grams: str, word: str, says: str
) -> None:
    """The band of 24 g begins at 23.04 g; 9216 g of meat may have so much, less what is unsure."""
    bench = at_its_turn(grams)
    assert bench.told.word == word and says in bench.told.sentence


def test_said_to_be_in_the_mix_of_too_little_meat_it_holds_the_batch() -> None:
    bench = at_its_turn("8000")
    typed = do.ByHand("premix", CUP_NET, "fine", "power cut", "Brida", in_mix=True)
    bench.say(typed)
    assert any("is over 156.25 mg/kg" in reason for reason in bench.batch.hold)


def test_for_far_more_meat_than_planned_what_is_required_blocks_it() -> None:
    bench = at_its_turn("12000", "12000", "6000", required=True)
    assert bench.told.word == "BLOCKED"
    assert "24.00 g of premix is less than the 59.55 g that the meat" in bench.told.sentence
    bench.pour("cup 2", "24")
    bench.lift()
    assert not bench.line("premix").loads


def test_for_far_more_meat_and_no_rule_of_a_least_it_is_weighed_as_the_formula_says() -> None:
    bench = at_its_turn("12000", "12000", "6000")
    bench.add("premix", "cup 2", "24")
    assert bench.line("premix").tipped_g > 23
    assert bench.line("premix").accepted is not None


def test_what_is_required_is_named_only_where_it_leaves_nothing_of_the_band() -> None:
    """12250 g must have 24.3 g and more; the band of 24 g ends at 24.48 g."""
    bench = at_its_turn("12250", required=True)
    assert bench.told.word == "BLOCKED" and "fine is not fit" in bench.told.sentence
