"""Pieces that have hung are weighed again, all of them: what they lost since they were counted."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch.change import replace
from station.batch.drying import Dried, dried, hung_g, next_name, weighings
from station.weighing import commands as do
from station.weighing.commands import Refusal
from tests.benchside import Bench
from tests.weighing.test_tallying import FORMULA, PACKS, counting, mixed, put

DRY = FORMULA.replace('piece = "60 g"', 'loss = "35 %"\npiece = "60 g"')
HAM_G, SHRUNK_G = "200", "164"
"""A shrink of 18 %, the least of a country ham by 9 CFR 319.106: (200 - 164) / 200."""


def hanging(*grams: str, formula: str = DRY) -> Bench:
    """Links of that weight were counted."""
    bench = mixed(formula)
    bench.say(do.CountPieces("links", "fine"))
    for each in grams:
        put(bench, each)
    bench.say(do.End("links"))
    return bench


def weighed_again(bench: Bench, *grams: str) -> Bench:
    bench.say(do.WeighDried("links", "fine"))
    for each in grams:
        put(bench, each)
    return bench


def loss_of(bench: Bench, name: str = "links dried 1") -> Fraction | None:
    found = dried(bench.batch, bench.batch.tallies[name])
    assert found is not None
    return found.loss


def test_the_loss_is_of_the_weight_when_they_were_counted() -> None:
    bench = weighed_again(hanging(HAM_G), SHRUNK_G)
    assert loss_of(bench) == Fraction(18, 100)
    assert bench.told.sentence == "1 of 1 links, 164.00 g: 18 % is lost, 35 % is planned"


def test_no_loss_is_told_before_as_many_were_weighed_as_there_are() -> None:
    bench = weighed_again(hanging("60", "61", "59"), "45", "46")
    assert loss_of(bench) is None
    assert bench.told.sentence == "2 of 3 links, 91.00 g"
    assert bench.told.next == "set one down; end when that is all"
    put(bench, "44")
    assert bench.told.next == "all of them are weighed: end"
    assert loss_of(bench) == 1 - Fraction(135, 180)
    put(bench, "44")
    assert loss_of(bench) is None
    assert bench.told.sentence == "4 of 3 links, 179.00 g"


def test_of_no_pieces_nothing_is_lost() -> None:
    tally = weighed_again(hanging("60"), "50").batch.tallies["links"]
    assert Dried(replace(tally, items=()), replace(tally, items=())).loss is None


def test_a_string_counts_with_the_pieces_in_it() -> None:
    bench = weighed_again(hanging("60", "61", "59"))
    bench.say(do.TellLinks(3))
    put(bench, "135")
    assert loss_of(bench) == Fraction(1, 4)


def test_pieces_that_weigh_more_than_when_they_were_counted_are_asked_about() -> None:
    bench = weighed_again(hanging("60", "60"), "60", "60")
    assert "0 % is lost" in bench.told.sentence
    bench.say(do.End("links dried 1"))
    weighed_again(bench, "60", "60.05")
    assert bench.told.sentence.endswith("more than when they were counted; are they the same?")


def test_each_weighing_is_a_count_of_its_own_and_none_goes_on() -> None:
    bench = weighed_again(hanging("60", "60"), "50")
    bench.say(do.End("links dried 1"))
    assert next_name(bench.batch, "links") == "links dried 2"
    weighed_again(bench, "49", "49")
    assert [one.now.name for one in weighings(bench.batch)] == ["links dried 1", "links dried 2"]
    assert (loss_of(bench), loss_of(bench, "links dried 2")) == (None, 1 - Fraction(98, 120))


def test_all_pieces_together_weigh_what_each_kind_weighed_last() -> None:
    bench = hanging("60", "60")
    bench.say(do.CountPieces("ends", "fine"))
    put(bench, "30")
    bench.say(do.End("ends"))
    assert hung_g(bench.batch) is None
    weighed_again(bench, "50")
    assert hung_g(bench.batch) is None  # one is missing
    put(bench, "50")
    bench.say(do.End("links dried 1"))
    assert hung_g(bench.batch) == Decimal(130)
    weighed_again(bench, "40", "41")
    bench.say(do.End("links dried 2"))
    assert hung_g(bench.batch) == Decimal(111)


def test_a_dried_piece_is_held_to_no_band_and_a_piece_still_is() -> None:
    bench = weighed_again(hanging("60"), "41")
    assert bench.told.target_g is None
    assert not [offer for offer in bench.told.offers if offer.verb == "again"]
    counted = counting()
    put(counted, "41")
    assert [offer.params for offer in counted.told.offers if offer.verb == "again"]


@pytest.mark.parametrize(
    ("name", "step"), [("patties", "one of: links"), ("400 g, fridge, use by 2026-12-04", "one")]
)
def test_only_pieces_that_were_counted_are_weighed_again(name: str, step: str) -> None:
    bench = hanging("60")
    bench.say(PACKS)
    put(bench, "401")
    bench.say(do.End("400 g, fridge, use by 2026-12-04"))
    with pytest.raises(Refusal, match=r"no pieces .* were counted") as caught:
        bench.say(do.WeighDried(name, "fine"))
    assert caught.value.next.startswith(step)


def test_pieces_are_counted_before_they_hang() -> None:
    with pytest.raises(Refusal) as caught:
        mixed(DRY).say(do.WeighDried("links", "fine"))
    assert caught.value.next == "count them before they hang: pieces"


def test_what_was_begun_and_counted_nothing_is_no_piece() -> None:
    bench = hanging()
    with pytest.raises(Refusal, match="no pieces links were counted"):
        bench.say(do.WeighDried("links", "fine"))


def test_nothing_is_weighed_again_while_something_is_counted() -> None:
    bench = weighed_again(hanging("60"), "50")
    with pytest.raises(Refusal, match="links dried 1 are counted now"):
        bench.say(do.WeighDried("links", "fine"))


def test_pieces_take_no_name_of_a_weighing() -> None:
    bench = weighed_again(hanging("60"), "50")
    bench.say(do.End("links dried 1"))
    with pytest.raises(Refusal, match="links dried 1 are no pieces"):
        bench.say(do.CountPieces("links dried 1", "fine"))


@pytest.mark.parametrize(("formula", "offered"), [(DRY, True), (FORMULA, False)])
def test_it_is_offered_where_the_formula_plans_a_loss(formula: str, offered: bool) -> None:
    bench = hanging("60", formula=formula)
    found = [offer for offer in bench.told.offers if offer.verb == "dried"]
    assert bool(found) is offered
    if offered:
        bench.say(do.WeighDried(**found[0].params))
        assert bench.batch.tally is not None and bench.batch.tally.begun.of == "links"
