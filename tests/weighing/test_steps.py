"""A step counts its time, calls when it is up, and does not end before it without a reason."""

from datetime import datetime, timedelta

import pytest

from station.batch import events as ev
from station.batch.judging import judged
from station.batch.timing import between
from station.formula.model import Step
from station.weighing import commands as do
from tests.audit.test_sheet import sheet_of
from tests.benchside import RING, Bench


def at_step(time: str) -> Bench:
    step = f'[[step]]\nname = "rest"\nafter = "salt"\ntime = "{time}"\n'
    formula = RING.replace('[[addition]]\nname = "pepper"', f'{step}[[addition]]\nname = "pepper"')
    bench = Bench(formula).begin()
    bench.add("salt", "cup 3", "216")
    assert bench.told.line == "rest"
    return bench


def later(bench: Bench, seconds: int) -> str:
    """The time so long after the step had its turn; the bench lives then."""
    since = datetime.fromisoformat(bench.batch.step_since["rest"])
    bench.at = (since + timedelta(seconds=seconds)).isoformat().replace("+00:00", "Z")
    return bench.at


@pytest.mark.parametrize(
    ("time", "seconds", "said", "calls"),
    [
        ("30 min", 0, "rest: 30 min; 0 s so far", False),
        ("30 min", 59, "rest: 30 min; 59 s so far", False),
        ("30 min", 60, "rest: 30 min; 1 min so far", False),
        (">= 30 min", 1799, "rest: >= 30 min; 29 min so far", False),
        ("30 min", 1800, "rest: 30 min; it is time", True),
        ("<= 10 min", 600, "rest: <= 10 min; 10 min so far", False),
        ("<= 10 min", 601, "rest: <= 10 min; 10 min so far, too long", True),
        ("30 min", -3600, "rest: 30 min; 0 s so far", False),  # the clock was set back
    ],
)
def test_the_time_is_counted_on_the_screen_and_calls(
    time: str, seconds: int, said: str, calls: bool
) -> None:
    bench = at_step(time)
    told = bench.floor.guide(now=later(bench, seconds))
    assert (told.sentence, told.calls) == (said, calls)


def test_a_step_does_not_end_before_its_time_without_a_reason() -> None:
    bench = at_step("30 min")
    later(bench, 1799)
    refusal = bench.refused(do.EndStep("rest"))
    assert (refusal.code, refusal.sentence) == ("too-soon", "rest: 29 min of 30 min")
    (offer,) = refusal.offers
    assert (offer.verb, offer.key, offer.danger) == ("step", "accept", True)
    assert offer.params == {"name": "rest", "reason": "said at the bench"}
    bench.say(do.EndStep("rest", reason="the room is too warm"))
    row = sheet_of(bench).steps[0]
    assert (row.reason, row.started) == ("the room is too warm", "2026-11-30T10:00:00.000Z")


def test_the_value_that_was_found_is_kept_in_the_answer() -> None:
    bench = at_step("30 min")
    later(bench, 1)
    refusal = bench.refused(do.EndStep("rest", "4 degC"))
    assert refusal.offers[0].params["value"] == "4 degC"


def test_at_its_time_it_ends_by_a_key() -> None:
    bench = at_step("30 min")
    later(bench, 1800)
    bench.say(do.EndStep("rest"))
    assert bench.told.line == "premix"
    assert not [event for event in bench.events if isinstance(event, ev.Warned)]


@pytest.mark.parametrize(("seconds", "warned"), [(600, False), (601, True)])
def test_one_that_took_too_long_is_a_finding_on_the_sheet(seconds: int, warned: bool) -> None:
    bench = at_step("<= 10 min")
    later(bench, seconds)
    bench.say(do.EndStep("rest"))
    texts = [row.text for row in sheet_of(bench).warnings if row.kind == "time"]
    assert texts == (["it took 10 min, 10 min at most was meant"] if warned else [])


def test_it_begins_when_what_stands_before_it_is_in_the_mix() -> None:
    step = '[[step]]\nname = "rest"\nafter = "salt"\ntime = "30 min"\n'
    formula = RING.replace('[[addition]]\nname = "pepper"', f'{step}[[addition]]\nname = "pepper"')
    bench = Bench(formula).begin()
    bench.pour("cup 3", "216")
    bench.lift()
    assert bench.batch.step_since == {}
    bench.at = "2026-11-30T10:07:00.000Z"
    bench.tip("cup 3")
    assert bench.batch.step_since == {"rest": "2026-11-30T10:07:00.000Z"}


def test_a_restart_goes_on_counting() -> None:
    bench = at_step("30 min")
    record = bench.station
    bench.floor.resume(record)
    assert bench.floor.guide(now=later(bench, 720)).sentence == "rest: 30 min; 12 min so far"


def at_knead(limit: str = "<= 10 degC") -> Bench:
    step = f'[[step]]\nname = "rest"\nafter = "salt"\ntemperature = "{limit}"\n'
    formula = RING.replace('[[addition]]\nname = "pepper"', f'{step}[[addition]]\nname = "pepper"')
    bench = Bench(formula).begin()
    bench.add("salt", "cup 3", "216")
    return bench


@pytest.mark.parametrize(
    ("limit", "value", "kept"),
    [
        ("<= 10 degC", "10 degC", True),
        ("<= 10 degC", "10.1 degC", False),
        ("<= 50 degF", "10 degC", True),
        ("<= 50 degF", "50 °F, tacky", True),
        ("<= 50 degF", "50.1 degF", False),
        (">= 2 degC", "2 degC", True),
        (">= 2 degC", "5 degC", True),
        (">= 2 degC", "1.9 degC", False),
        ("<= 10 degC", "8 degC, 12 degC", False),
    ],
)
def test_a_temperature_is_judged_in_whatever_unit_it_is_read(
    limit: str, value: str, kept: bool
) -> None:
    """50 degF is 10 degC (exact)."""
    bench = at_knead(limit)
    ending = do.EndStep("rest", value)
    if kept:
        bench.say(ending)
        assert not [event for event in bench.events if isinstance(event, ev.Warned)]
        return
    refusal = bench.refused(ending)
    assert (refusal.code, refusal.sentence) == (
        "out-of-limit", f"rest: {value}, {limit} is meant"
    )  # fmt: skip
    bench.say(do.EndStep("rest", value, reason="the room is warm"))
    row = next(row for row in sheet_of(bench).warnings if row.kind == "temperature")
    assert row.text == f"{value}, {limit} is meant"


@pytest.mark.parametrize("value", [None, "tacky", "pH 5.3"])
def test_a_temperature_that_is_meant_is_read_or_somebody_says_why_not(value: str | None) -> None:
    bench = at_knead()
    refusal = bench.refused(do.EndStep("rest", value))
    assert (refusal.code, refusal.next) == ("unread", "read it, or say why not")
    (offer,) = refusal.offers
    assert (offer.key, offer.danger, offer.params.get("value")) == ("accept", True, value)
    bench.say(do.EndStep("rest", value, reason="the thermometer is broken"))
    assert bench.told.line == "premix"


def test_a_step_is_left_out_with_a_reason_at_its_turn() -> None:
    bench = at_knead()
    assert any(offer.verb == "skip" for offer in bench.told.offers)
    assert bench.say(do.Skip("rest", "no time")) == "rest is left out"
    event = bench.last(ev.StepEnded)
    assert (event.skipped, event.reason, event.value) == (True, "no time", None)
    assert bench.refused(do.Skip("rest", "again")).code == "step-ended"


def test_a_step_is_not_left_out_before_its_turn() -> None:
    step = '[[step]]\nname = "rest"\nafter = "salt"\n'
    formula = RING.replace('[[addition]]\nname = "pepper"', f'{step}[[addition]]\nname = "pepper"')
    bench = Bench(formula).begin()
    assert bench.refused(do.Skip("rest", "no time")).code == "not-its-turn"
    bench.pour("cup 3", "216")
    bench.lift()
    assert bench.refused(do.Skip("rest", "no time")).code == "standing"


def judgement(
    value: str | None, seconds: int | None, skipped: bool = False
) -> tuple[str, tuple[str, ...]]:
    step = Step("rest", after="salt", time="<= 10 min", temperature="<= 10 degC")
    began = "2026-11-30T10:00:00.000Z"
    ended = (datetime.fromisoformat(began) + timedelta(seconds=seconds or 0)).isoformat()
    took = None if seconds is None else between(step, began, ended)
    found = judged(step, took, value, skipped)
    return found.verdict, found.misses


def test_what_was_found_is_in_out_unread_or_skipped() -> None:
    assert judgement("8 degC", 600) == ("in", ())
    assert judgement("8 degC", 601) == ("out", ("10 min, <= 10 min is meant",))
    assert judgement("12 degC", 601) == (
        "out", ("12 degC, <= 10 degC is meant", "10 min, <= 10 min is meant"),
    )  # fmt: skip
    assert judgement("tacky", 60) == ("unread", ())
    assert judgement("8 degC", None) == ("in", ())
    assert judgement(None, 60, skipped=True) == ("skipped", ())
