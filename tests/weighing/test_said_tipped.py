"""A wrong "in the mix" is taken back: by the vessel as it was, or by a second person. What a rule
limits counts twice until somebody else, or the jar, says where it is."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.lawful import breaches
from station.batch.progress import phase, verdict
from station.weighing import commands as do
from tests.audit.test_sheet import sheet_of
from tests.benchside import CUPS, Bench
from tests.weighing.kitchen import DEVICES
from tests.weighing.test_second_dose import salted
from tests.weighing.test_two_sums import standing

BACK = "the cup is on the shelf"


def said_of_salt() -> Bench:
    """216 g of salt accepted in cup 3, and said to be in the mix: it stands on the shelf."""
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Tip("salt"))
    return bench


def on_the_pan(bench: Bench, cup: str, net: str) -> None:
    bench.show("fine", str(Decimal(CUPS[cup]) + Decimal(net)))


def test_a_full_cup_on_its_scale_takes_the_word_back() -> None:
    bench = said_of_salt()
    on_the_pan(bench, "cup 3", "216")
    answer = bench.say(do.Void("salt", BACK, said_tipped=True))
    assert answer == "salt stands: it is not in the mix"
    (load,) = bench.line("salt").standing
    assert (load.net_g, load.tipped_at) == (Decimal("216.00"), None)
    event = bench.last(ev.TippedInWord)
    assert (event.scale, event.seen_g, event.doubted) == ("fine", Decimal("347.20"), False)
    bench.show("fine", "0")
    bench.tip("cup 3")
    assert bench.line("salt").loads[0].seen_in and verdict(bench.batch, bench.line("salt")) == "in"


@pytest.mark.parametrize(("net", "taken"), [("216.15", True), ("216.20", False)])
def test_the_cup_is_as_it_was_within_three_divisions(net: str, taken: bool) -> None:
    bench = said_of_salt()
    on_the_pan(bench, "cup 3", net)
    back = do.Void("salt", BACK, said_tipped=True)
    if taken:
        bench.say(back)
        assert bench.line("salt").standing
    else:
        assert bench.refused(back).code == "unseen"


def test_one_persons_word_against_itself_is_too_little_for_salt() -> None:
    bench = said_of_salt()
    refusal = bench.refused(do.Void("salt", BACK, said_tipped=True))
    assert refusal.code == "unseen"
    assert refusal.next == "put cup 3 on fine as it was, or let a second person say so"
    (offer,) = refusal.offers
    assert offer.params["second"] == "Brida" and offer.danger
    bench.say(do.Void("salt", BACK, said_tipped=True, second="Brida"))
    assert bench.line("salt").standing


@pytest.mark.parametrize("second", ["Ansel", "Nobody"])
def test_the_second_person_is_another_one_on_the_list(second: str) -> None:
    bench = said_of_salt()
    refusal = bench.refused(do.Void("salt", BACK, said_tipped=True, second=second))
    assert refusal.code in ("same-person", "unknown-person")
    assert not bench.line("salt").standing


def test_what_a_scale_saw_come_back_empty_is_in_the_mix() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    on_the_pan(bench, "cup 3", "216")
    for second in (None, "Brida"):
        refusal = bench.refused(do.Void("salt", BACK, said_tipped=True, second=second))
        assert (refusal.code, refusal.next) == ("seen-in", "only the way back is left")


def test_nothing_is_taken_back_of_a_line_that_is_not_weighed() -> None:
    bench = Bench().begin()
    refusal = bench.refused(do.Void("salt", BACK, said_tipped=True))
    assert (refusal.code, refusal.sentence) == ("seen-in", "no salt is in")


def test_a_cup_with_something_else_in_it_proves_nothing() -> None:
    """Another line stands in the very vessel: what weighs so is that line."""
    bench = said_of_salt()
    bench.say(
        do.OpenLot("premix", "P-41", {"sodium nitrite": Decimal("0.0625")}, None, "2026-11-30")
    )
    bench.pour("cup 3", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    assert bench.line("premix").standing[0].vessel == "cup 3"
    on_the_pan(bench, "cup 3", "216")
    assert bench.refused(do.Void("salt", BACK, said_tipped=True)).code == "unseen"


def test_a_cure_poured_twice_behind_one_word_is_held() -> None:
    """Really tipped, the cup filled again to the gram and called untipped: 250 mg/kg may be in."""
    bench = standing()
    bench.say(do.Tip("premix"))
    on_the_pan(bench, "cup 2", "24")
    bench.say(do.Void("premix", BACK, said_tipped=True))
    assert bench.line("premix").standing and breaches(bench.batch)
    assert phase(bench.batch) == "on hold" and "24 g of premix went" in bench.batch.hold[-1]
    bench.say(do.Void("premix", "it was never in", second="Brida"))
    assert not bench.line("premix").doubts


def test_a_second_person_takes_a_cure_back_without_a_doubt() -> None:
    bench = standing()
    bench.say(do.Tip("premix"))
    bench.say(do.Void("premix", BACK, said_tipped=True, second="Brida"))
    assert not breaches(bench.batch) and phase(bench.batch) == "additions"
    bench.tip("cup 2")
    assert bench.line("premix").loads[0].seen_in


def test_what_was_never_accepted_is_weighed_anew() -> None:
    """ "In the mix" pressed by mistake on a half-filled cup that still stands on its scale."""
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.say(do.Tip("salt", unaccepted=True))
    assert bench.line("salt").unaccepted
    on_the_pan(bench, "cup 3", "100")
    assert bench.say(do.Void("salt", "pressed by mistake", said_tipped=True)) == (
        "salt is weighed on: it is not in the mix"
    )
    line = bench.line("salt")
    assert (line.loads, line.unaccepted, line.judged) == ((), False, False)
    assert (line.tare.vessel, line.tare.tare_g) == ("cup 3", Decimal(CUPS["cup 3"]))
    assert bench.told.word == "POUR"
    on_the_pan(bench, "cup 3", "216")
    bench.lift()
    bench.tip("cup 3")
    assert verdict(bench.batch, bench.line("salt")) == "in"


def half_a_cure_said_to_be_in() -> Bench:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Tip("premix", unaccepted=True))
    return bench


def test_what_is_in_the_cup_is_not_forgotten() -> None:
    """Taken back by two, lifted and tipped after all: it is asked about, and counts."""
    bench = half_a_cure_said_to_be_in()
    bench.say(do.Void("premix", BACK, said_tipped=True, second="Brida"))
    bench.lift()
    bench.show("fine", CUPS["cup 2"])
    assert bench.told.asks is not None and "in the mix?" in bench.told.asks.question.lower()
    assert bench.line("premix").in_doubt_g == Decimal("24.00")
    bench.pour("cup 2", "24")
    assert bench.refused(do.Accept("premix")).code.startswith("blocked")


def test_an_amount_that_nobody_knows_stays_as_if_it_were_in() -> None:
    bench = salted()
    bench.show("fine", CUPS["cup 2"])
    bench.move("fine", "110")
    bench.move("fine", "20")
    bench.show("fine", "0")
    bench.say(do.Tip("premix", unaccepted=True))
    assert bench.line("premix").unknown and bench.line("premix").loads[-1].vessel == "cup 2"
    back = do.Void("premix", BACK, said_tipped=True, second="Brida")
    assert bench.refused(back).code == "no-amount"


def test_it_waits_for_what_is_weighed_on_its_scale() -> None:
    bench = half_a_cure_said_to_be_in()
    bench.show("fine", "0")
    bench.pour("cup 1", "20")
    back = do.Void("premix", BACK, said_tipped=True, second="Brida")
    refusal = bench.refused(back)
    assert (refusal.code, refusal.sentence) == ("under-way", "pepper is being weighed on fine")
    bench.say(do.Tip("pepper", unaccepted=True))
    bench.say(back)
    assert bench.line("premix").tare is not None


def test_its_vessel_must_not_hold_anything_else() -> None:
    bench = half_a_cure_said_to_be_in()
    bench.tip("cup 2", "0.30")
    bench.pour("cup 2", "36")
    bench.lift()
    back = do.Void("premix", BACK, said_tipped=True, second="Brida")
    assert bench.refused(back).code == "vessel-taken"


def test_what_was_accepted_stays_when_more_was_only_said() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.at = "2026-11-30T10:05:00.000Z"
    bench.say(do.Tip("salt", more=True))
    assert bench.line("salt").unknown
    assert bench.refused(do.Void("salt", "it was flour", said_tipped=True)).code == "unseen"
    bench.say(do.Void("salt", "it was flour", said_tipped=True, second="Brida"))
    line = bench.line("salt")
    assert (line.unknown, line.unaccepted, len(line.loads)) == (False, False, 1)
    assert verdict(bench.batch, line) == "in"


def test_of_a_line_that_nothing_hangs_on_one_word_is_enough() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "36")
    bench.lift()
    bench.say(do.Tip("pepper"))
    bench.say(do.Void("pepper", BACK, said_tipped=True))
    assert bench.line("pepper").standing


def test_what_is_under_way_is_finished_first() -> None:
    bench = standing()
    bench.say(do.Tip("premix"))
    bench.say(do.Void("premix", BACK, said_tipped=True, second="Brida"))
    refusal = bench.refused(do.Void("premix", BACK, said_tipped=True, second="Brida"))
    assert refusal.code == "under-way"


def test_the_bench_offers_it_by_the_proof_that_there_is() -> None:
    bench = said_of_salt()

    def offered() -> list[str]:
        return [o.means for o in bench.told.offers if o.params.get("said_tipped")]

    assert offered() == ["Brida too: salt is not in"]
    on_the_pan(bench, "cup 3", "216")
    assert offered() == ["salt is not in, it stands"]


def test_the_record_tells_who_took_what_back() -> None:
    bench = said_of_salt()
    on_the_pan(bench, "cup 3", "216")
    bench.say(do.Void("salt", BACK, said_tipped=True))
    remark = next(row for row in sheet_of(bench).warnings if row.kind == "not tipped")
    assert remark.text == (
        f"said to be in the mix, and was not: {BACK}, says Ansel, and fine shows it"
    )


def in_two_bags() -> Bench:
    """100 g of salt from one bag and 116 g from another in cup 3, said to be in the mix."""
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.say(do.NextBag("salt", "S-2"))
    for part in range(1, 40):
        bench.move("fine", str(Decimal(CUPS["cup 3"]) + 100 + Decimal(116) * part / 40))
    on_the_pan(bench, "cup 3", "216")
    bench.lift()
    bench.say(do.Tip("salt"))
    return bench


def test_what_was_poured_from_two_bags_stands_as_one() -> None:
    bench = in_two_bags()
    assert len(bench.line("salt").last_said_tipped) == 2
    on_the_pan(bench, "cup 3", "216")
    bench.say(do.Void("salt", BACK, said_tipped=True))
    assert len(bench.line("salt").standing) == 2
    event = bench.last(ev.TippedInWord)
    assert (event.content_g, event.lot, event.scale) == (216, "S-2", "fine")


def test_the_cup_of_two_bags_with_one_of_them_in_it_is_not_as_it_was() -> None:
    bench = in_two_bags()
    on_the_pan(bench, "cup 3", "100")
    assert bench.refused(do.Void("salt", BACK, said_tipped=True)).code == "unseen"


def test_a_cup_of_an_unknown_amount_proves_nothing() -> None:
    bench = salted()
    bench.show("fine", CUPS["cup 2"])
    bench.move("fine", "110")
    bench.move("fine", "20")
    bench.show("fine", "0")
    bench.say(do.Tip("premix", unaccepted=True))
    on_the_pan(bench, "cup 2", "11")
    refusal = bench.refused(do.Void("premix", BACK, said_tipped=True))
    assert (refusal.code, refusal.next) == ("unseen", "let a second person say so")
    assert [o.params.get("second") for o in taking_back(bench)] == ["Brida"]


def test_a_scale_that_fell_silent_shows_nothing() -> None:
    bench = said_of_salt()
    on_the_pan(bench, "cup 3", "216")
    bench.silence(10)
    assert bench.refused(do.Void("salt", BACK, said_tipped=True)).code == "unseen"


def test_another_scale_under_the_name_shows_nothing() -> None:
    bench = said_of_salt()
    bench.floor.link("fine", True, device=DEVICES[0])
    on_the_pan(bench, "cup 3", "216")
    bench.floor.link("fine", True, device=DEVICES[1])
    on_the_pan(bench, "cup 3", "216")
    assert bench.told.troubles[0].reason == "device"
    assert bench.refused(do.Void("salt", BACK, said_tipped=True)).code == "unseen"


def taking_back(bench: Bench) -> list[do.Offer]:
    return [o for o in bench.told.offers if o.params.get("said_tipped")]


def test_it_is_offered_for_each_such_line_pressed_twice() -> None:
    bench = said_of_salt()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.say(do.Tip("premix"))
    on_the_pan(bench, "cup 3", "216")
    offers = taking_back(bench)
    assert [o.params["line"] for o in offers] == ["salt", "premix"]
    assert all(o.danger for o in offers)


def test_it_is_not_offered_while_more_of_the_line_is_weighed_or_voided() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.say(do.Tip("salt", unaccepted=True))
    bench.show("fine", "0")
    bench.show("fine", CUPS["cup 1"])
    assert bench.line("salt").tare is not None, "the rest of it is weighed"
    assert taking_back(bench) == []
    bench.pour("cup 1", "20")
    bench.say(do.Void("salt", "wrong cup"))
    assert bench.line("salt").voiding is not None and taking_back(bench) == []


def test_a_cup_that_is_not_still_shows_nothing_yet() -> None:
    bench = said_of_salt()
    bench.move("fine", "347.20")
    assert bench.refused(do.Void("salt", BACK, said_tipped=True)).code == "unseen"
