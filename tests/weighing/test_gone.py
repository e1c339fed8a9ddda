"""What left a vessel of a limited line may be in the mix, until somebody else saw where it went."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch import events as ev
from station.batch.lawful import Breach
from station.batch.progress import phase
from station.batch.state import Batch
from station.weighing import commands as do
from tests.benchside import CUPS, Bench
from tests.weighing.test_second_dose import salted


def gross(cup: str, net: str) -> str:
    return str(Decimal(CUPS[cup]) + Decimal(net))


def fill(bench: Bench, cup: str, before: str, after: str) -> None:
    """Pour, or spoon out, until so much is in the cup on the pan; four seconds."""
    start, end = Decimal(gross(cup, before)), Decimal(gross(cup, after))
    for part in range(1, 40):
        bench.move("fine", str(start + (end - start) * part / 40))
    bench.show("fine", str(end))


@pytest.mark.parametrize(("net", "gone"), [("22.15", "1.85"), ("23.85", "0"), ("23.80", "0.2")])
def test_what_is_taken_out_counts_once_it_is_more_than_three_divisions(net: str, gone: str) -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.show("fine", gross("cup 2", net))
    assert bench.line("premix").in_doubt_g == Decimal(gone)


def test_a_little_taken_out_needs_no_second_person_while_the_most_is_lawful() -> None:
    """25.40 g, 1.40 g taken out: at most 25.4 g of 30 g are in the mix."""
    bench = salted()
    bench.pour("cup 2", "25.40")
    assert bench.told.word == "TAKE OUT"
    bench.show("fine", gross("cup 2", "24"))
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.tip("cup 2")
    assert bench.line("premix").accepted is not None and not bench.batch.hold


def spooned() -> Bench:
    """A cup filled, spooned empty on the pan, and filled again: 12 and 24 g."""
    bench = salted()
    bench.pour("cup 2", "12")
    fill(bench, "cup 2", "12", "0")
    fill(bench, "cup 2", "0", "24")
    return bench


def test_what_was_spooned_out_on_the_pan_is_not_weighed_a_second_time_past_the_limit() -> None:
    bench = spooned()
    assert bench.told.troubles[0].asks == "doubt"
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"
    bench.lift()
    assert not bench.line("premix").loads


def test_a_second_person_says_where_it_went_and_the_weighing_goes_on() -> None:
    bench = spooned()
    assert [offer.params.get("second") for offer in bench.told.asks.answers] == ["Brida", None]
    bench.say(do.Accept("premix", second="Brida"))
    assert bench.told.word == "IN BAND" and not bench.line("premix").in_doubt
    assert not bench.line("premix").loads, "that key accepts nothing"


def test_the_one_at_the_bench_is_no_second_person() -> None:
    bench = spooned()
    assert bench.refused(do.Accept("premix", second="Ansel")).code == "same-person"


def test_a_second_person_is_not_asked_where_nothing_is_in_doubt() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    assert bench.refused(do.Accept("premix", second="Brida")).code == "no-doubt"


def test_more_than_the_limit_spooned_out_holds_the_batch() -> None:
    bench = salted()
    bench.pour("cup 2", "31")
    bench.show("fine", gross("cup 2", "0"))
    assert phase(bench.batch) == "on hold"
    assert "nobody saw where 31 g of premix went" in bench.batch.hold
    bench.say(do.Accept("premix", second="Brida"))
    assert not bench.batch.hold


def test_a_cup_lifted_emptied_and_filled_again_is_no_whole_cup() -> None:
    """24 g lifted, tipped, the cup filled once more before the question is answered."""
    bench = salted()
    bench.pour("cup 2", "24")
    bench.lift()
    bench.show("fine", gross("cup 2", "0.05"))
    assert bench.told.troubles[0].asks == "missing"
    fill(bench, "cup 2", "0.05", "24")
    assert bench.told.troubles[0].asks == "doubt"
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"


def test_what_is_said_to_be_in_the_mix_is_counted_once() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.lift()
    bench.show("fine", gross("cup 2", "0.05"))
    assert bench.line("premix").in_doubt_g == Decimal("23.95")
    bench.say(do.Tip("premix", unaccepted=True))
    assert bench.line("premix").in_doubt_g == 0 and not bench.batch.hold
    assert bench.line("premix").tipped_g == Decimal("23.95")


def test_what_was_gone_before_is_in_doubt_beside_what_is_tipped() -> None:
    bench = spooned()
    bench.lift()
    bench.show("fine", gross("cup 2", "0.05"))
    bench.say(do.Tip("premix", unaccepted=True))
    assert bench.line("premix").in_doubt_g == 12
    assert phase(bench.batch) == "on hold"


def test_a_void_that_a_second_person_saw_settles_what_was_gone() -> None:
    bench = spooned()
    fill(bench, "cup 2", "24", "0")
    bench.say(do.Void("premix", "back in its jar", second="Brida"))
    assert not bench.line("premix").in_doubt and not bench.batch.hold


def test_a_void_by_one_person_settles_nothing() -> None:
    bench = spooned()
    fill(bench, "cup 2", "24", "0")
    bench.say(do.Void("premix", "back in its jar"))
    assert bench.line("premix").in_doubt_g == 36
    assert phase(bench.batch) == "on hold"


def test_what_is_poured_into_another_vessel_may_be_in_the_mix() -> None:
    """Cup 3 is tared; cup 2 is set down, filled under "another vessel?", lifted and tipped."""
    bench = salted()
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 2"])
    assert "another vessel" in bench.told.sentence
    bench.show("fine", gross("cup 2", "24"))
    bench.lift()
    assert bench.line("premix").in_doubt_g == 24
    bench.show("fine", CUPS["cup 3"])
    fill(bench, "cup 3", "0", "24")
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"


@pytest.mark.parametrize(("net", "gone"), [("0.15", "0"), ("0.20", "0.2")])
def test_another_vessel_that_stayed_as_it_was_leaves_no_doubt(net: str, gone: str) -> None:
    bench = salted()
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 2"])
    bench.show("fine", gross("cup 2", net))
    bench.lift()
    assert bench.line("premix").in_doubt_g == Decimal(gone)


def test_a_lighter_vessel_filled_past_the_tare_is_another_one_still() -> None:
    """Cup 1 with 48 g weighs more than cup 3 empty."""
    bench = salted()
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 1"])
    bench.show("fine", gross("cup 1", "48"))
    assert "another vessel" in bench.told.sentence
    bench.lift()
    assert bench.line("premix").in_doubt_g == 48


def test_what_left_the_vessel_counts_while_the_scale_itself_is_in_question() -> None:
    """Only fifths of a gram were seen since the cable was back: is it the fine scale?"""
    bench = salted()
    bench.floor.link("fine", True)
    bench.show("fine", CUPS["cup 3"])
    fill(bench, "cup 3", "0", "24")
    assert bench.told.troubles[0].reason == "device"
    bench.lift()
    bench.show("fine", gross("cup 3", "0.05"))
    assert bench.line("premix").in_doubt_g == Decimal("23.95")


@pytest.mark.parametrize(("net", "lawful"), [("24.35", True), ("24.40", False)])
def test_the_limit_for_a_cup_bears_the_uncertainty_of_what_left_it(net: str, lawful: bool) -> None:
    """5.55 g were spooned out. 12000 - 1.64 g of meat allow 29.996 g; U of two weighings with
    d = 0.05 g is 2 * 0.0205 * sqrt 2 = 0.058 g: 24.388 g are left."""
    bench = salted()
    bench.pour("cup 2", "12")
    fill(bench, "cup 2", "12", "6.45")
    fill(bench, "cup 2", "6.45", net)
    if lawful:
        bench.say(do.Accept("premix"))
        bench.lift()
        assert bench.line("premix").accepted is not None
    else:
        assert bench.refused(do.Accept("premix")).code in ("over", "blocked-vessel")
        bench.lift()
        assert bench.line("premix").accepted is None and bench.line("premix").lifted is not None


def test_a_lift_that_may_accept_nothing_is_on_record_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The gate behind the limits of the cup: what the hand has done is done."""
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    before = bench.batch

    def breach(was: Batch, after: Batch) -> list[Breach]:
        return [Breach(before.rows[0], Fraction(1), "mix")] if after.lines["premix"].loads else []

    monkeypatch.setattr("station.weighing.decide.worse", breach)
    bench.move("fine", "20")
    bench.show("fine", "0.10")  # a grain stayed on the pan
    line = bench.line("premix")
    assert (line.accepted, line.loads) == (None, ())
    assert bench.last(ev.Spilt) == ev.Spilt("premix", Decimal("0.10"))
    assert line.lifted is not None and line.lifted.gross_g == Decimal("122.45")


@pytest.mark.parametrize(("net", "doubted"), [("0.15", "0"), ("0.20", "0.20"), ("12", "12")])
def test_what_was_poured_into_another_vessel_and_voided_may_be_in_the_mix(
    net: str, doubted: str
) -> None:
    """Cup 3 is tared; cup 2 is filled in its place, and the line voided before it is lifted."""
    bench = salted()
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 2"])
    fill(bench, "cup 2", "0", net)
    for _ in range(2):
        bench.say(do.Void("premix", "the wrong cup"))
        if bench.line("premix").voiding is None:  # at once, where nothing was poured
            break
    assert bench.line("premix").in_doubt_g == Decimal(doubted)


def test_what_is_poured_and_taken_out_while_the_device_is_in_question_counts() -> None:
    """After a new link the scale has moved by 0.1 g only: it may be another one, or may not."""
    bench = salted()
    bench.floor.link("fine", True)
    bench.show("fine", CUPS["cup 3"])
    for part in range(1, 41):
        bench.move("fine", gross("cup 3", str(Decimal(part) / 2)))
    bench.show("fine", gross("cup 3", "20"))
    assert [t.reason for t in bench.told.troubles] == ["device"]
    bench.show("fine", gross("cup 3", "0.10"))
    assert bench.line("premix").in_doubt_g == Decimal("19.90")


def test_a_second_person_vouches_for_what_was_there_when_they_said_so() -> None:
    """0.6 g are to be voided, and Brida saw where they go; then 23.4 g more are poured, and tipped
    into the mix: her word is not about those."""
    bench = salted()
    bench.pour("cup 1", "0.60")
    bench.say(do.Void("premix", "a spoon too early", second="Brida"))
    fill(bench, "cup 1", "0.60", "24")
    bench.lift()
    bench.show("fine", CUPS["cup 1"])
    assert bench.line("premix").voiding is None
    assert bench.line("premix").in_doubt_g == Decimal("23.40")
    assert phase(bench.batch) == "on hold"


@pytest.mark.parametrize("again", [None, "Brida"])
def test_only_who_says_it_again_vouches_for_what_is_there_now(again: str | None) -> None:
    bench = salted()
    bench.pour("cup 1", "0.60")
    bench.say(do.Void("premix", "a spoon too early", second="Brida"))
    fill(bench, "cup 1", "0.60", "24")
    bench.say(do.Void("premix", "all of it", second=again))
    assert bench.line("premix").in_doubt_g == Decimal("0" if again else "23.40")
