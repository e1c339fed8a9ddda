"""The watch over one pan: silence, units, what is shown while nothing changes."""

from dataclasses import replace
from decimal import Decimal
from random import Random

import msgspec
import pytest

from drivers.grammar import compile_grammar
from drivers.parser import Parser
from drivers.reading import Condition, Kind, Reading
from station.metrology.scale import Scale
from station.pan.view import Lift, Pan, Settled, Task
from station.pan.watch import PanWatch
from station.resources import packaged
from tests.benchside import FINE
from tests.panside import CURE, STABLE_ONLY, Side, reading


def fresh(scale: Scale = FINE) -> PanWatch:
    watch = PanWatch(scale)
    watch.link(True)
    return watch


def test_a_scale_that_sends_only_on_stable_serves_5_s_and_its_next_empty_is_the_lift() -> None:
    watch = fresh(STABLE_ONLY)
    watch.task(Task("salt", Decimal("100.00"), accept=(Decimal(10), Decimal(20))))
    watch.observe(reading("0.00", 1.0))
    watch.observe(reading("115.00", 10.0))
    watch.tick(14.9)
    assert watch.view().settled is not None
    watch.tick(15.1)
    assert watch.view().settled is None
    assert not watch.view().troubles  # silence is its nature, not a trouble
    watch.observe(reading("0.05", 40.0))
    lift = watch.view().lift
    assert lift is not None
    assert (lift.held.gross_g, lift.at_once, lift.stayed_g) == (
        Decimal("115.00"),
        True,
        Decimal("0.05"),
    )


def test_a_silent_port_says_that_nothing_came_and_bytes_without_frames_say_so() -> None:
    watch = fresh()
    watch.tick(100.0)
    assert watch.view().troubles[0].sentence == "fine: it has sent nothing yet"
    watch.babble("not a frame: 00 ff")
    (trouble,) = watch.view().troubles
    assert "bytes arrive but no frame" in trouble.sentence
    assert trouble.next == "check speed and parity"


def test_a_weight_without_its_unit_is_believed_only_in_motion() -> None:
    watch = fresh()
    watch.observe(reading("10.00", 0.0, stable=False, unit=None))
    assert watch.view().gross_g == Decimal("10.00")
    watch.observe(reading("10.00", 0.1, stable=True, unit=None))
    assert watch.view().troubles[0].reason == "unit"
    assert watch.view().gross_g is None


def test_a_tare_beside_a_gross_weight_is_no_part_of_it() -> None:
    """STX point flags value tare checksum CR: 3.500 kg gross, then net, each with 1.200 kg tare."""
    path = packaged() / "scales" / "six-digits-bits.toml"
    parser = Parser(compile_grammar(path.read_text(encoding="utf-8"), path.name))
    frames = {
        "3500": "022330303033353030303031323030600d",
        "4700": "0223313030333530303030313230305f0d",
    }
    for grams, frame in frames.items():
        watch = fresh(Scale("bench", Decimal(15_000), Decimal(1), "II", "kg", "continuous"))
        for step in range(20):
            for item in parser.feed(bytes.fromhex(frame), step / 10):
                assert isinstance(item, Reading)
                watch.observe(item)
        settled = watch.view().settled
        assert settled is not None and settled.gross_g == Decimal(grams)
        assert watch.view().troubles == ()


def test_a_tare_reading_is_no_weight() -> None:
    side = Side()
    seen = side.stands("10.00")
    side.watch.observe(msgspec.structs.replace(reading("90.00", 9.0), kind=Kind.TARE))
    assert side.watch.view() is seen


# silence


@pytest.mark.parametrize(("now_s", "silent"), [(3.0, False), (3.001, True)])
def test_a_scale_that_is_seldom_heard_is_silent_after_three_of_its_periods(
    now_s: float, silent: bool
) -> None:
    """Ten readings 0.5 s apart and then many, so that the period is known: 1.5 s of silence."""
    watch = fresh()
    for step in range(200):
        watch.observe(reading("10.00", step * 0.5 - 98.0))
    assert watch.view().period_s == pytest.approx(0.5, rel=0.05)
    watch.tick(now_s - 0.0001)
    assert bool(watch.view().troubles) is silent


@pytest.mark.parametrize(("seconds", "silent"), [(1.0, False), (1.1, True)])
def test_a_scale_that_is_often_heard_is_silent_after_a_second(seconds: float, silent: bool) -> None:
    side = Side()
    side.stands("10.00", 100)
    seen = side.silent(seconds)
    assert ([t.reason for t in seen.troubles] == ["stale"]) is silent
    assert (seen.gross_g is None) is silent and (seen.settled is None) is silent


@pytest.mark.parametrize(("seconds", "held"), [(1.0, True), (1.1, False)])
def test_a_gap_as_long_as_a_silence_is_one_even_if_nobody_looked(
    seconds: float, held: bool
) -> None:
    side = Side(CURE).filled()
    side.stands("124.00", 100)
    side.watch.observe(reading("124.00", side.now + seconds))
    assert (side.watch.view().held is not None) is held


def test_one_long_pause_does_not_become_the_period() -> None:
    watch = fresh()
    for step in range(100):
        watch.observe(reading("10.00", step / 10))
    watch.observe(reading("10.00", 100.0))
    assert watch.view().period_s == pytest.approx(0.1, rel=0.06)


def test_a_silent_scale_is_told_with_its_age_in_whole_seconds() -> None:
    side = Side()
    side.stands("10.00")
    seen = side.silent(2.0)
    assert (seen.age_s, seen.troubles[0].sentence) == (2, "fine: silent for 2 s")
    assert side.silent(0.9) is seen
    assert side.silent(0.1).age_s == 3


def test_while_the_port_is_lost_its_age_goes_on() -> None:
    side = Side()
    side.stands("10.00")
    side.watch.link(False, "its cable is out", "plug it in")
    assert side.silent(2.0).age_s == 2
    assert side.watch.view().troubles[0].sentence == "fine: its cable is out"


def test_readings_that_arrive_together_do_not_shorten_the_period_nor_run_backwards() -> None:
    watch = fresh()
    for step in range(100):
        for grams in ("10.00", "10.05"):
            watch.observe(reading(grams, step / 10))
    seen = watch.view()
    assert seen.period_s == pytest.approx(0.1, rel=0.06)
    assert not seen.troubles and seen.gross_g == Decimal("10.05")


def test_a_reading_that_was_long_on_its_way_is_old() -> None:
    watch = fresh()
    watch.tick(10.0)
    watch.observe(reading("10.00", 8.5))
    assert watch.view().troubles[0].reason == "stale"


def test_bytes_without_frames_before_the_last_reading_do_not_explain_a_silence() -> None:
    side = Side()
    side.watch.babble("ff")
    side.stands("10.00")
    assert side.silent(2).troubles[0].sentence == "fine: silent for 2 s"


def test_a_port_that_opens_again_has_sent_nothing_yet() -> None:
    side = Side()
    side.stands("10.00")
    side.watch.link(False, "its cable is out", "plug it in")
    side.watch.link(True)
    assert side.watch.view().troubles[0].sentence == "fine: it has sent nothing yet"


# what is shown while nothing changes


OTHER = [
    {"unit": "lb"},
    {"kind": Kind.NET},
    {"kind": Kind.NET, "tare": Decimal("1.00")},
    {"value": Decimal("10.10")},
    {"stable": False},
    {"value": None, "condition": Condition.OVERLOAD},
]


@pytest.mark.parametrize("other", OTHER)
def test_a_reading_repeats_only_in_all_that_it_says(other: dict[str, object]) -> None:
    side = Side()
    seen = side.stands("10.00", 20)
    one = msgspec.structs.replace(reading("10.00", side.now + 0.1), **other)
    side.watch.observe(one)
    after = side.watch.view()
    assert (after.settled, after.gross_g) != (seen.settled, seen.gross_g)


def test_another_tare_is_another_gross() -> None:
    watch = fresh()
    for step in range(20):
        tare = Decimal("1.00") if step < 10 else Decimal("2.00")
        one = reading("10.00", step / 10)
        watch.observe(msgspec.structs.replace(one, kind=Kind.NET, tare=tare))
    assert watch.view().gross_g == Decimal("12.00")


def test_the_same_weight_with_a_decimal_less_is_another_reading() -> None:
    side = Side()
    side.stands("12.30", 20)
    assert side.stands("12.3", 5).troubles[0].reason == "device"


@pytest.mark.parametrize("grams", ["0.00", "124.00"])
def test_the_same_pan_is_shown_while_nothing_changes(grams: str) -> None:
    side = Side(CURE)
    side.stands("0.00")
    side.stands(grams, 40)
    seen = side.watch.view()
    for _ in range(50):
        assert side.stands(grams, 1) is seen
    side.watch.task(CURE)
    side.watch.lag(seen.window_s)
    assert side.watch.view() is seen
    assert side.stands("124.05", 1) is not seen


def test_a_change_that_is_undone_before_anyone_looked_shows_the_same_pan() -> None:
    side = Side(CURE).filled()
    side.stands("124.00", 40)
    seen = side.watch.view()
    side.watch.babble("ff")
    assert side.watch.view() is seen


def test_a_weight_that_cannot_be_read_shows_the_same_pan_too() -> None:
    watch = fresh()
    for step in range(20):
        watch.observe(reading("10.00", step / 10, unit="lb"))
        seen = watch.view() if step == 9 else None
        assert seen is None or watch.view() is seen
    assert watch.view().troubles[0].reason == "unit"


def test_what_a_person_says_is_shown_at_once() -> None:
    side = Side(CURE).filled()
    side.stands("124.00", 40)
    side.watch.key()
    assert side.watch.view().keyed
    side.watch.counted()
    assert side.watch.view().stayed_on
    side.watch.tipped("salt")
    assert side.watch.view().tipped_line == "salt"
    side.watch.parked()
    assert side.watch.view().foreign
    assert side.watch.view().tipped_line == "salt of a parked batch"
    side.watch.resume("pepper", True, None)
    assert side.watch.view().tipped_line == "pepper" and side.watch.view().resumed
    left = side.moves("0.15")
    assert (left.stayed_on, left.tipped_line, left.foreign) == (False, None, False)


def test_an_empty_pan_has_nothing_that_was_tipped_or_parked() -> None:
    side = Side(CURE)
    side.stands("0.15")
    side.watch.tipped("salt")
    side.watch.parked()
    assert side.watch.view().tipped_line is None and not side.watch.view().foreign
    side.stands("0.20")
    side.watch.tipped("salt")
    assert side.watch.view().tipped_line == "salt"


def test_a_counted_load_is_not_known_to_stay_through_a_gap() -> None:
    side = Side(CURE).filled()
    side.watch.counted()
    side.silent(2)
    assert not side.stands("124.00", 1).stayed_on


def anonymous(value: Settled | None) -> Settled | None:
    return None if value is None else replace(value, raw="")


def without_frames(pan: Pan) -> Pan:
    """A pan without the bytes of its frames, and without the floats of the pour watch, whose filter
    rests when the weight does."""
    lift: Lift | None = pan.lift and replace(pan.lift, held=replace(pan.lift.held, raw=""))
    pan = replace(pan, settled=anonymous(pan.settled), held=anonymous(pan.held), lift=lift)
    poured = pan.poured._replace(said_g=None, flow_g_s=0.0, slower=False)
    return replace(pan, advice=None, poured=poured)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("scale", [FINE, STABLE_ONLY])
def test_readings_that_repeat_are_seen_as_if_each_had_been_taken_in_whole(
    scale: Scale, seed: int
) -> None:
    """Beside it a watch whose frames are numbered, so that none repeats another."""
    chance = Random(seed)
    quick, whole = Side(CURE, scale).watch, Side(CURE, scale).watch
    tasks: list[Task | None] = [CURE, None, replace(CURE, line="salt", jump_g=Decimal(2))]
    now, number = 0.0, 0
    for _ in range(60):
        grams = chance.choice(["0.00", "0.05", "100.00", "124.00", "124.05", "124.10", "-3.00"])
        grams = chance.choice([grams, grams, grams, "20.00", "12.34", "126.00"])
        stable = chance.choice([True, True, None, False])
        period = chance.choice([0.1, 0.1, 0.25, 0.3])
        act = chance.choice(["", "", "key", "task", "lift_handled", "explain_jump", "silent"])
        for watch in (quick, whole):
            if act == "task":
                watch.task(tasks[number % 3])
            elif act and act != "silent":
                getattr(watch, act)()
        now += 3.0 if act == "silent" else 0.0
        for _ in range(chance.choice([1, 1, 3, 12, 40])):
            now, number = now + period, number + 1
            one = reading(grams, now, stable)
            quick.observe(one)
            whole.observe(msgspec.structs.replace(one, raw=b"%d" % number))
            quick.tick(now)
            whole.tick(now)
            assert without_frames(quick.view()) == without_frames(whole.view())


def test_what_the_scale_calls_its_error_is_told_and_told_anew_when_that_changes() -> None:
    side = Side()
    side.stands("12.00")
    bad = reading("0", 0.0)
    for word in ("Err 3", "Err 4"):
        for _ in range(4):
            side.count += 1
            side.watch.observe(
                msgspec.structs.replace(
                    bad, value=None, condition=Condition.ERROR, word=word, time_s=side.count / 10
                )
            )
        (trouble,) = side.watch.view().troubles
        assert trouble.sentence == f"fine: it reports an error of its own ({word})"
