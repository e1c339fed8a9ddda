"""The real display in a real terminal: whole screens as text.

The screens are kept in `screens/`; STATION_SCREENS=write makes them anew, to be looked at.
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import msgspec
import pytest

from tests.benchside import Bench
from tests.screen.moments import AFTER_THE_MIX, WORDS, aged, pouring, shown
from tests.screen.stand_in import SIZES, Display, StandIn, on_screen
from tests.service.daemons import ROOT

pytestmark = pytest.mark.slow

KEPT = Path(__file__).parent / "screens"


def compare(name: str, text: str) -> None:
    kept = KEPT / f"{name}.txt"
    if os.environ.get("STATION_SCREENS") == "write":
        kept.write_text(text, encoding="utf-8")
    assert text == kept.read_text(encoding="utf-8")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("lang", ["C.UTF-8", "C"])
def test_every_word_is_the_screen_that_is_kept(place: Path, size: str, lang: str) -> None:
    """One display shows one word after the other: whatever was there before leaves no trace."""
    station = StandIn(place, WORDS["SET DOWN"]())
    display = Display(place, *SIZES[size], lang=lang)
    signs = "blocks" if lang == "C.UTF-8" else "ascii"
    try:
        for word, make in WORDS.items():
            snapshot = make()
            assert snapshot.word == word
            station.show(snapshot)
            sentence = snapshot.sentence.split(":")[0]
            display.until(lambda text, s=sentence: s in " ".join(text.split()))
            display.read(0.15)
            assert display.inverse is (snapshot.alarm or word == "STOP"), word
            compare(f"{word.lower().replace(' ', '-')}-{size}-{signs}", display.text)
        assert display.end() == 0
    finally:
        station.close()


@pytest.mark.parametrize("size", SIZES)
def test_what_comes_after_the_mix_is_the_screen_that_is_kept(place: Path, size: str) -> None:
    """Packs, a light one, a link that was not counted, links that hung, a sample to be tasted."""
    station = StandIn(place, WORDS["SET DOWN"]())
    display = Display(place, *SIZES[size])
    try:
        for moment, make in AFTER_THE_MIX.items():
            snapshot = make()
            station.show(snapshot)
            first = " ".join(snapshot.sentence.split()[:3])
            display.until(lambda text, s=first: s in " ".join(text.split()))
            display.read(0.15)
            assert display.inverse is snapshot.alarm, moment
            compare(f"{moment}-{size}-blocks", display.text)
        assert display.end() == 0
    finally:
        station.close()


@pytest.mark.parametrize("size", SIZES)
def test_an_old_backup_is_a_calm_line_that_moves_nothing(place: Path, size: str) -> None:
    with on_screen(place, aged(WORDS["READY"]()), *SIZES[size]) as (_, display):
        display.until(lambda text: "the last backup is 9 days old" in text)
        assert not display.inverse
        compare(f"old-backup-{size}", display.text)
    fresh = (KEPT / f"ready-{size}-blocks.txt").read_text(encoding="utf-8").splitlines()
    old = (KEPT / f"old-backup-{size}.txt").read_text(encoding="utf-8").splitlines()
    assert sum(a != b for a, b in zip(fresh, old, strict=True)) == 1


def test_a_resize_draws_the_screen_anew_and_a_small_one_says_so(place: Path) -> None:
    with on_screen(place, pouring("132")) as (_, display):
        display.until(lambda text: "84.00 g to go" in text)
        display.resize(30, 8)
        text = display.until(lambda text: "needs 40x12" in text)
        assert text.splitlines()[0] == "POUR 84.00"
        display.resize(40, 12)
        small = display.until(lambda text: "needs" not in text and "84.00 g to go" in text)
        assert small == (KEPT / "pour-40x12-blocks.txt").read_text(encoding="utf-8")
        display.resize(160, 48)
        large = display.until(lambda text: len(text.splitlines()) == 48)
        assert "█" * 12 in large  # each pixel is two rows by four columns now


def test_piped_it_prints_a_line_for_every_change(place: Path) -> None:
    station = StandIn(place, pouring("132"))
    process = subprocess.Popen(
        [sys.executable, "-m", "station", "bench", "--socket", str(place)],
        stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, cwd=ROOT,
    )  # fmt: skip
    assert process.stdout is not None
    try:
        assert process.stdout.readline() == "batch b-1 test ring, SIMULATED\n"
        assert process.stdout.readline().startswith("POUR     | 132 of 216 g | salt: 84.00 g to go")
        station.show(pouring("216"))
        assert process.stdout.readline().startswith("IN BAND  | 216 of 216 g | salt 216.00 g")
    finally:
        process.kill()
        process.communicate()
        station.close()


def test_a_station_that_dies_or_hangs_leaves_no_old_number(place: Path) -> None:
    station = StandIn(place, pouring("132"))
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "84.00 g to go" in text)
        station.fall_silent()
        text = display.until(lambda text: "it does not answer" in text)
        assert display.inverse
        between = text.splitlines()[7:17]  # number, bar and the scale's own digits
        assert not "".join(between).strip(), between
    finally:
        station.close()
    place.unlink()
    again = StandIn(place, pouring("216"))
    try:
        display.until(lambda text: "salt 216.00 g" in text)
        assert not display.inverse
    finally:
        display.end()
        again.close()


def test_a_terminal_that_takes_nothing_misses_frames_and_no_word(place: Path) -> None:
    """The terminal stops (as with Ctrl-S); a hundred readings and two words later it goes on."""
    with on_screen(place, pouring("100")) as (station, display):
        display.until(lambda text: "116.00 g to go" in text)
        display.child.send("\x13")
        time.sleep(0.2)
        bench = Bench().begin()
        bench.pour("cup 3", "100")
        for grams in range(300):
            bench.one("fine", str(131 + 100 + grams / 10), stable=False)
            station.show(shown(bench))
        station.show(WORDS["STOP"]())
        station.show(pouring("216"))
        time.sleep(0.3)
        display.child.send("\x11")
        seen = display.watch(1.0)
        assert "salt 216.00 g" in seen[-1]
        assert any("stop pouring" in text for text in seen)
        numbers = {line for text in seen for line in text.splitlines() if "g to go" in line}
        assert len(numbers) < 10


def test_a_terminal_that_takes_nothing_can_be_left(place: Path) -> None:
    station = StandIn(place, pouring("100"))
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "116.00 g to go" in text)
        display.child.send("\x13")
        time.sleep(0.2)
        for _ in range(20):
            station.show(WORDS["STOP"]())
            station.show(pouring("216"))
        time.sleep(0.3)
        display.child.kill(signal.SIGTERM)
        end = time.monotonic() + 8
        while display.child.isalive() and time.monotonic() < end:
            time.sleep(0.05)
        assert not display.child.isalive()
    finally:
        station.close()


def test_a_station_of_another_version_that_says_less_is_shown_all_the_same(place: Path) -> None:
    whole = msgspec.to_builtins(pouring("132"))
    less = {k: v for k, v in whole.items() if k not in ("parked", "to_name", "people", "offers")}
    with on_screen(place, less) as (_, display):
        display.until(lambda text: "84.00 g to go" in text)
