"""What answers under a scale's name is on record; another is asked about before anything counts."""

from decimal import Decimal

import pytest
from msgspec.structs import replace

from station.batch import events as ev
from station.metrology.scale import Device, Scale
from station.weighing import commands as do
from station.weighing.floor import Floor
from tests.benchside import BENCH, FINE, Bench

FIRST = Device("letters", "usb 1209:0001 A17")
OTHER = Device("letters", "usb 1209:0001 B40")


def attach(bench: Bench, device: Device | None, grams: str = "0") -> None:
    """The cable goes into a scale, which sends its weight."""
    bench.floor.link("fine", False, "the cable is out", "plug it in")
    bench.silence(0.5)
    bench.floor.link("fine", True, device=device)
    bench.show("fine", grams, 0.3)
    bench.move("fine", str(Decimal(grams) + FINE.division_g))  # it moves by its division
    bench.show("fine", grams)


def begin_anew(bench: Bench, scale: Scale, device: Device) -> Bench:
    """The station starts with another line in station.toml."""
    other = Bench(scales=(scale, BENCH))
    other.floor = Floor((scale, BENCH), ("Ansel", "Brida"))
    for name in other.watches:
        other.floor.link(name, True, device=device if name == "fine" else None)
    other.floor.resume(bench.station)
    other.show("fine", "0")
    return other


def known(bench: Bench) -> list[ev.ScaleKnown]:
    return [event for event in bench.events if isinstance(event, ev.ScaleKnown)]


def test_the_first_that_answers_is_recorded_once_and_without_a_question() -> None:
    bench = Bench()
    attach(bench, FIRST)
    attach(bench, FIRST)
    assert known(bench) == [ev.ScaleKnown(FINE, FIRST, None)]
    assert not bench.pans()["fine"].troubles


def test_a_port_that_opened_is_no_scale_before_it_sends_a_weight() -> None:
    bench = Bench()
    bench.floor.link("fine", False)
    bench.floor.link("fine", True, device=FIRST)
    bench.notice()
    assert not known(bench)
    assert bench.refused(do.ConfirmScale("fine")).code == "no-device"


def test_another_device_blocks_and_is_asked_about_with_what_differs() -> None:
    bench = Bench()
    attach(bench, FIRST)
    attach(bench, OTHER)
    told = bench.told
    assert (told.word, told.alarm) == ("ANSWER", True)
    assert told.asks is not None
    assert told.asks.question == (
        "another scale answers as fine: port usb 1209:0001 B40, was usb 1209:0001 A17"
    )
    assert told.asks.otherwise == "attach the scale on record"
    (answer,) = told.asks.answers
    assert (answer.verb, answer.params, answer.danger) == ("confirm-scale", {"scale": "fine"}, True)
    assert bench.refused(do.RecordVessel("cup 9", "fine")).code == "blocked-device"


def test_the_scale_on_record_ends_the_question_by_coming_back() -> None:
    bench = Bench()
    attach(bench, FIRST)
    attach(bench, OTHER)
    attach(bench, FIRST)
    assert not bench.pans()["fine"].troubles and len(known(bench)) == 1


def test_a_person_confirms_another_scale_and_is_recorded() -> None:
    bench = Bench()
    bench.open()
    attach(bench, FIRST)
    attach(bench, OTHER)
    bench.say(do.ConfirmScale("fine"))
    assert known(bench)[-1] == ev.ScaleKnown(FINE, OTHER, "Ansel")
    assert not bench.pans()["fine"].troubles
    attach(bench, FIRST)
    assert bench.pans()["fine"].another


def test_the_scale_on_record_is_not_confirmed() -> None:
    bench = Bench()
    attach(bench, FIRST)
    assert bench.refused(do.ConfirmScale("fine")).code == "same-scale"
    attach(bench, None)
    assert bench.refused(do.ConfirmScale("fine")).code == "no-device"


@pytest.mark.parametrize(
    ("scale", "device", "what"),
    [
        ({"division_g": Decimal("0.1")}, FIRST, "division 0.1 g, was 0.05 g"),
        ({"max_g": Decimal(300)}, FIRST, "Max 300 g, was 600 g"),
        ({"accuracy": "III"}, FIRST, "class III, was II"),
        ({}, Device("digits", FIRST.identity), "grammar digits, was letters"),
        (
            {"division_g": Decimal("0.1")},
            OTHER,
            "division 0.1 g, was 0.05 g; port usb 1209:0001 B40, was usb 1209:0001 A17",
        ),
    ],
)
def test_a_start_with_another_scale_in_station_toml_is_asked_about(
    scale: dict[str, object], device: Device, what: str
) -> None:
    bench = Bench()
    attach(bench, FIRST)
    later = begin_anew(bench, replace(FINE, **scale), device)  # type: ignore[arg-type]
    (trouble,) = later.pans()["fine"].troubles
    assert trouble.sentence == f"another scale answers as fine: {what}"


def test_a_start_in_another_unit_is_asked_about() -> None:
    bench = Bench()
    attach(bench, FIRST)
    later = begin_anew(bench, replace(FINE, unit="kg"), FIRST)
    trouble = later.pans()["fine"].troubles[0]
    assert trouble.sentence == "another scale answers as fine: unit kg, was g"


def test_what_its_port_says_later_is_added_and_what_it_says_no_more_is_no_other_scale() -> None:
    bench = Bench()
    attach(bench, Device("letters"))
    attach(bench, FIRST)
    attach(bench, Device("letters"))
    assert [event.device.identity for event in known(bench)] == [None, FIRST.identity]
    assert not bench.pans()["fine"].another
    attach(bench, OTHER)
    assert bench.pans()["fine"].another


def test_open_batches_are_weighed_on_the_scale_that_was_confirmed() -> None:
    bench = Bench().begin()
    attach(bench, FIRST)
    coarse = replace(FINE, division_g=Decimal("0.1"))
    later = begin_anew(bench, coarse, FIRST)
    assert later.batch.scale("fine") == FINE
    later.say(do.ConfirmScale("fine"))
    assert later.batch.scale("fine") == coarse
    assert later.batch.scale("bench") == BENCH


def test_a_parked_batch_is_weighed_on_it_too_and_a_closed_one_stays_as_it_was() -> None:
    bench = Bench().begin()
    bench.say(do.Park())
    bench.open(batch="b-2")
    bench.say(do.Abandon("by mistake"))
    attach(bench, FIRST)
    later = begin_anew(bench, replace(FINE, division_g=Decimal("0.1")), FIRST)
    later.say(do.ConfirmScale("fine"))
    assert later.station.parked["b-1"].scale("fine").division_g == Decimal("0.1")
    assert later.batch.scale("fine") == FINE


def test_how_late_another_scale_is_is_not_learnt_before_it_is_confirmed() -> None:
    bench = Bench()
    attach(bench, FIRST)
    attach(bench, OTHER)
    for _ in range(6):
        bench.show("fine", "200", 2)
        bench.show("fine", "0", 2)
    assert not any(isinstance(event, ev.LagMeasured) for event in bench.events)


def test_a_cure_is_not_accepted_from_another_scale() -> None:
    bench = Bench()
    attach(bench, FIRST)
    bench.begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    attach(bench, OTHER, "122.45")
    assert bench.refused(do.Accept("premix")).code == "blocked-device"
    assert bench.refused(do.ConfirmScale("fine")).code == "under-way"
    assert [offer.verb for offer in bench.told.asks.answers] == ["void"]
    for _ in range(2):  # once more: no scale can show the cup empty
        bench.say(do.Void("premix", "its scale is broken", second="Brida"))
    bench.say(do.ConfirmScale("fine"))
    assert bench.line("premix").tare is None and not bench.pans()["fine"].another


def test_another_scale_whose_port_speaks_for_the_first_time_is_asked_about() -> None:
    bench = Bench()
    attach(bench, Device("letters"))
    later = begin_anew(bench, replace(FINE, division_g=Decimal("0.1")), FIRST)
    assert later.pans()["fine"].another and not known(later)


@pytest.mark.parametrize("first", [None, Device("letters")])
def test_nothing_is_recorded_of_a_scale_while_a_line_is_weighed_there(
    first: Device | None,
) -> None:
    bench = Bench()
    if first is not None:
        attach(bench, first)
    bench.begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    before = len(known(bench))
    attach(bench, FIRST, "122.45")
    assert len(known(bench)) == before
    for _ in range(2):
        bench.say(do.Void("premix", "begun again", second="Brida"))
    bench.show("fine", "0")
    assert known(bench)[-1].device == FIRST
