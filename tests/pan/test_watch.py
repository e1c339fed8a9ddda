"""The watch over one pan: settling, scales that send only on stable, silence."""

from decimal import Decimal

from drivers.grammar import compile_grammar
from drivers.parser import Parser
from drivers.reading import Condition, Kind, Reading
from station.metrology.scale import Scale
from station.pan.view import Task
from station.pan.watch import PanWatch
from station.resources import packaged
from tests.benchside import FINE


def reading(
    grams: str, time_s: float, stable: bool | None = True, unit: str | None = "g"
) -> Reading:
    return Reading(Decimal(grams), unit, Kind.GROSS, stable, Condition.OK, time_s, grams.encode())


def feed(
    watch: PanWatch, grams: str, begin: float, seconds: float, stable: bool | None = True
) -> float:
    """Readings at 10 Hz; the time of the last one."""
    now = begin
    for step in range(round(seconds * 10)):
        now = begin + step / 10
        watch.observe(reading(grams, now, stable))
        watch.tick(now)
    return now


def fresh(scale: Scale = FINE) -> PanWatch:
    watch = PanWatch(scale)
    watch.link(True)
    return watch


def test_settled_wants_half_a_second_of_stable_readings_within_a_division() -> None:
    watch = fresh()
    feed(watch, "10.00", 0.0, 0.5)
    assert watch.view().settled is None
    watch.observe(reading("10.05", 0.5))
    assert watch.view().settled is not None
    watch.observe(reading("10.20", 0.6))
    assert watch.view().settled is None


def test_a_scale_that_does_not_tell_needs_twice_as_long() -> None:
    watch = fresh()
    now = feed(watch, "10.00", 0.0, 0.9, stable=None)
    assert watch.view().settled is None
    feed(watch, "10.00", now + 0.1, 0.3, stable=None)
    assert watch.view().settled is not None


def test_a_scale_that_sends_only_on_stable_serves_5_s_and_its_next_empty_is_the_lift() -> None:
    watch = fresh(Scale("s", Decimal(600), Decimal("0.05"), "II", "g", "stable"))
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
