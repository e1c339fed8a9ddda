"""Packs of a stated weight: what one may lack, its packaging, and what a pack is not taken for."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.tally import strays
from station.weighing import commands as do
from tests.benchside import Bench
from tests.weighing.test_tallying import (
    FORMULA,
    NAME,
    PACKS,
    counting,
    mixed,
    put,
    set_down,
    take_off,
    tally,
)


def test_packs_are_judged_by_what_one_may_lack() -> None:
    bench = counting(PACKS)
    for grams, word in (("401", "IN BAND"), ("388.00", "IN BAND"), ("387.95", "POUR")):
        set_down(bench, grams)
        assert bench.told.word == word
        take_off(bench)
    assert bench.told.sentence == (
        "pack 3 weighed 387.95 g: open it again;"
        " 3 packs of 400 g, 392.30 g each on average, 7.70 g too little"
    )
    judged = tally(bench, NAME).judged
    assert judged is not None
    assert (judged.short, judged.far_short, judged.verdict) == (1, 0, "out")


def test_where_no_law_was_read_a_pack_has_what_is_stated() -> None:
    bench = counting(do.CountPacks(Decimal(400), "fine", "fridge", "2026-12-04"))
    for grams, word in (("399.95", "POUR"), ("400.00", "IN BAND"), ("450", "IN BAND")):
        set_down(bench, grams)
        assert bench.told.word == word
        take_off(bench)
    assert [item.number for item in strays(bench.formula, tally(bench, NAME))] == [1]


def test_one_pack_is_called_one() -> None:
    bench = counting(PACKS)
    assert bench.told.sentence == "packs of 400 g: none yet"
    for told in ("1 pack of 400 g, 401.00 g", "2 packs of 400 g, 401.00 g"):
        put(bench, "401")
        assert bench.told.sentence == f"{told} each on average"


def test_so_few_of_forty_may_lack_more() -> None:
    """2.5 % of 40 is one, of 39 none."""
    bench = counting(PACKS)
    assert tally(bench, NAME).judged is None
    put(bench, "380")
    for _ in range(38):
        put(bench, "401")
    judged = tally(bench, NAME).judged
    assert judged is not None and judged.verdict == "out"
    put(bench, "401")
    judged = tally(bench, NAME).judged
    assert judged is not None and judged.verdict == "in"


def test_packaging_on_record_is_taken_off() -> None:
    bench = mixed()
    bench.show("fine", "12.50")
    bench.say(do.RecordVessel("tray", "fine"))
    bench.show("fine", "0")
    packs = do.CountPacks(Decimal(400), "fine", "fridge", "2026-12-04", "tray")
    bench.say(packs)
    put(bench, "414.00")
    (item,) = tally(bench, NAME).items
    assert item.net_g == Decimal("401.50")


def test_packaging_that_nobody_weighed_is_refused() -> None:
    bench = mixed()
    packs = do.CountPacks(Decimal(400), "fine", "fridge", "2026-12-04", "tray")
    assert bench.refused(packs).code == "no-vessel"


def test_no_pack_is_taken_for_an_emptied_tub() -> None:
    """The tub weighs 1200 g empty, and holds meat that was counted."""
    bench = Bench(FORMULA)
    bench.vessels()
    bench.open()
    bench.say(do.Use("tub"))
    bench.show("bench", "13200")
    bench.say(do.Accept("pork"))
    bench.say(do.End("pork", sure=True))
    bench.show("bench", "0")
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    bench.say(do.CountPieces("rings", "bench"))
    put(bench, "1200", "bench")
    assert not [event for event in bench.events if isinstance(event, ev.TubEmptied)]
    bench.say(do.End("rings"))
    bench.show("bench", "1200")
    assert isinstance(bench.events[-1], ev.TubEmptied)


def test_a_cable_that_is_pulled_with_a_pack_on_asks_nothing_that_has_no_answer() -> None:
    bench = mixed()
    bench.show("fine", "12.50")
    bench.say(do.RecordVessel("tray", "fine"))
    bench.show("fine", "0")
    bench.say(do.CountPacks(Decimal(400), "fine", "fridge", "2026-12-04", "tray"))
    set_down(bench, "413")
    bench.floor.link("fine", False, "the cable is out", "plug it in")
    assert (bench.told.word, bench.told.alarm) == ("BLOCKED", True)
    bench.floor.link("fine", True)
    bench.show("fine", "414")
    assert (bench.told.word, bench.told.asks) == ("IN BAND", None)
    take_off(bench)
    assert [item.net_g for item in tally(bench, NAME).items] == [Decimal("401.5")]


def test_each_kind_of_pack_of_the_formula_can_be_begun_with_a_key() -> None:
    packs = '\n[[pack]]\nnominal = "400 g"\nstore = "freezer"\nkeeps = "60 d"\n[[meat]]'
    bench = mixed(FORMULA.replace("[[meat]]", packs.lstrip(), 1))
    offer = next(offer for offer in bench.told.offers if offer.verb == "packs")
    assert offer.params == {
        "nominal": "400 g", "scale": "bench", "store": "freezer", "keeps": "60 d",
    }  # fmt: skip
    assert offer.means == "packs of 400 g for the freezer, on bench"
    bench.say(do.CountPieces("links", "fine"))
    assert not [offer for offer in bench.told.offers if offer.verb == "packs"]
