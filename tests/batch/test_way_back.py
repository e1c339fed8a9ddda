"""The way back from too much in the mix: the least more meat, and what is lacking then."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.batch.progress import phase, verdict
from station.batch.way_back import Over, TopUp, too_much, way_back, with_meat_at_hand
from station.weighing import commands as do
from tests.benchside import FINE, RING, Bench
from tests.weighing.test_second_dose import salted

SALT_ALONE = "[[addition]]".join(RING.split("[[addition]]")[part] for part in (0, 1, 3))
FIXED = RING.replace('amount = "0.30 %"', 'amount = "36 g"')


def in_the_mix(bench: Bench, line: str, cup: str, net: str) -> None:
    """Poured, and tipped before it was accepted, whatever it is."""
    bench.pour(cup, net)
    bench.lift()
    bench.say(do.Tip(line, unaccepted=True))
    bench.tip(cup, "0.30")  # too much to be an empty vessel of a cure


def over_salted(net: str = "231") -> Bench:
    """1.8 % of 12 kg is 216 g, 220.32 g at most."""
    bench = Bench().begin()
    in_the_mix(bench, "salt", "cup 3", net)
    return bench


def test_so_much_salt_wants_so_much_meat_and_no_gram_less() -> None:
    """231 = 0.018 x 1.02 x M': M' = 12581.7 g, 12582 on the grid of 2 g."""
    back = way_back(over_salted().batch)
    assert back.over == (Over("salt", Decimal("231.00"), Fraction("220.32"), FINE.division_g),)
    assert (back.meat_g, back.add_meat_g) == (Decimal(12582), Decimal(582))
    assert with_meat_at_hand(over_salted().batch, Decimal(582)) == ()
    (stays,) = with_meat_at_hand(over_salted().batch, Decimal(580))
    assert (stays.line, stays.upper_g) == ("salt", Fraction("230.9688"))


@pytest.mark.parametrize(("net", "over"), [("220.30", False), ("220.35", True)])
def test_at_the_upper_end_of_its_band_nothing_is_over(net: str, over: bool) -> None:
    batch = over_salted(net).batch
    assert too_much(batch) is over
    back = way_back(batch)
    assert back.possible and (back.add_meat_g != 0) is over


def test_what_was_right_before_lacks_something_then() -> None:
    bench = salted()  # 216 g of salt are in
    in_the_mix(bench, "premix", "cup 2", "27")
    back = way_back(bench.batch)
    assert [over.line for over in back.over] == ["premix"]
    assert back.meat_g is not None
    assert back.meat_g == 13236  # 27 / (0.002 x 1.02) = 13235.3
    assert back.top_up == (
        TopUp(
            "salt", Fraction("238.248") - Fraction("215.90"), Fraction("238.248"), FINE.division_g
        ),
    )


def test_more_nitrite_than_the_law_has_it_counts_with_its_uncertainty() -> None:
    """32 g of 6.25 % want 12.8 kg by 156.25 mg/kg, and a little more for what the scales cannot
    tell; by the band 15.69 kg."""
    bench = salted()
    in_the_mix(bench, "premix", "cup 2", "32")
    assert phase(bench.batch) == "on hold"
    assert way_back(bench.batch).meat_g == 15688  # 32 / (0.002 x 1.02) = 15686.3


def test_a_fixed_amount_is_not_brought_back_by_meat() -> None:
    bench = Bench(FIXED).begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    in_the_mix(bench, "pepper", "cup 1", "40")
    back = way_back(bench.batch)
    assert (back.possible, back.why_not) == (False, "no meat is enough for pepper")


def test_what_nobody_knows_has_no_way_back() -> None:
    bench = salted()
    bench.say(do.Tip("premix", more=True))
    why = "nobody knows how much premix is in the mix"
    assert (way_back(bench.batch).possible, way_back(bench.batch).why_not) == (False, why)


def test_what_nobody_saw_comes_first() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    for _ in range(2):
        bench.say(do.Void("premix", "dropped"))
    why = "nobody saw where some premix went: that comes first"
    assert way_back(bench.batch).why_not == why


def test_what_was_only_said_to_be_in_is_over_on_no_grid() -> None:
    """Voided unseen, then said to be in the mix: no scale has shown any of it, and the bench says
    so instead of a figure."""
    bench = salted()
    bench.pour("cup 2", "30")
    for _ in range(2):
        bench.say(do.Void("premix", "dropped"))
    bench.say(do.Tip("premix", unaccepted=True))
    (over,) = way_back(bench.batch).over
    assert (over.line, over.actual_g, over.at_least) == ("premix", 0, True)
    assert bench.told.sentence == "premix: nobody knows how much is in the mix"


def test_nothing_over_is_right_as_it_is() -> None:
    back = way_back(salted().batch)
    assert (back.over, back.add_meat_g, back.meat_g) == ((), Decimal(0), Decimal(12000))


def test_the_bench_says_how_much_meat_ends_a_hold() -> None:
    bench = salted()
    in_the_mix(bench, "premix", "cup 2", "27")
    assert bench.told.word == "ON HOLD"
    assert bench.told.next == "1236 g more meat end it, or abandon after review"


def test_the_way_back_is_gone_with_ordinary_weighings() -> None:
    """Too much salt is no hold: the meat is offered, taken, and what lacks then is weighed."""
    bench = over_salted()
    bench.say(do.OpenLot("premix", "P-41", {"sodium nitrite": Decimal("0.0625")}, None, ""))
    bench.add("premix", "cup 2", "24")
    bench.add("pepper", "cup 1", "36")
    bench.add("garlic", "cup 1", "60")
    assert verdict(bench.batch, bench.line("salt")) == "unaccepted"
    assert any(offer.verb == "use" for offer in bench.told.offers)
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "1200")
    bench.show("bench", str(1200 + 582))
    bench.say(do.Accept("pork"))
    for grams in ("0", "1200", "0"):
        bench.show("bench", grams)
    assert not too_much(bench.batch)
    assert bench.told.line == "premix", bench.told
    for line, cup in (("premix", "cup 2"), ("pepper", "cup 1"), ("garlic", "cup 1")):
        left = bench.batch.target(line) - Fraction(bench.line(line).actual_g)
        bench.add(line, cup, str(round(float(left), 2)))
    for line in ("premix", "pepper", "garlic"):
        assert verdict(bench.batch, bench.line(line)) == "in"


def test_with_the_cure_in_and_nothing_over_no_meat_is_taken() -> None:
    bench = salted()
    bench.add("premix", "cup 2", "24")
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "1800")
    assert bench.refused(do.Accept("pork")).code == "meat-ended"


@settings(max_examples=30, deadline=None)
@given(salt=st.integers(200, 400), premix=st.integers(20, 60))
def test_it_ends_inside_every_band_and_a_division_less_does_not(salt: int, premix: int) -> None:
    bench = salted_with(salt, premix)
    back = way_back(bench.batch)
    assert back.possible and back.add_meat_g is not None
    assert with_meat_at_hand(bench.batch, back.add_meat_g) == ()
    if back.add_meat_g:
        assert with_meat_at_hand(bench.batch, back.add_meat_g - 2) != ()
    lacking = {top.line for top in back.top_up}
    for name, grams in (("salt", salt), ("premix", premix)):
        target = bench.batch.target(name) * Fraction(back.meat_g or 0) / 12000
        assert (name in lacking) == (grams < target * Fraction(98 if name == "salt" else 96, 100))


def salted_with(salt: int, premix: int) -> Bench:
    """So many grams of either typed as what is in the mix, in a kitchen whose scale is dead."""
    bench = Bench().begin()
    bench.say(do.ByHand("salt", Decimal(salt), "fine", "power cut", in_mix=True))
    if phase(bench.batch) == "additions":
        bench.say(
            do.ByHand("premix", Decimal(premix), "fine", "power cut", second="Brida", in_mix=True)
        )
    return bench


def test_before_any_meat_there_is_no_way_back_by_more_of_it() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.say(do.ByHand("salt", Decimal(20), "fine", "power cut", in_mix=True))
    assert way_back(bench.batch).why_not == "no meat is weighed yet"


HEAT = '[[step]]\nname = "{}"\nbefore = "filling"\n'
COLD = '[[step]]\nname = "into the cold"\nafter = "filling"\nsince = "{}"\ntime = "<= 90 min"\n'


def salted_and(steps: str, done: str | None = None, skipped: bool = False) -> Bench:
    """Over-salted, the rest in, and a step ended or left out."""
    bench = Bench(SALT_ALONE + steps).begin()
    in_the_mix(bench, "salt", "cup 3", "231")
    bench.add("pepper", "cup 2", "36")
    if done is not None:
        bench.say(do.Skip(done, "no") if skipped else do.EndStep(done, reason="it is so"))
    return bench


@pytest.mark.parametrize(
    ("name", "skipped", "raw"),
    [("cook", False, False), ("cook", True, True), ("soak the casings", False, True)],
)
def test_what_was_heated_is_not_mixed_with_meat_again(name: str, skipped: bool, raw: bool) -> None:
    back = way_back(salted_and(HEAT.format(name), name, skipped).batch)
    assert back.possible is raw
    assert back.why_not == (None if raw else "cook is done: it is not raw any more")


def test_a_step_is_heat_by_its_temperature_too() -> None:
    step = HEAT.format("hold") + 'temperature = ">= 72 degC"\n'
    assert not way_back(salted_and(step, "hold").batch).possible


@pytest.mark.parametrize(
    ("since", "now", "possible"),
    [
        ("first meat", "2026-11-30T11:30:00.000Z", True),
        ("first meat", "2026-11-30T11:30:01.000Z", False),
        ("rest", "2026-11-30T11:30:01.000Z", True),  # it rested in the cold
        ("first meat", "", True),
    ],
)
def test_too_long_out_of_the_cold_nothing_is_mixed_in(since: str, now: str, possible: bool) -> None:
    rest = '[[step]]\nname = "rest"\nbefore = "filling"\n'
    bench = salted_and(rest + COLD.format(since), "rest")
    back = way_back(bench.batch, now)
    assert back.possible is possible
    if not possible:
        late = "into the cold: 90 min, 90 min at most: too long out of the cold"
        assert back.why_not == late


def test_a_hold_that_meat_cannot_end_in_time_says_so_at_the_bench() -> None:
    bench = Bench(RING + COLD.format("first meat")).begin()
    bench.add("salt", "cup 3", "216")
    in_the_mix(bench, "premix", "cup 2", "40")
    assert bench.batch.hold
    told = bench.floor.guide(now="2026-11-30T11:30:00.000Z")
    assert "more meat end it" in told.next
    told = bench.floor.guide(now="2026-11-30T11:30:01.000Z")
    assert told.next.endswith("too long out of the cold; abandon after review")
