"""Ways to a second dose, a missing one, or a wrong record: each was found by attack."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.evolve import evolve
from station.batch.progress import phase
from station.weighing import commands as do
from station.weighing.floor import Floor
from tests.benchside import NITRITE, RING, Bench


def salted(formula: str = RING) -> Bench:
    bench = Bench(formula).begin()
    bench.add("salt", "cup 3", "216")
    return bench


def restart(bench: Bench) -> None:
    """The daemon dies and folds its ledger: fresh watches, the same record."""
    record = bench.station
    bench.floor = Floor(bench.scales)
    for scale in bench.scales:
        bench.floor.link(scale.name, True)
    bench.floor.resume(record)


def in_mix(bench: Bench) -> Decimal:
    return Decimal(bench.line("premix").tipped_g)


def test_a_required_cure_ended_short_does_not_close_as_made() -> None:
    bench = salted()
    bench.pour("cup 2", "1.50")
    bench.say(do.End("premix"))
    bench.lift()
    bench.tip("cup 2")
    bench.add("pepper", "cup 1", "36") if bench.told.line == "pepper" else None
    bench.say(do.Close(("premix", "pepper", "garlic")))
    assert bench.batch.end is None
    assert phase(bench.batch) == "on hold"


def test_a_strange_cup_on_the_scale_is_no_residue() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.pour("cup 1", "24")
    bench.say(do.Tip("premix"))
    assert in_mix(bench) == 24
    assert bench.line("premix").loads[0].residue_g is None


def test_tip_unaccepted_counts_what_was_last_settled_not_an_older_lift() -> None:
    bench = salted()
    bench.pour("cup 2", "5")
    bench.lift()
    bench.show("fine", "103.45")
    for grams in ("106", "110", "114", "118"):
        bench.move("fine", grams)
        bench.show("fine", grams, 0.4)
    bench.show("fine", "122.45")
    bench.say(do.Tip("premix", unaccepted=True))
    assert in_mix(bench) == 24


@pytest.mark.parametrize("how", ["cable", "silence"])
def test_a_cup_emptied_while_nobody_saw_is_recorded_with_what_it_held(how: str) -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    if how == "cable":
        bench.floor.link("fine", False, "out", "plug in")
        bench.floor.link("fine", True)
    bench.silence(3)
    bench.show("fine", "98.60")
    assert bench.told.troubles[0].reason == "gap"
    bench.say(do.Tip("premix", unaccepted=True))
    assert bench.line("premix").loads[0].net_g == 24
    assert bench.line("premix").tare is None  # what still stands there is not tared at once


def test_a_cup_tipped_while_the_cable_is_still_out_is_recorded_too() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.floor.link("fine", False, "out", "plug in")
    bench.say(do.Tip("premix", unaccepted=True))
    assert bench.line("premix").loads[0].net_g == 24


def test_a_lost_cable_alone_records_no_lift() -> None:
    bench = salted()
    bench.pour("cup 2", "12")
    bench.floor.link("fine", False, "out", "plug in")
    bench.floor.link("fine", True)
    bench.show("fine", "110.45")
    assert (bench.told.word, bench.line("premix").lifted) == ("POUR", None)


def test_refilling_the_cup_to_its_old_weight_does_not_undo_a_gap() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.silence(3)
    bench.show("fine", "98.60")
    bench.show("fine", "122.45")
    assert bench.told.word == "ANSWER"
    bench.say(do.Accept("premix"))  # the answer, not the cure's key
    bench.lift()
    assert bench.line("premix").accepted is None


def test_the_cures_key_does_not_outlive_a_lost_link() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.floor.link("fine", False, "out", "plug in")
    bench.floor.link("fine", True)
    bench.show("fine", "122.45")
    bench.lift()
    assert bench.line("premix").accepted is None


def test_after_a_restart_the_cup_is_asked_about_even_if_the_pan_was_empty() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    restart(bench)
    bench.show("fine", "0")
    bench.show("fine", "98.60")
    assert bench.told.troubles[0].asks == "gone", "the 24 g that had settled are on record"
    assert bench.refused(do.Accept("premix")).code == "blocked-gap"
    bench.show("fine", "0")
    bench.show("fine", "122.45")
    assert bench.told.word == "ANSWER"
    bench.say(do.Accept("premix"))
    assert bench.told.troubles[0].asks == "doubt", "it was empty and is full again: 48 g at most"
    bench.say(do.Accept("premix", second="Brida"))
    assert bench.told.word == "IN BAND"


def test_a_cup_gone_and_back_while_the_pan_never_settled_is_asked_about() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    for number in range(50):
        bench.move("fine", "0.05" if number % 2 else "0.10")
    bench.show("fine", "98.55")
    assert "PREMIX in the mix?" in bench.told.sentence


def test_a_spill_too_big_for_a_lift_still_remembers_the_cup() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.move("fine", "20")
    bench.show("fine", "0.40")
    assert bench.line("premix").lifted.gross_g == Decimal("122.45")
    bench.show("fine", "98.60")
    assert "PREMIX in the mix?" in bench.told.sentence


def test_another_cup_is_not_answered_as_if_some_went_back() -> None:
    bench = salted()
    bench.pour("cup 2", "20")
    bench.lift()
    bench.show("fine", "86.90")
    assert bench.refused(do.Accept("premix")).code == "blocked-vessel"
    assert bench.line("premix").lifted is not None


NITRITED = RING.replace(
    'role = "salt"', 'role = "salt"\ncontains = { "sodium nitrite" = "0.6 %", "salt" = "99.4 %" }'
)
NITRITED = NITRITED.replace('amount = "0.20 %"', 'amount = "0.01 %"')


def test_nitrite_in_a_line_of_another_role_has_a_lot_of_fixed_strength() -> None:
    bench = Bench(NITRITED)
    bench.vessels()
    bench.open("12000")
    bench.weigh_meat("12000")
    assert "salt: open its lot" in bench.told.sentence
    weak = do.OpenLot("salt", "L", {"salt": Decimal(1)}, None, "2026-11-30")
    assert bench.refused(weak).code == "no-strength"
    bench.say(do.OpenLot("salt", "L", {"sodium nitrite": Decimal("0.006")}, None, "2026-11-30"))
    bench.say(do.OpenLot("premix", "P", NITRITE, None, "2026-11-30"))
    bench.pour("cup 3", "100")
    assert bench.refused(do.NextBag("salt", "unknown")).code == "no-lot"


def test_a_full_cup_after_a_bag_change_is_not_voided_on_its_later_tare() -> None:
    bench = salted()
    bench.pour("cup 2", "12")
    bench.say(do.NextBag("premix", "P-41"))
    bench.say(do.Void("premix", "wet"))
    assert bench.line("premix").loads
    bench.show("fine", "98.45")
    assert not bench.line("premix").loads


def test_a_cup_to_be_voided_is_never_taken_for_tipped() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Void("salt", "wet"))
    bench.show("fine", "134.70")
    assert bench.line("salt").tipped_g == 0
    bench.show("fine", "131.20")
    assert not bench.line("salt").loads


def test_only_the_vessel_that_was_seen_empty_is_voided() -> None:
    bench = Bench(RING.replace('"1.8 %"', '"3 %"')).begin()
    bench.pour("cup 3", "100")
    bench.say(do.End("salt"))
    bench.lift()
    bench.pour("cup 1", "50")
    bench.say(do.End("salt"))
    bench.lift()
    bench.say(do.Void("salt", "wet"))
    bench.show("fine", "86.90")
    assert [load.vessel for load in bench.line("salt").loads] == ["cup 3"]
    bench.show("fine", "131.20")
    assert not bench.line("salt").loads


def test_a_lost_cup_and_a_tip_during_void_have_a_way_out() -> None:
    for way in (do.Void("salt", "the cup fell"), do.Tip("salt")):
        bench = Bench().begin()
        bench.pour("cup 3", "216")
        bench.lift()
        bench.say(do.Void("salt", "wet"))
        bench.say(way)
        assert bench.line("salt").voiding is None
        assert not bench.line("salt").standing


def test_a_load_in_band_is_lifted_and_not_ended() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    assert bench.refused(do.End("premix")).code == "lift"


def test_what_was_taken_as_weighed_is_no_tare_for_the_next_line() -> None:
    bench = salted()
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "30")
    bench.say(do.Accept("pepper", as_weighed=True))
    bench.show("fine", "140.00")  # poured on without lifting
    assert bench.line("garlic").tare is None
    assert bench.told.next.startswith("lift it off")


def test_a_small_step_under_zero_reopens_nothing() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.show("fine", "-0.25")
    assert bench.told.troubles[0].reason == "zero"
    assert bench.line("premix").accepted is not None


def test_zeroing_under_one_cup_does_not_reopen_another() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    gross = bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.show("fine", "0")
    bench.show("fine", f"-{gross}")
    assert bench.line("premix").accepted is None
    assert bench.line("salt").accepted is not None


def test_a_batch_without_meat_is_not_closed() -> None:
    bench = Bench(RING.split('[[addition]]\nname = "premix"')[0]).begin()
    out = ev.MeatWeighed("pork", Decimal(-12000), Decimal(13200), Decimal(1200), "bench",
                         Decimal(2), "tub", "Ansel", "")  # fmt: skip
    bench.station = evolve(bench.station, out, "2026-11-30T10:00:00.000Z", "b-1")
    assert bench.refused(do.Close(("salt",))).code == "no-meat"


def unsettled_pour(bench: Bench, empty: str, net: str) -> None:
    """Poured at the pace of a hand and lifted before it settled."""
    for part in range(1, 41):
        bench.move("fine", str(Decimal(empty) + Decimal(net) * part / 40))
    for _ in range(5):
        bench.move("fine", str(Decimal(empty) + Decimal(net)))


def test_a_cup_lifted_before_it_settled_is_asked_about_and_its_amount_is_unknown() -> None:
    bench = salted()
    bench.show("fine", "98.45")
    unsettled_pour(bench, "98.45", "24")
    bench.lift()
    bench.show("fine", "98.65")
    assert "PREMIX in the mix?" in bench.told.sentence
    bench.say(do.Tip("premix", unaccepted=True))
    assert bench.line("premix").unknown
    assert phase(bench.batch) == "on hold"


def test_an_empty_cup_lifted_to_be_filled_is_not_asked_about() -> None:
    bench = salted()
    bench.show("fine", "98.45")
    bench.move("fine", "103.00")  # the hand that grips it
    bench.lift()
    bench.show("fine", "98.45")
    assert bench.told.word == "POUR"
    bench.show("fine", "122.45")
    assert bench.line("premix").lifted is None


def test_after_a_bag_change_a_tipped_cup_is_asked_about_and_all_of_it_recorded() -> None:
    bench = salted()
    bench.pour("cup 2", "12")
    bench.say(do.NextBag("premix", "P-41"))
    for grams in ("112", "115", "118", "121"):
        bench.move("fine", grams)
        bench.show("fine", grams, 0.4)
    bench.show("fine", "122.45")
    bench.lift()
    assert bench.refused(do.Tip("premix")).code == "under-way"
    bench.show("fine", "98.55")
    assert "PREMIX in the mix?" in bench.told.sentence
    bench.say(do.Tip("premix", unaccepted=True))
    assert in_mix(bench) == pytest.approx(Decimal(24), abs=Decimal("0.2"))
    assert not bench.line("premix").standing


def test_a_confessed_second_dose_puts_the_batch_on_hold() -> None:
    bench = salted()
    bench.add("premix", "cup 2", "24")
    assert bench.refused(do.Tip("premix", unaccepted=True)).offers[0].params["more"]
    bench.say(do.Tip("premix", more=True))
    assert "nobody knows" in bench.batch.hold[0]


def test_a_jar_a_little_heavier_than_the_cup_is_not_the_cup_of_cure() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.show("fine", "103.90")
    assert bench.line("premix").standing
    assert "PREMIX in the mix?" in bench.told.sentence


def test_a_cup_of_the_last_batch_left_on_the_pan_is_lifted_off_first() -> None:
    bench = salted()
    bench.add("premix", "cup 2", "24")
    bench.add("pepper", "cup 1", "36")
    bench.pour("cup 1", "60")
    bench.lift()
    bench.show("fine", "87.00")
    bench.say(do.Close())
    bench.formula = Bench(
        RING.split('[[addition]]\nname = "garlic"')[0].replace("ring", "link")
    ).formula
    bench.open()
    bench.weigh_meat()
    bench.say(do.OpenLot("premix", "P", NITRITE, None, "2026-11-30"))
    assert bench.told.line == "salt"
    assert bench.line("salt").tare is None
