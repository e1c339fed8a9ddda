"""Whether a batch may be filled, and what is weighed no more once it is."""

from dataclasses import replace
from decimal import Decimal

import pytest

from station.weighing import commands as do
from station.weighing.filling import unseen
from tests.batch.built import addition, batch, line, load
from tests.benchside import RING, Bench
from tests.weighing.test_tallying import FORMULA, PACKS, counting, mixed, put, tally


def test_nothing_is_filled_before_all_is_in() -> None:
    count = do.CountPieces("links", "fine")
    bench = Bench(FORMULA)
    bench.vessels()
    bench.open()
    assert bench.refused(count).sentence == "the batch is still weighing meat"
    bench.weigh_meat()
    assert bench.refused(count).sentence == "salt is not in the mix"
    bench.pour("cup 1", "216")
    bench.lift()
    assert bench.refused(count).sentence == "salt is not in the mix"  # it stands
    bench.tip("cup 1")
    assert not [offer for offer in bench.told.offers if offer.verb == "pieces"]
    bench.say(do.Skip("pepper", "none here"))  # left out, and nothing that it must have
    offer = next(offer for offer in bench.told.offers if offer.verb == "pieces")
    assert offer.params == {"name": "pieces", "scale": "fine"}
    bench.say(count)


def test_what_the_batch_must_have_is_in_before_it_is_filled() -> None:
    bench = mixed(FORMULA.replace('amount = "0.30 %"', 'amount = "0.30 %"\nrequired = true'))
    assert bench.say(do.CountPieces("links", "fine"))
    bench = Bench(FORMULA.replace('amount = "0.30 %"', 'amount = "0.30 %"\nrequired = true'))
    bench.begin()
    bench.add("salt", "cup 1", "216")
    bench.say(do.Skip("pepper", "none here"))
    assert bench.refused(do.CountPieces("links", "fine")).code == "not-in"


def test_what_is_on_hold_is_not_filled_and_nothing_is_counted_then() -> None:
    bench = Bench("[[addition]]".join(RING.split("[[addition]]")[part] for part in (0, 2))).begin()
    bench.add("premix", "cup 1", "24")
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.Tip("premix", more=True))
    assert bench.told.word == "ON HOLD"
    put(bench, "60")
    assert tally(bench).count == 1
    bench.say(do.End("links"))
    assert bench.refused(do.CountPieces("links", "fine")).sentence == "the batch is on hold"


def test_once_it_is_filled_nothing_more_is_mixed_in() -> None:
    bench = counting()
    put(bench, "60")
    bench.say(do.End("links"))
    bench.say(do.Tip("salt", more=True))
    assert bench.refused(do.Use("cup 1")).code == "no-turn"
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "3200")
    assert bench.refused(do.Accept("pork")).code == "filled"
    back = bench.floor.sight().facts.way_back
    assert back is not None
    assert back.why_not == "some of the batch is filled: nothing more can be mixed in"


def test_a_line_left_out_is_weighed_no_more_once_it_is_filled() -> None:
    bench = Bench(FORMULA).begin()
    bench.add("salt", "cup 1", "216")
    bench.say(do.Skip("pepper", "none here"))
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.End("links"))
    assert bench.told.sentence.startswith("all is in the mix")
    bench.show("fine", "98.45")  # an empty cup
    assert bench.line("pepper").tare is None


@pytest.mark.parametrize(
    "command",
    [do.CountPieces("links", "fine"), PACKS, do.TakeSample(None, None, Decimal(200), "cook it")],
    ids=lambda command: type(command).__name__,
)
@pytest.mark.parametrize("proof", ["the empty cup", "a second person"])
def test_nothing_is_filled_while_only_one_person_says_that_the_cure_is_in(
    command: do.Command, proof: str
) -> None:
    """The cup may be forgotten on the shelf, and what is filled without its cure stays so."""
    bench = Bench("[[addition]]".join(RING.split("[[addition]]")[part] for part in (0, 2))).begin()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Tip("premix"))
    refusal = bench.refused(command)
    assert (refusal.code, refusal.line) == ("unseen", "premix")
    assert refusal.next == "put its empty vessel on fine, or let a second person say so"
    assert not {"pieces", "packs", "sample"} & {offer.verb for offer in bench.told.offers}
    if proof == "the empty cup":
        bench.show("fine", "98.50")
        bench.show("fine", "0")
    else:
        bench.say(do.Tip("premix", second="Brida"))
    bench.say(command)


def test_of_several_words_the_last_is_asked_about() -> None:
    """Who said it last is the one who may have forgotten the cup, and it is that one's scale."""
    first = load("12", tipped=True)
    last = replace(load("12", tipped=True), who="Brida", scale="bench")
    premix = addition(required=True)
    refusal = unseen(batch(line(premix, first, last, judged=True)))
    assert refusal is not None
    assert refusal.sentence == "only Brida says that premix is in the mix"
    assert refusal.next.startswith("put its empty vessel on bench")
