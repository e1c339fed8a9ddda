"""A sample leaves with a part of everything; what is wished then is weighed like a line."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.batch import events as ev
from station.batch.amounts import salt, whole_g
from station.batch.evolve import evolve
from station.batch.lawful import hard_limit, most_g
from station.batch.state import Batch
from station.units import rounded
from station.weighing import commands as do
from station.weighing.commands import Refusal
from station.weighing.meat import may_take
from tests.batch.built import row
from tests.benchside import FINE, NITRITE, RING, Bench
from tests.weighing.test_tallying import FORMULA, mixed, put

ADVICE = "cook it through"
CURED = "[[addition]]".join(RING.split("[[addition]]")[part] for part in (0, 1, 2))


def sample(net: str | None = "180", scale: str | None = None) -> do.TakeSample:
    return do.TakeSample(scale, None, None if net is None else Decimal(net), ADVICE)


def sampled(net: str = "180") -> Bench:
    bench = mixed()
    bench.say(sample(net))
    return bench


def percent(bench: Bench) -> Fraction:
    found = salt(bench.batch)
    assert found is not None
    return found.actual


def wish(line: str, share: str) -> do.Wish:
    return do.Wish(line, Decimal(share))


def test_a_sample_changes_no_percentage() -> None:
    bench = mixed()
    before = percent(bench)
    bench.say(sample("2000"))
    assert percent(bench) == before
    assert bench.batch.sampled_g == 2000


def test_before_the_first_bite_it_is_said_how_to_cook_it() -> None:
    bench = sampled()
    assert (bench.told.word, bench.told.sentence) == ("DO", ADVICE)
    (offer, *_) = bench.told.offers
    assert (offer.verb, offer.key) == ("tasted", "accept")
    assert [form.params["line"] for form in bench.told.forms] == ["salt", "pepper"]
    bench.say(do.EndTasting())
    assert bench.told.sentence == "all is in the mix"
    assert bench.refused(do.EndTasting()).code == "not-tasting"


def test_what_is_wished_is_weighed_into_what_is_left() -> None:
    """12000 g of meat, 251.8 g in it, 180 g taken: of the 24.1 g that 2 % want more, 23.75 g."""
    bench = sampled()
    assert bench.say(wish("salt", "0.02")) == "23.75 g more salt make 2 % of the meat"
    assert (bench.told.word, bench.told.line) == ("SET DOWN", "salt")
    amount, kept = bench.line("salt").addition.amount, Fraction(bench.batch.kept)
    exact = Fraction("215.9") + (240 - Fraction("215.9")) * kept
    assert amount.number == rounded(exact, 6, up=False)
    assert (amount.per, amount.text) == (12000, "2 % after tasting")
    bench.add("salt", "cup 1", "23.85")  # 0.10 g clings to the cup
    assert abs(percent(bench) - 2) < Fraction(1, 1000)
    assert bench.told.sentence == ADVICE  # something else may be wished
    bench.say(do.EndTasting())
    bench.say(do.Close())


@settings(max_examples=60, deadline=None)
@given(net=st.integers(50, 3000), share=st.integers(190, 300))
def test_what_is_wished_is_what_it_has(net: int, share: int) -> None:
    """Just the grams that it works out, whatever was taken before: the mix has what was wished, to
    what a millionth of a gram makes."""
    bench = MIXED.batch
    taken = ev.SampleTaken(net_g=Decimal(net), scale=None, division_g=Decimal(0), raw="",
                           advice="", who="Ansel")  # fmt: skip
    station = evolve(MIXED.station, taken, MIXED.at, bench.id)
    batch = station.batch
    assert batch is not None
    wanted = Fraction(share, 10000)
    line = batch.lines["salt"]
    more = (wanted * Fraction(batch.meat_g) - line.counts_g) / Fraction(batch.worth)
    left = whole_g(batch) * Fraction(batch.kept)
    meat_left = Fraction(batch.meat_g) * Fraction(batch.kept)
    salt_left = line.counts_g * Fraction(batch.kept)
    assert abs(left - (whole_g(bench) - net)) < Fraction(1, 10**6)
    assert abs((salt_left + more) / meat_left - wanted) < Fraction(1, 10**9)


MIXED = mixed()


def test_two_samples_leave_one_after_the_other() -> None:
    bench = sampled("1000")
    bench.say(sample("1000"))
    whole = whole_g(bench.batch)
    assert abs(Fraction(bench.batch.kept) - (whole - 2000) / whole) < Fraction(1, 10**11)


def test_a_sample_is_weighed_on_a_scale_or_its_weight_is_typed() -> None:
    bench = mixed()
    for wrong in (sample(None), sample("180", "fine")):
        assert bench.refused(wrong).code == "bad-params"
    assert bench.refused(sample(None, "fine")).code == "not-settled"
    bench.show("fine", "180.00")
    offer = next(offer for offer in bench.told.offers if offer.verb == "sample")
    assert (offer.params, offer.danger) == ({"scale": "fine"}, True)
    assert [o.params["scale"] for o in bench.told.offers if o.verb == "sample"] == ["fine"]
    bench.show("fine", "180.00", unit="oz")
    assert not [offer for offer in bench.told.offers if offer.verb == "sample"]
    bench.show("fine", "180.00")
    bench.say(sample(None, "fine"))
    taken = bench.last(ev.SampleTaken)
    assert isinstance(taken, ev.SampleTaken)
    assert (taken.net_g, taken.scale, taken.division_g) == (180, "fine", FINE.division_g)


def test_a_sample_in_a_vessel_on_record_is_weighed_without_it() -> None:
    bench = mixed()
    bench.show("fine", "267.00")
    bench.say(do.TakeSample("fine", "cup 1", None, ADVICE))
    assert bench.batch.sampled_g == Decimal("180.10")
    unknown = do.TakeSample("fine", "plate", None, ADVICE)
    assert bench.refused(unknown).code == "no-vessel"


@pytest.mark.parametrize(
    ("net", "taken"),
    [("0", False), ("-1", False), ("0.5", True), ("3062.95", True), ("3063", False)],
)
def test_a_sample_is_up_to_a_quarter_of_the_mix(net: str, taken: bool) -> None:
    """A quarter of 12251.8 g is 3062.95 g."""
    bench = mixed()
    assert whole_g(bench.batch) == Fraction("12251.8")
    if taken:
        bench.say(sample(net))
    else:
        assert bench.refused(sample(net)).code == "no-sample"


def test_a_second_sample_is_up_to_a_quarter_of_what_the_first_left() -> None:
    """A quarter of 12251.8 - 2251.8 g."""
    bench = sampled("2251.8")
    told = bench.refused(sample("2500.1")).sentence
    assert told == "2500.1 g of 10000 g in the mix is no sample"
    bench.say(sample("2499.9"))
    told = bench.refused(sample("5000")).sentence
    assert told == "5000 g of 7500.1 g in the mix is no sample"
    bench.say(sample("0.04"))
    told = bench.refused(sample("5000")).sentence
    assert told == "5000 g of 7500.1 g in the mix is no sample"


@pytest.mark.parametrize(
    ("shown", "vessel", "taken"),
    [("1.00", None, True), ("0.95", None, False), ("87.90", "cup 1", True),
     ("87.85", "cup 1", False)],
)  # fmt: skip
def test_a_sample_on_a_scale_is_at_least_its_min(
    shown: str, vessel: str | None, taken: bool
) -> None:
    """Min of the fine scale is 1 g; the cup weighs 86.90 g."""
    bench = mixed()
    bench.show("fine", shown)
    command = do.TakeSample("fine", vessel, None, ADVICE)
    if taken:
        bench.say(command)
    else:
        assert bench.refused(command).code == "not-settled"


def test_a_typed_sample_was_on_no_scale() -> None:
    bench = sampled()
    taken = bench.last(ev.SampleTaken)
    assert isinstance(taken, ev.SampleTaken)
    assert (taken.scale, taken.division_g, taken.raw) == (None, 0, "")


def test_nothing_is_tasted_before_all_is_in_nor_mixed_in_once_it_is_filled() -> None:
    bench = Bench(FORMULA).begin()
    bench.add("salt", "cup 1", "216")
    assert bench.refused(sample()).code == "not-in"
    assert not [form for form in bench.told.forms if form.verb == "sample"]
    bench = sampled()
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.End("links"))
    assert bench.refused(sample()).code == "filled"
    assert bench.refused(wish("salt", "0.02")).code == "filled"
    assert not bench.told.forms


def test_nothing_comes_out_of_a_mix_again() -> None:
    """1.799 % is in."""
    bench = sampled()
    told = bench.refused(wish("salt", "0.0179")).sentence
    assert told == "1.79 % of salt is in the mix: nothing comes out again"
    assert bench.refused(wish("salt", "0.018")).code == "in-band"  # 0.1 g more


def test_what_a_weighing_cannot_tell_from_what_is_in_is_no_wish() -> None:
    """The band of salt is 2 % below what is wished: 1.799 / 0.98 = 1.8359 %."""
    bench = sampled()
    assert bench.refused(wish("salt", "0.01835")).code == "in-band"
    bench.say(wish("salt", "0.0184"))


def test_no_cure_is_corrected_on_taste_and_nothing_without_a_sample() -> None:
    bench = Bench(CURED).begin()
    bench.add("salt", "cup 1", "216")
    bench.add("premix", "cup 2", "24")
    assert bench.refused(wish("salt", "0.02")).code == "no-sample"
    bench.say(sample())
    assert bench.refused(wish("premix", "0.003")).code == "not-on-taste"
    assert [form.params["line"] for form in bench.told.forms] == ["salt"]
    bench.say(wish("salt", "0.02"))


def test_only_some_roles_are_corrected_on_taste_and_no_salt_that_cures() -> None:
    crumb = FORMULA.replace('role = "seasoning"', 'role = "binder"')
    bench = mixed(crumb)
    bench.say(sample())
    assert bench.refused(wish("pepper", "0.01")).code == "not-on-taste"
    assert [form.params["line"] for form in bench.told.forms] == ["salt"]
    nitrite = 'role = "salt"\ncontains = { "sodium nitrite" = "0.5 %", "salt" = "99.5 %" }'
    bench = Bench(CURED.replace('role = "salt"', nitrite).split('[[addition]]\nname = "premix')[0])
    bench.begin()
    contains = {"sodium nitrite": Decimal("0.005"), "salt": Decimal("0.995")}
    bench.say(do.OpenLot("salt", "S-1", contains, None, "2026-11-30"))
    bench.pour("cup 1", "216")
    bench.say(do.Accept("salt"))
    bench.lift()
    bench.tip("cup 1")
    bench.say(sample())
    assert bench.refused(wish("salt", "0.02")).code == "not-on-taste"
    assert bench.told.forms == ()


def test_just_what_is_in_is_no_wish() -> None:
    bench = Bench(FORMULA).begin()
    bench.pour("cup 1", "216")
    bench.lift()
    bench.tip("cup 1", residue="0")
    bench.add("pepper", "cup 2", "36")
    bench.say(sample())
    assert bench.refused(wish("salt", "0.018")).code == "less"


def test_an_amount_that_nobody_knows_is_not_corrected() -> None:
    bench = mixed()
    bench.say(do.Tip("pepper", more=True))
    bench.say(sample())
    assert bench.refused(wish("pepper", "0.01")).code == "unknown-amount"


def cured(bench: Bench, sample_g: str | None) -> Batch:
    """24 g of premix of 24.4 at most are in; perhaps a sample has left."""
    bench.add("salt", "cup 1", "216")
    bench.add("premix", "cup 2", "24")
    if sample_g:
        bench.say(sample(sample_g))
    found: Batch = bench.batch
    return found


def test_a_cure_that_comes_in_after_a_sample_counts_for_what_is_left() -> None:
    """A quarter of the mix is gone: three grams to three quarters are four to the whole."""
    bench = Bench(CURED).begin()
    batch = cured(bench, "3059.90")
    assert abs(Fraction(batch.kept) - Fraction(3, 4)) < Fraction(1, 10**5)
    limit = next(one for one in batch.rows if "sodium nitrite" in one.agents)
    before = most_g(batch, limit)
    more = ev.TippedUnaccepted(
        line="premix", net_g=Decimal(3), residue_g=None, scale="fine", division_g=Decimal(0),
        vessel=None, lot="P-41", who="Ansel",
    )  # fmt: skip
    station = evolve(bench.station, more, bench.at, batch.id)
    assert station.batch is not None
    gained = most_g(station.batch, limit) - before
    assert abs(gained - 4 * Fraction(NITRITE["sodium nitrite"])) < Fraction(1, 1000)


def test_the_hard_limit_is_in_what_the_scale_shows() -> None:
    batch, alike = (cured(Bench(CURED).begin(), net) for net in ("3059.90", None))
    room, whole = (hard_limit(b, "premix", [FINE.division_g] * 2) for b in (batch, alike))
    assert room is not None and whole is not None
    actual = Fraction(batch.lines["premix"].actual_g)
    of_uncertainty = Fraction("0.02")  # a third of it counts, too
    assert abs((room - actual) - (whole - actual) * Fraction(batch.kept)) < of_uncertainty


def test_after_a_sample_meat_cannot_bring_back_what_the_law_requires() -> None:
    bench = sampled()
    (pork,) = bench.batch.meats.values()
    least = row("0.00012", "required")
    may_take(bench.batch, pork)
    with pytest.raises(Refusal) as caught:
        may_take(replace(bench.batch, required=(least,)), pork)
    assert caught.value.code == "sampled"
    may_take(replace(mixed().batch, required=(least,)), pork)


def test_a_gram_is_worth_more_rounded_up() -> None:
    bench = sampled("180")
    batch = bench.batch
    assert batch.worth >= 1 / Fraction(batch.kept)
    assert batch.worth == rounded(1 / Fraction(batch.kept), 12, up=True)
    assert MIXED.batch.worth == 1
