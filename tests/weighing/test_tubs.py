"""Which tub the meat is in: told by its empty weight as it is set down, asked where in doubt."""

import pytest

from station.batch import events as ev
from station.weighing import commands as do
from tests.benchside import RING, Bench

TWO_MEATS = RING.replace(
    '[[meat]]\nname = "pork"\nshare = "100 %"',
    '[[meat]]\nname = "pork"\nshare = "60 %"\n[[meat]]\nname = "belly"\nshare = "40 %"',
)


def opened(formula: str = RING, **tubs: str) -> Bench:
    """A batch that waits for its meat; `tub` weighs 1200 g, others as given."""
    bench = Bench(formula)
    bench.vessels()
    for name, grams in tubs.items():
        bench.show("bench", grams)
        bench.say(do.RecordVessel(name, "bench"))
        bench.show("bench", "0")
    bench.open()
    return bench


def test_an_empty_tub_is_named_by_being_set_down() -> None:
    bench = opened(crate="900")
    assert (bench.told.word, bench.told.asks) == ("SET DOWN", None)
    bench.show("bench", "1200")
    assert bench.last(ev.VesselUsed) == ev.VesselUsed("pork", "tub")
    assert bench.told.word == "POUR"
    assert bench.told.sentence == "pork 12000 g in tub: tub is empty"
    bench.show("bench", "13200")
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == 12000


@pytest.mark.parametrize(("grams", "known"), [("1206", True), ("1208", False), ("1194", True)])
def test_it_is_the_tub_on_record_within_three_divisions(grams: str, known: bool) -> None:
    bench = opened()
    bench.show("bench", grams)
    assert bench.batch.meats["pork"].tub == ("tub" if known else None)


def test_a_tub_with_meat_in_it_is_asked_about() -> None:
    bench = opened(crate="900")
    bench.show("bench", "9000")
    assert bench.batch.meats["pork"].tub is None
    assert bench.told.asks is not None
    assert [offer.means for offer in bench.told.asks.answers] == ["tub", "crate"]


def test_of_two_tubs_of_one_weight_a_person_says_which() -> None:
    bench = opened(crate="900", **{"other tub": "1202"})
    bench.show("bench", "1200")
    assert bench.batch.meats["pork"].tub is None
    assert bench.told.asks is not None
    assert {offer.means for offer in bench.told.asks.answers} == {"tub", "other tub"}


def test_the_next_tub_is_named_by_being_set_down_once_the_last_one_is_counted() -> None:
    bench = opened(crate="900")
    bench.show("bench", "1200")
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.show("bench", "900")
    assert bench.batch.meats["pork"].tub == "crate"
    bench.show("bench", "6400")
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == 6000 + 5500


def test_a_tub_that_came_back_empty_counts_again_and_no_other_is_named() -> None:
    bench = opened(crate="900")
    bench.show("bench", "1200")
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.show("bench", "1200")
    assert (bench.batch.meats["pork"].tub, bench.batch.counted) == ("tub", {})


def other_than_named() -> Bench:
    bench = opened(crate="900")
    bench.say(do.Use("crate"))
    bench.show("bench", "1200")
    bench.show("bench", "13200")
    return bench


def test_another_tub_than_the_one_named_is_asked_about_and_counts_nothing() -> None:
    bench = other_than_named()
    told = bench.told
    assert (told.word, told.sentence) == (
        "ANSWER",
        "pork 12000 g in crate: this was set down as tub empty",
    )
    assert told.asks is not None and told.asks.otherwise == "set crate down instead"
    assert [offer.means for offer in told.asks.answers] == [
        "it is tub",
        "it is crate, with meat in it",
    ]
    refusal = bench.refused(do.Accept("pork"))
    assert (refusal.code, len(refusal.offers)) == ("other-tub", 2)


@pytest.mark.parametrize(("vessel", "meat_g"), [("tub", 12000), ("crate", 12300)])
def test_a_person_says_which_of_the_two_it_is(vessel: str, meat_g: int) -> None:
    bench = other_than_named()
    bench.say(do.Use(vessel))
    assert bench.told.asks is None
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == meat_g


def test_the_one_named_is_set_down_instead() -> None:
    bench = opened(crate="900")
    bench.say(do.Use("crate"))
    bench.show("bench", "1200")
    bench.show("bench", "0")
    bench.show("bench", "900")
    assert bench.told.asks is None and bench.told.word == "POUR"


@pytest.mark.parametrize(("grams", "asked"), [("2406", True), ("2408", False), ("2394", True)])
def test_a_load_that_weighs_like_an_empty_vessel_is_asked_about(grams: str, asked: bool) -> None:
    """The second tub stands in the first."""
    bench = opened(crate="900")
    bench.show("bench", "1200")
    bench.show("bench", grams)
    if not asked:
        bench.say(do.Accept("pork"))
        return
    refusal = bench.refused(do.Accept("pork"))
    assert (refusal.code, refusal.next) == (
        "like-vessel",
        "take tub off, or accept again if this is meat",
    )
    (offer,) = refusal.offers
    assert (offer.verb, offer.params) == ("accept", {"line": "pork", "sure": True})
    bench.say(do.Accept("pork", sure=True))
    assert bench.batch.meat_g == int(grams) - 1200


def test_a_tub_set_down_is_the_tub_of_the_meat_whose_turn_it_is() -> None:
    bench = opened(TWO_MEATS, crate="900")
    bench.show("bench", "1200")
    bench.show("bench", "8400")
    bench.say(do.Accept("pork"))
    bench.say(do.End("pork"))
    bench.show("bench", "0")
    bench.show("bench", "900")
    assert {m.name: m.tub for m in bench.batch.meats.values()} == {"pork": "tub", "belly": "crate"}


def test_a_tub_that_stands_there_from_another_batch_names_nothing() -> None:
    bench = opened(crate="900")
    bench.show("bench", "900")
    bench.say(do.Park())
    bench.open(batch="b-2")
    assert bench.batch.meats["pork"].tub is None
    bench.show("bench", "0")
    bench.show("bench", "1200")
    assert bench.batch.meats["pork"].tub == "tub"


def test_meat_in_a_cup_of_the_fine_scale_is_asked_about() -> None:
    """A slip of a key: 1069 g of plastic would be meat."""
    bench = opened()
    bench.say(do.Use("cup 3"))
    bench.show("bench", "2269")
    refusal = bench.refused(do.Accept("pork"))
    assert (refusal.code, refusal.sentence) == (
        "strange-tub",
        "2136 g of meat in cup 3, which was weighed empty on another scale",
    )
    bench.say(do.Accept("pork", sure=True))
    assert bench.batch.meats["pork"].net_g > 2000


def test_on_hold_only_tubs_of_the_meats_own_scale_are_offered() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("premix", more=True))
    uses = [offer for offer in bench.told.offers if offer.verb == "use"]
    assert [(offer.params["vessel"], offer.means) for offer in uses] == [("tub", "tub for pork")]


def test_a_scrap_that_weighs_like_a_cup_names_no_tub() -> None:
    """90 g on the bench scale are within 6 g of cup 1, 86.90 g on the fine one."""
    bench = opened()
    bench.show("bench", "90")
    assert bench.batch.meats["pork"].tub is None
    bench.show("bench", "0")
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.show("bench", "96")
    assert bench.batch.meats["pork"].tub == "tub"


def test_a_counted_tub_that_still_stands_there_names_no_twin_for_the_next_meat() -> None:
    bench = opened(TWO_MEATS, twin="1202")
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "8400")
    bench.say(do.Accept("pork"))
    bench.say(do.End("pork"))
    assert (bench.told.line, bench.batch.meats["belly"].tub) == ("belly", None)


@pytest.mark.parametrize(("grams", "named"), [("1206", "tub"), ("1208", None)])
def test_a_tub_that_was_filled_before_the_batch_was_opened_is_asked_about(
    grams: str, named: str | None
) -> None:
    """Set down empty, seen at 1200 g; three divisions of 2 g are nothing."""
    bench = Bench()
    bench.vessels()
    bench.show("bench", "1200")
    bench.show("bench", grams)
    bench.open()
    bench.show("bench", grams)
    assert bench.batch.meats["pork"].tub == named


@pytest.mark.parametrize(("grams", "counted"), [("7206", True), ("7208", False)])
def test_a_load_that_weighs_like_a_counted_one_is_that_one(grams: str, counted: bool) -> None:
    bench = opened(crate="900")
    bench.show("bench", "1200")
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    bench.show("bench", "0")
    bench.say(do.Use("crate"))
    bench.show("bench", grams)
    if counted:
        assert bench.refused(do.Accept("pork")).code == "same-load"
    else:
        bench.say(do.Accept("pork"))
        assert bench.batch.meat_g == 12_308
