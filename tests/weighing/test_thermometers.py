"""A step's temperature is taken from a thermometer of the bench, and it is on record from which."""

import pytest

from station.batch import events as ev
from station.service.snapshot import snapshot
from station.weighing import commands as do
from station.weighing.thermometer import Thermometer
from tests.audit.test_sheet import sheet_of
from tests.benchside import Bench
from tests.weighing.test_tallying import FORMULA

KNEAD = '[[step]]\nname = "knead"\nafter = "pepper"\ntime = "<= 10 min"\ntemperature = "{}"\n'


def at_knead(*names: str, by_eye: str = "", limit: str = "<= 10 degC") -> Bench:
    """A bench with thermometers at ports, and one that a person reads, at the step."""
    known = [Thermometer(name, at_port=True) for name in names]
    known += [Thermometer(by_eye)] if by_eye else []
    bench = Bench(FORMULA + KNEAD.format(limit), thermometers=known).begin()
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    assert bench.told.line == "knead"
    return bench


def shows(bench: Bench, text: str, name: str = "probe", still: bool = True) -> None:
    bench.floor.warmth(Thermometer(name, True, text, still, f"{text}\r\n", bench.now))


def keys(bench: Bench) -> dict[str | None, dict[str, object]]:
    return {o.key: dict(o.params) for o in bench.told.offers if o.verb == "step"}


def test_the_key_takes_what_the_one_thermometer_shows() -> None:
    bench = at_knead("probe")
    shows(bench, "8.4 degC")
    assert bench.told.sentence.endswith("; probe 8.4 degC")
    assert keys(bench)["accept"] == {"name": "knead", "thermometer": "probe"}
    bench.say(do.EndStep("knead", thermometer="probe"))
    ended = bench.last(ev.StepEnded)
    assert (ended.value, ended.thermometer, ended.raw) == ("8.4 degC", "probe", "8.4 degC\r\n")
    row = sheet_of(bench).steps[-1]
    assert (row.value, row.thermometer, row.verdict) == ("8.4 degC", "probe", "in")


def test_of_two_nobody_knows_which_hangs_in_the_mix() -> None:
    bench = at_knead("probe", "oven")
    shows(bench, "8.4 degC")
    shows(bench, "71.0 degC", "oven")
    assert keys(bench)["accept"] == {"name": "knead"}
    refusal = bench.refused(do.EndStep("knead"))
    assert refusal.code == "unread"
    offered = [(offer.params.get("thermometer"), offer.means) for offer in refusal.offers]
    assert offered == [("probe", "probe 8.4 degC"), ("oven", "oven 71.0 degC"), (None, "")]
    assert [offer.key for offer in refusal.offers] == [None, None, "accept"]


def test_what_else_was_found_stands_behind_it() -> None:
    bench = at_knead("probe")
    shows(bench, "8.4 degC")
    bench.say(do.EndStep("knead", "tacky", thermometer="probe"))
    assert bench.last(ev.StepEnded).value == "8.4 degC, tacky"


def test_a_temperature_that_is_read_is_not_typed_over() -> None:
    bench = at_knead("probe")
    shows(bench, "12.4 degC")
    refusal = bench.refused(do.EndStep("knead", "8 degC", thermometer="probe"))
    assert refusal.code == "typed"


def test_too_warm_is_asked_about_and_the_answer_reads_it_again() -> None:
    bench = at_knead("probe")
    shows(bench, "10.1 degC")
    refusal = bench.refused(do.EndStep("knead", thermometer="probe"))
    assert (refusal.code, refusal.sentence) == (
        "out-of-limit", "knead: 10.1 degC, <= 10 degC is meant"
    )  # fmt: skip
    (offer,) = refusal.offers
    assert offer.params == {
        "name": "knead", "thermometer": "probe", "reason": "said at the bench"
    }  # fmt: skip
    shows(bench, "10.6 degC")
    bench.say(do.EndStep("knead", thermometer="probe", reason="the room is warm"))
    assert bench.last(ev.Warned).text == "10.6 degC, <= 10 degC is meant"


def test_a_step_in_fahrenheit_is_judged_in_its_own_degrees() -> None:
    """50 degF is 10 degC (exact)."""
    bench = at_knead("probe")
    shows(bench, "50.0 degF")
    bench.say(do.EndStep("knead", thermometer="probe"))
    assert bench.last(ev.StepEnded).value == "50.0 degF"
    assert not [event for event in bench.events if isinstance(event, ev.Warned)]


@pytest.mark.parametrize(
    ("limit", "warmth", "calls"),
    [
        ("<= 10 degC", "10.0 degC", False),
        ("<= 10 degC", "10.1 degC", True),
        (">= 72 degC", "71.9 degC", False),
        (">= 72 degC", "72.0 degC", True),
    ],
)
def test_it_calls_when_the_most_is_passed_or_the_least_reached(
    limit: str, warmth: str, calls: bool
) -> None:
    bench = at_knead("probe", limit=limit)
    shows(bench, warmth)
    assert bench.told.calls is calls


def test_one_that_moves_is_waited_for() -> None:
    bench = at_knead("probe")
    shows(bench, "8.4 degC", still=False)
    refusal = bench.refused(do.EndStep("knead", thermometer="probe"))
    assert (refusal.code, refusal.sentence) == ("moving", "probe still moves: 8.4 degC")


def test_one_that_shows_nothing_says_why() -> None:
    bench = at_knead("probe")
    assert keys(bench)["accept"] == {"name": "knead"}
    refusal = bench.refused(do.EndStep("knead", thermometer="probe"))
    assert (refusal.code, refusal.next) == ("no-reading", "wait for its first reading")
    bench.floor.warmth(bench.floor.thermometer("probe").lost("its cable is out", "plug it in"))
    refusal = bench.refused(do.EndStep("knead", thermometer="probe"))
    assert (refusal.sentence, refusal.next) == ("probe: its cable is out", "plug it in")


def test_what_it_showed_long_ago_it_does_not_show_any_more() -> None:
    bench = at_knead("probe")
    shows(bench, "3.0 degC")
    bench.silence(5)
    assert keys(bench)["accept"] == {"name": "knead", "thermometer": "probe"}
    bench.silence(5)
    assert keys(bench)["accept"] == {"name": "knead", "thermometer": "probe"}
    bench.silence(0.1)  # ten seconds are over
    assert keys(bench)["accept"] == {"name": "knead"}
    refusal = bench.refused(do.EndStep("knead", thermometer="probe"))
    assert (refusal.code, refusal.sentence) == ("no-reading", "probe: it is silent")


def test_an_unknown_one_is_answered_with_the_nearest_name() -> None:
    bench = at_knead("probe")
    refusal = bench.refused(do.EndStep("knead", thermometer="prob"))
    assert refusal.code == "unknown-thermometer"
    assert ("probe" in refusal.sentence, refusal.next) == (True, "one of probe")
    nothing = at_knead().refused(do.EndStep("knead", thermometer="probe"))
    assert nothing.next == "name it in station.toml: [[thermometer]]"


def test_one_that_a_person_reads_is_named_with_what_was_typed() -> None:
    bench = at_knead(by_eye="dial")
    (form,) = [form for form in bench.told.forms if form.verb == "step"]
    assert (form.params, form.param) == ({"name": "knead", "thermometer": "dial"}, "value")
    assert bench.refused(do.EndStep("knead", thermometer="dial")).code == "unread"
    bench.say(do.EndStep("knead", "9 degC", thermometer="dial"))
    ended = bench.last(ev.StepEnded)
    assert (ended.value, ended.thermometer, ended.raw) == ("9 degC", "dial", "")


def test_programs_get_what_each_shows() -> None:
    bench = at_knead("probe", by_eye="dial")
    shows(bench, "8.4 degC")
    sent = snapshot(bench.floor.sight(), bench.told, bytes(32), 1, simulated=True).thermometers
    assert [(one.name, one.at_port, one.shows, one.still) for one in sent] == [
        ("probe", True, "8.4 degC", True), ("dial", False, None, True),
    ]  # fmt: skip


def test_only_what_is_new_is_shown_anew() -> None:
    bench = at_knead("probe")
    reading = Thermometer("probe", True, "8.4 degC", True, "a", bench.now)
    assert bench.floor.warmth(reading)
    assert not bench.floor.warmth(Thermometer("probe", True, "8.4 degC", True, "b", bench.now + 1))
    assert bench.floor.warmth(Thermometer("probe", True, "8.4 degC", False, "c", bench.now + 2))


def test_a_temperature_that_nobody_asks_for_is_not_in_the_way() -> None:
    bench = at_knead("probe")
    bench.say(do.EndStep("knead", reason="it is sticky"))
    shows(bench, "21.0 degC")
    assert "probe" not in bench.told.sentence
