"""Figures that a person read and typed."""

from dataclasses import replace
from decimal import Decimal

import pytest
from msgspec import structs

from station.batch import events as ev
from station.batch.progress import phase
from station.weighing import commands as do
from tests.benchside import CUPS, Bench


def dead(bench: Bench, scale: str = "fine") -> Bench:
    bench.floor.link(scale, False, "its cable is out", "plug it in")
    return bench


def typed(line: str, net: str, **more: object) -> do.ByHand:
    return do.ByHand(line, Decimal(net), "fine", "the cable is torn", **more)  # type: ignore[arg-type]


def test_a_typed_figure_inside_the_limits_is_accepted_and_marked() -> None:
    bench = dead(Bench().begin())
    bench.say(typed("salt", "216.00"))
    line = bench.line("salt")
    assert line.accepted is not None and line.by_hand
    assert line.standing[0].by_hand == ev.ByHand("the cable is torn", None)
    bench.say(do.Tip("salt"))
    assert bench.told.line == "premix"


def test_a_scale_that_can_be_read_is_read() -> None:
    bench = Bench().begin()
    assert bench.refused(typed("salt", "216.00")).code == "scale-is-well"


@pytest.mark.parametrize(
    ("net", "code"),
    [
        ("230.00", "over"),
        ("100.00", "under"),
        ("216.03", "off-grid"),
        ("0", "bad-net"),
        ("601", "over-max"),
    ],
)
def test_a_typed_figure_is_judged_like_any_other(net: str, code: str) -> None:
    bench = dead(Bench().begin())
    assert bench.refused(typed("salt", net)).code == code


def test_a_typed_cure_wants_a_second_person_who_is_another() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    dead(bench)
    assert bench.refused(typed("premix", "24.00")).code == "second-wanted"
    assert bench.refused(typed("premix", "24.00", second="Ansel")).code == "same-person"
    assert bench.refused(typed("premix", "24.00", second="Nobody")).code == "unknown-person"
    bench.say(typed("premix", "24.00", second="Brida"))
    assert bench.last(ev.LoadWeighed).by_hand.second == "Brida"  # type: ignore[attr-defined]


def test_a_typed_cure_over_its_hard_limit_is_refused_whoever_reads_it() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    dead(bench)
    assert bench.refused(typed("premix", "31.00", second="Brida")).code == "over"


def test_what_went_in_during_a_power_cut_is_recorded_whatever_it_is_and_holds_the_batch() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(typed("premix", "31.00", second="Brida", in_mix=True))
    assert bench.line("premix").loads[0].by_hand is not None
    assert bench.batch.hold and "premix in the mix is over" in " ".join(bench.batch.hold)


def test_meat_by_hand_wants_a_tub_and_two_people_and_counts_once() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    typed_meat = do.ByHand("pork", Decimal(12000), "bench", "power cut", "Brida")
    assert bench.refused(typed_meat).code == "scale-is-well"
    dead(bench, "bench")
    assert bench.refused(typed_meat).code == "no-tub"
    bench.say(do.Use("tub"))
    assert bench.refused(replace(typed_meat, second=None)).code == "second-wanted"
    bench.say(typed_meat)
    assert bench.batch.meat_g == 12000
    assert bench.refused(typed_meat).code == "same-load"
    assert bench.refused(replace(typed_meat, net_g=Decimal(12002))).code == "same-load"
    bench.floor.link("bench", True)
    bench.show("bench", "13200")
    assert bench.refused(do.Accept("pork")).code == "same-load"
    bench.say(do.End("pork"))
    assert bench.batch.meat_ended


def test_the_scale_of_the_weighing_under_way_is_read_if_it_can_be() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    dead(bench, "bench")
    other = do.ByHand("salt", Decimal(216), "bench", "cable")
    assert bench.refused(other).code == "scale-is-well"
    bench.show("fine", "0")
    bench.show("fine", "0.40")  # a crumb: mended at the scale, no reason to type
    assert bench.refused(typed("salt", "216.00")).code == "scale-is-well"


def test_a_typed_acceptance_hangs_on_no_lift() -> None:
    """The power comes back and the scale zeroes itself under the cup."""
    bench = dead(Bench().begin())
    bench.say(typed("salt", "216.00"))
    bench.floor.link("fine", True)
    bench.show("fine", "0")
    bench.show("fine", "-347.20")
    assert bench.line("salt").accepted is not None


def test_what_the_scale_saw_is_not_typed_away() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 1", "31")
    bench.lift()
    less = typed("premix", "24.00", in_mix=True, second="Brida")
    assert bench.refused(less).code == "seen-more"


def test_typed_twice_as_in_the_mix_is_asked_about() -> None:
    bench = Bench().begin()
    bench.say(typed("salt", "216.00", in_mix=True))
    assert bench.refused(typed("salt", "216.00", in_mix=True)).code == "blocked-again"


def test_a_typed_load_in_a_vessel_nobody_named_is_no_empty_vessel_later() -> None:
    bench = dead(Bench().begin())
    bench.say(typed("salt", "216.00"))
    bench.floor.link("fine", True)
    bench.show("fine", "0")
    bench.add("premix", "cup 2", "24")
    bench.show("fine", "347.20")
    assert bench.line("pepper").tare is None
    assert "does this hold the salt?" in bench.told.sentence
    bench.say(do.Void("salt", "wet"))
    bench.show("fine", "0")
    bench.show("fine", "1.50")
    assert bench.line("salt").standing  # a crumb is not its empty vessel


def test_a_cup_weighed_by_hand_in_mid_pour_is_known_when_it_comes_back() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    bench.say(typed("salt", "216.00"))
    bench.floor.link("fine", True)
    bench.show("fine", "0")
    bench.show("fine", "131.30")
    assert bench.line("salt").loads[0].tipped


def test_meat_minced_during_a_power_cut_is_typed_once_the_scale_is_back() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.say(do.Use("tub"))
    minced = do.ByHand("pork", Decimal(12000), "bench", "power cut", "Brida", in_mix=True)
    bench.say(minced)
    assert bench.batch.meat_g == 12000


def cured(bench: Bench) -> Bench:
    bench.add("salt", "cup 3", "216")
    return bench


ONE_NAME = (
    "ansel",
    "ANSEL",
    " Ansel ",
    "Ａｎｓｅｌ",
    "\U0001d400nsel",
    "An\u00adsel",
    "Ansel\u200b",
)


@pytest.mark.parametrize("second", ONE_NAME)
def test_the_same_person_written_otherwise_is_no_second_person(second: str) -> None:
    """Even where the list of an older batch has both names."""
    bench = dead(cured(Bench().begin()))
    batch = replace(bench.batch, opened=structs.replace(bench.batch.opened, people=(second,)))
    bench.station = replace(bench.station, batch=batch)
    assert bench.refused(typed("premix", "24.00", second=second)).code == "same-person"


def test_a_composed_and_a_decomposed_name_are_one_person() -> None:
    bench = dead(cured(Bench().begin()))
    bench.station = replace(bench.station, batch=replace(bench.batch, who="Zo\u00eb"))
    refusal = bench.refused(typed("premix", "24.00", second="Zoe\u0308"))
    assert refusal.code == "same-person"


@pytest.mark.parametrize("second", ["brida", "Brida ", "Corin", ""])
def test_a_second_person_stands_on_the_list_as_written(second: str) -> None:
    bench = dead(cured(Bench().begin()))
    assert bench.refused(typed("premix", "24.00", second=second)).code == "unknown-person"


def test_what_a_typed_figure_leaves_out_of_what_was_seen_counts_for_the_most() -> None:
    """Nobody saw where it went: 31 g were seen of 30 g that are allowed."""
    bench = cured(Bench().begin())
    bench.pour("cup 2", "31")
    dead(bench)
    assert bench.refused(typed("premix", "24.00", second="Brida")).code == "unlawful"
    assert not bench.line("premix").loads


def test_a_little_less_typed_than_was_seen_is_accepted_while_the_most_is_lawful() -> None:
    bench = cured(Bench().begin())
    bench.pour("cup 2", "25.20")
    dead(bench)
    bench.say(typed("premix", "24.00", second="Brida"))
    assert bench.line("premix").accepted and bench.line("premix").in_doubt_g == Decimal("1.20")


def test_what_was_lifted_is_seen_too() -> None:
    bench = cured(Bench().begin())
    bench.pour("cup 2", "31")
    bench.lift()
    assert bench.refused(typed("premix", "24.00", second="Brida")).code == "scale-is-well"
    dead(bench)
    assert bench.refused(typed("premix", "24.00", second="Brida")).code == "unlawful"


@pytest.mark.parametrize(("seen", "gone"), [("24.15", "0"), ("24.20", "0.2")])
def test_within_three_divisions_a_typed_figure_is_the_one_seen(seen: str, gone: str) -> None:
    bench = cured(Bench().begin())
    bench.pour("cup 2", seen)
    dead(bench)
    bench.say(typed("premix", "24.00", second="Brida"))
    assert bench.line("premix").in_doubt_g == Decimal(gone)
    typed_content = [e for e in bench.events if isinstance(e, ev.ContentSeen) and not e.raw]
    assert bool(typed_content) == (gone != "0")


def test_a_vessel_that_stands_empty_on_another_scale_holds_no_typed_weight() -> None:
    bench = cured(Bench().begin())
    bench.say(do.Use("cup 2"))
    bench.show("bench", "98")
    dead(bench)
    assert bench.refused(typed("premix", "24.00", second="Brida")).code == "seen-empty"
    bench.show("bench", "104")  # three divisions of the bench more: it may be
    assert bench.refused(typed("premix", "24.00", second="Brida")).code == "seen-empty"
    bench.show("bench", "106")
    bench.say(typed("premix", "24.00", second="Brida"))


def test_a_vessel_with_more_in_it_than_was_typed_is_no_empty_vessel_for_the_next_line() -> None:
    bench = cured(Bench().begin())
    bench.say(do.Use("cup 2"))
    dead(bench)
    bench.say(typed("premix", "24.00", second="Brida"))
    bench.floor.link("fine", True)
    bench.show("fine", "0")
    bench.show("fine", str(Decimal(CUPS["cup 2"]) + 28))
    assert "does this hold the premix?" in bench.told.sentence
    assert bench.line("pepper").tare is None


def test_a_cure_far_over_its_limit_is_refused_and_in_the_mix_it_holds_the_batch() -> None:
    bench = dead(cured(Bench().begin()))
    far = typed("premix", "600.00", second="Brida")
    assert bench.refused(far).code == "over"
    bench.say(replace(far, in_mix=True))
    assert phase(bench.batch) == "on hold" and len(bench.batch.hold) == 2


def test_one_cure_is_typed_once() -> None:
    bench = dead(cured(Bench().begin()))
    figure = typed("premix", "24.00", second="Brida")
    bench.say(figure)
    assert bench.refused(figure).code == "blocked-again"
    assert bench.refused(replace(figure, in_mix=True)).code == "stands"
    bench.say(do.Tip("premix", second="Brida"))
    assert bench.refused(figure).code == "blocked-again"
    assert bench.refused(replace(figure, in_mix=True)).code == "blocked-again"
    assert bench.batch.lines["premix"].tipped_g == 24


def test_what_is_typed_as_in_the_mix_in_parts_adds_up() -> None:
    bench = dead(cured(Bench().begin()))
    part = typed("premix", "12.00", second="Brida", in_mix=True)
    bench.say(part)
    assert phase(bench.batch) == "on hold"
    bench.say(part)
    assert bench.refused(part).code == "blocked-again"
    assert bench.line("premix").tipped_g == 24 and not bench.batch.hold


def test_what_a_typed_seasoning_leaves_out_is_nobodys_doubt() -> None:
    bench = cured(Bench().begin())
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "50")
    dead(bench)
    bench.say(typed("pepper", "36.00"))
    assert bench.line("pepper").accepted and not bench.line("pepper").in_doubt


@pytest.mark.parametrize(("shown", "refused"), [("106", True), ("108", False), ("94", True)])
def test_a_vessel_is_empty_within_three_divisions_of_the_scale_it_stands_on(
    shown: str, refused: bool
) -> None:
    bench = Bench()
    bench.show("bench", "100")
    bench.say(do.RecordVessel("bowl", "bench"))
    bench.show("bench", "0")
    cured(bench.begin())
    bench.say(do.Use("bowl"))
    bench.show("bench", shown)
    dead(bench)
    if refused:
        assert bench.refused(typed("premix", "24.00", second="Brida")).code == "seen-empty"
    else:
        bench.say(typed("premix", "24.00", second="Brida"))


def test_a_weight_that_the_other_scale_cannot_tell_from_nothing_is_taken_as_typed() -> None:
    """6 g on steps of 2 g."""
    bench = Bench().begin("3000")
    bench.add("salt", "cup 3", "54")
    bench.say(do.Use("cup 2"))
    bench.show("bench", "98")
    dead(bench)
    bench.say(typed("premix", "6.00", second="Brida"))
    assert bench.line("premix").accepted is not None
