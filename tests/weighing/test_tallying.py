"""Pieces and packs: each is set down, settles, and counts when it is taken off."""

from dataclasses import replace
from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.tally import Tally, spread_g, strays
from station.pan.view import Lift, Trouble
from station.weighing import commands as do
from station.weighing.decide import decide
from station.weighing.sight import Sight
from tests.benchside import BENCH, FINE, RING, Bench

FRESH = RING.replace(
    'product = "cooked cured comminuted"',
    'product = "fresh comminuted sausage"\npiece = "60 g"\npiece_band = "-5 % +5 %"',
)
FORMULA = "[[addition]]".join(FRESH.split("[[addition]]")[part] for part in (0, 1, 3))
"""Salt and pepper alone."""
PACKS = do.CountPacks(
    *(Decimal(400), "fine", "fridge", "2026-12-04", None),
    *(Decimal(12), Decimal("0.025"), "a test"),
)
NAME = "400 g, fridge, use by 2026-12-04"


def mixed(formula: str = FORMULA) -> Bench:
    """All is in the mix."""
    bench = Bench(formula).begin()
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    return bench


def counting(command: do.Command | None = None) -> Bench:
    bench = mixed()
    bench.say(command or do.CountPieces("links", "fine"))
    return bench


def put(bench: Bench, grams: str, scale: str = "fine") -> None:
    """Set one down, let it settle, take it off."""
    set_down(bench, grams, scale)
    take_off(bench, scale)


def set_down(bench: Bench, grams: str, scale: str = "fine") -> None:
    bench.move(scale, str(Decimal(grams) / 2))
    bench.show(scale, grams)


def take_off(bench: Bench, scale: str = "fine") -> None:
    bench.move(scale, "20")
    bench.show(scale, "0")


def tally(bench: Bench, name: str = "links") -> Tally:
    found: Tally = bench.batch.tallies[name]
    return found


def test_each_counts_when_it_is_taken_off_with_what_was_last_settled() -> None:
    bench = counting()
    set_down(bench, "59.10")
    assert tally(bench).count == 0
    bench.show("fine", "60.25")  # a little more is put on
    take_off(bench)
    put(bench, "61.00")
    assert [(i.number, i.net_g) for i in tally(bench).items] == [
        (1, Decimal("60.25")), (2, Decimal("61.00")),
    ]  # fmt: skip
    assert bench.told.sentence == "2 links, 60.60 g each on average"
    assert (bench.told.word, bench.told.next) == ("SET DOWN", "set one down; end when that is all")


@pytest.mark.parametrize(
    ("grams", "word", "step"),
    [
        ("56.95", "POUR", "put more in; taking it off counts it as it is"),
        ("57.00", "IN BAND", "taking it off counts it"),
        ("63.00", "IN BAND", "taking it off counts it"),
        ("63.05", "TAKE OUT", "take some out; taking it off counts it as it is"),
    ],
)
def test_a_piece_is_told_to_be_inside_its_band_or_not(grams: str, word: str, step: str) -> None:
    bench = counting()
    set_down(bench, grams)
    assert (bench.told.word, bench.told.next) == (word, step)
    assert bench.told.sentence == f"number 1 of links: {grams} g"


def test_one_that_strays_is_counted_named_and_weighed_again() -> None:
    bench = counting()
    for grams in ("60", "64", "66"):
        put(bench, grams)
    assert bench.told.sentence.startswith("number 3 of links weighed 66.00 g: open it again")
    asked = [o.params["number"] for o in bench.told.offers if o.verb == "again"]
    assert asked == ["3", "2"]  # the furthest off first
    bench.say(do.WeighAgain(3))
    assert bench.told.sentence == "number 3 of links again"
    put(bench, "60.50")
    put(bench, "60")
    assert [i.number for i in tally(bench).items] == [1, 2, 3, 4]
    assert tally(bench).items[2].net_g == Decimal("60.50")


def test_without_a_band_no_piece_strays() -> None:
    bench = mixed(FORMULA.replace('piece_band = "-5 % +5 %"\n', ""))
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "90")
    assert bench.told.sentence == "1 links, 90.00 g each on average"


def test_one_that_was_not_still_is_not_counted_and_that_is_called() -> None:
    bench = counting()
    bench.show("fine", "60")
    for _ in range(15):
        bench.move("fine", "60.40")
    take_off(bench)
    assert tally(bench).count == 0
    assert (bench.told.word, bench.told.alarm) == ("PUT BACK", True)
    assert bench.told.sentence == "not counted: it was not still before it was taken off"
    put(bench, "60")
    assert (tally(bench).count, bench.told.word) == (1, "SET DOWN")


def test_one_that_never_settled_is_not_counted_and_that_is_called() -> None:
    bench = counting()
    for grams in ("40", "62", "58"):
        bench.move("fine", grams)
    bench.show("fine", "0")
    missed = bench.last(ev.ItemMissed)
    assert isinstance(missed, ev.ItemMissed)
    assert missed.gross_g == 62
    assert bench.told.word == "PUT BACK"


@pytest.mark.parametrize("seen", [("40", "62"), ("0.60", "0.70", "0.60")])
def test_a_hand_that_touches_the_pan_is_no_piece(seen: tuple[str, ...]) -> None:
    """Two readings only, or less than the scale's Min of 1 g."""
    bench = counting()
    for grams in seen:
        bench.move("fine", grams)
    bench.show("fine", "0")
    assert bench.told.word == "SET DOWN"


@pytest.mark.parametrize(("grams", "counts"), [("1.00", 1), ("0.95", 0)])
def test_less_than_the_scales_min_is_not_counted(grams: str, counts: int) -> None:
    assert FINE.min_g == 1
    bench = counting()
    bench.show("fine", grams)
    bench.show("fine", "0")
    assert tally(bench).count == counts
    if not counts:
        assert bench.told.sentence == "not counted: 0.95 g is under 1 g"


def test_what_stayed_on_the_pan_makes_no_piece_heavy_enough() -> None:
    bench = counting()
    bench.show("fine", "1.05")
    bench.show("fine", "0.10")
    assert tally(bench).count == 0


def test_what_stayed_on_the_pan_is_not_in_the_piece() -> None:
    bench = counting()
    set_down(bench, "60.00")
    bench.move("fine", "20")
    bench.show("fine", "0.10")
    assert tally(bench).items[0].net_g == Decimal("59.90")


def test_a_string_is_weighed_once_and_its_links_are_told() -> None:
    bench = counting()
    put(bench, "60")
    bench.say(do.TellLinks(4))
    set_down(bench, "246")
    assert (bench.told.word, bench.told.sentence) == ("IN BAND", "a string of 4 links: 246.00 g")
    take_off(bench)
    put(bench, "61")
    assert (tally(bench).count, tally(bench).net_g) == (6, 367)
    assert [item.links for item in tally(bench).items] == [1, 4, 1]
    (form,) = bench.told.forms
    assert (form.verb, form.param, form.unit) == ("links", "number", "links")


@pytest.mark.parametrize(
    ("number", "code"), [(-1, "bad-number"), (0, "bad-number"), (1000, "bad-number"), (1, None)]
)
def test_a_string_has_some_links(number: int, code: str | None) -> None:
    bench = counting()
    if code:
        assert bench.refused(do.TellLinks(number)).code == code
    else:
        bench.say(do.TellLinks(number))
    bench.say(do.TellLinks(999))


def test_one_that_is_struck_counts_no_more_and_its_number_is_not_given_again() -> None:
    bench = counting()
    put(bench, "60")
    put(bench, "61")
    bench.say(do.StrikeItem(2, "burst"))
    put(bench, "62")
    assert [i.number for i in tally(bench).items] == [1, 3]
    assert bench.refused(do.StrikeItem(2, "burst")).sentence == "no number 2 is counted"
    assert bench.refused(do.WeighAgain(4)).next == "there are 1 to 3"


def test_a_string_strays_by_what_one_link_of_it_weighs() -> None:
    bench = counting()
    for grams in ("240", "260"):
        bench.say(do.TellLinks(4))
        put(bench, grams)
    assert [item.number for item in strays(bench.formula, tally(bench))] == [2]
    assert spread_g(tally(bench).items) is None
    put(bench, "60")
    assert spread_g(tally(bench).items) is None
    put(bench, "62")
    assert spread_g(tally(bench).items) == pytest.approx(2**0.5)


def test_what_is_wrong_as_it_is_taken_off_is_why_it_is_not_counted() -> None:
    bench = counting()
    set_down(bench, "60")
    pan = bench.pans()["fine"]
    assert pan.settled is not None
    lift = Lift(pan.settled, at_once=True, stayed_g=Decimal(0), keyed=False, jumped=False)
    first, second = (Trouble("zero", text, "zero it") for text in ("it wandered", "it is late"))

    def seen(*troubles: Trouble) -> ev.Event:
        there = replace(pan, lift=lift, troubles=troubles)
        sight = Sight(bench.floor.sight().facts, {"fine": there})
        (event,) = decide(sight, do.SeeItem("fine")).events
        return event

    missed = seen(first, second)
    assert isinstance(missed, ev.ItemMissed)
    assert missed.why == "it wandered"
    assert isinstance(seen(), ev.ItemWeighed)


@pytest.mark.parametrize(
    ("nominal", "tare", "lacks", "code"),
    [
        ("600", None, None, None), ("600.05", None, None, "unfit"),
        ("587.55", "tray", None, "unfit"),
        ("587.50", "tray", None, None), ("1", None, None, None), ("0.95", None, None, "unfit"),
        ("400", None, "0.30", None),
        ("400", None, "0.25", "unfit"),
    ],
)  # fmt: skip
def test_a_scale_must_take_them_and_be_fine_enough(
    nominal: str, tare: str | None, lacks: str | None, code: str | None
) -> None:
    """The fine scale: Max 600 g, Min 1 g, 0.05 g divisions: a sixth of 0.30 g."""
    bench = mixed()
    bench.show("fine", "12.50")
    bench.say(do.RecordVessel("tray", "fine"))
    bench.show("fine", "0")
    most = None if lacks is None else Decimal(lacks)
    packs = do.CountPacks(Decimal(nominal), "fine", "fridge", "2026-12-04", tare, most)
    if code:
        assert bench.refused(packs).code == code
    else:
        bench.say(packs)


def test_a_count_is_ended_with_an_empty_pan_and_goes_on_under_its_name() -> None:
    bench = counting()
    put(bench, "60")
    set_down(bench, "61")
    assert bench.refused(do.End("links")).code == "not-empty"
    take_off(bench)
    assert bench.say(do.End("links")) == "2 links"
    put(bench, "62")
    assert tally(bench).count == 2
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "63")
    assert [item.number for item in tally(bench).items] == [1, 2, 3]


def test_it_begins_with_an_empty_pan() -> None:
    bench = mixed()
    bench.show("fine", "5")
    assert bench.refused(do.CountPieces("links", "fine")).code == "not-empty"


@pytest.mark.parametrize(
    "command",
    [do.Close(), do.Park(), do.CountPieces("patties", "fine"), do.RecordVessel("tray", "fine")],
)
def test_first_the_count_is_ended(command: do.Command) -> None:
    bench = counting()
    bench.show("fine", "60")
    refusal = bench.refused(command)
    assert refusal.sentence.startswith("links are counted")


def test_pieces_and_packs_have_names_of_their_own() -> None:
    bench = counting(PACKS)
    put(bench, "401")
    bench.say(do.End(NAME))
    for name, code in (("salt", "name-taken"), ("pork", "name-taken"), ("a, b", "bad-name")):
        assert bench.refused(do.CountPieces(name, "fine")).code == code
    assert bench.refused(do.TellLinks(3)).code == "not-counting"
    bench.say(PACKS)
    assert bench.refused(do.TellLinks(3)).code == "no-pieces"
    assert bench.told.forms == ()


def test_nothing_on_its_scale_is_taken_for_a_vessel() -> None:
    """A piece that weighs like a cup that was emptied, and like one that could be recorded."""
    bench = counting()
    set_down(bench, "87.00")
    assert not [o for o in bench.told.offers if o.verb == "vessel"]
    assert bench.line("salt").tare is None
    bench.show("bench", "500")
    assert [o.params["scale"] for o in bench.told.offers if o.verb == "vessel"] == ["bench"]


def test_what_can_be_done_while_pieces_are_counted() -> None:
    bench = counting()
    for grams in ("60", "50", "51", "52", "53", "54", "55"):
        put(bench, grams)
    end, strike, *again = [o for o in bench.told.offers if o.verb in ("end", "strike", "again")]
    assert (end.verb, end.params, end.key, end.danger) == (
        "end", {"line": "links", "sure": False}, "done", True,
    )  # fmt: skip
    assert (strike.verb, strike.params["number"], strike.key, strike.danger) == (
        "strike", "7", "void", True,
    )  # fmt: skip
    assert [offer.params["number"] for offer in again] == ["2", "3", "4", "5", "6"]
    assert again[0].means == "weigh number 2 of links again"


@pytest.mark.parametrize(("piece", "scale"), [("300 g", "fine"), ("301 g", "bench")])
def test_the_finest_scale_with_room_for_two_is_offered(piece: str, scale: str) -> None:
    bench = mixed(FORMULA.replace('piece = "60 g"', f'piece = "{piece}"'))
    offer = next(offer for offer in bench.told.offers if offer.verb == "pieces")
    assert offer.params["scale"] == scale


def test_what_no_scale_has_room_for_is_not_offered() -> None:
    bench = mixed(FORMULA.replace('piece = "60 g"', 'piece = "8 kg"'))
    assert not [offer for offer in bench.told.offers if offer.verb == "pieces"]


def test_no_piece_is_taken_for_the_emptied_vessel_of_what_stands_after_all() -> None:
    bench = Bench(FORMULA).begin()
    bench.add("salt", "cup 1", "216")
    bench.pour("cup 2", "36")
    bench.lift()
    bench.say(do.Tip("pepper"))
    bench.say(do.CountPieces("links", "fine"))
    bench.say(do.Void("pepper", "its cup is full on the shelf", said_tipped=True))
    put(bench, "98.50")  # as its cup is, empty
    assert bench.line("pepper").standing
    bench.say(do.End("links"))
    bench.show("fine", "98.50")
    assert not bench.line("pepper").standing


def test_another_scale_can_be_used() -> None:
    bench = mixed()
    bench.say(do.CountPieces("rings", "bench"))
    put(bench, "182", "bench")
    assert tally(bench, "rings").begun.division_g == BENCH.division_g
    assert tally(bench, "rings").count == 1


def test_what_is_wrong_with_the_scale_is_told_and_counts_nothing() -> None:
    bench = counting()
    bench.show("fine", "60", unit="oz")
    assert bench.told.word == "BLOCKED"
    bench.show("fine", "0", unit="oz")
    bench.show("fine", "0")
    assert tally(bench).count == 0


def test_a_restart_forgets_nothing_and_counts_nothing_twice() -> None:
    bench = counting()
    put(bench, "60")
    set_down(bench, "61")
    bench.floor.resume(bench.station)
    take_off(bench)
    assert [item.net_g for item in tally(bench).items] == [60, 61]
