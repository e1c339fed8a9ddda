"""The real display in a real terminal: whole screens as text.

The screens are kept in `screens/`; STATION_SCREENS=write makes them anew, to be looked at.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from station.weighing import commands as do
from station.wire import Parked
from tests.benchside import Bench
from tests.screen.stand_in import (
    WORDS,
    Display,
    StandIn,
    cure_in_band,
    pouring,
    shown,
    standing,
)
from tests.service.daemons import ROOT

KEPT = Path(__file__).parent / "screens"
SIZES = {"80x24": (80, 24), "40x12": (40, 12)}


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Path]:
    yield tmp_path / "s.sock"


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


def test_a_resize_draws_the_screen_anew_and_a_small_one_says_so(place: Path) -> None:
    station = StandIn(place, pouring("132"))
    display = Display(place, 80, 24)
    try:
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
    finally:
        display.end()
        station.close()


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
    station = StandIn(place, pouring("100"))
    display = Display(place, 80, 24)
    try:
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
    finally:
        display.end()
        station.close()


def test_a_cure_wants_its_key_twice_and_a_held_key_is_no_press(place: Path) -> None:
    station = StandIn(place, cure_in_band())
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "press the key" in text and "Enter twice accept" in text)
        display.press("\r")
        display.until(lambda text: "the same once more" in text)
        for _ in range(20):  # held down: it repeats
            display.press("\r")
            time.sleep(0.03)
        display.read(0.6)
        assert station.calls == []
        time.sleep(2.0)
        display.press("\r")
        display.read(0.5)
        display.press("\r")
        assert station.wait_call("accept") == {"line": "premix", "batch": "b-1"}
        assert len(station.calls) == 1
    finally:
        display.end()
        station.close()


def test_a_scanned_label_is_no_key(place: Path) -> None:
    """A wedge scanner types "41-7-1" and Enter: seven signs, each of which would be a key."""
    station = StandIn(place, pouring("132"))
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "84.00 g to go" in text)
        display.press("41-7-1\r")
        display.until(lambda text: "next-bag 41-7-1? the same once more" in text)
        assert station.calls == []
        display.read(0.3)
        display.press("41-7-1\r")
        assert station.wait_call("next-bag") == {
            "line": "salt", "lot": "41-7-1", "batch": "b-1",
        }  # fmt: skip
        assert len(station.calls) == 1
    finally:
        display.end()
        station.close()


def test_a_refusal_is_said_with_its_next_step_and_three_beeps(place: Path) -> None:
    station = StandIn(place, standing())
    station.refuse = {"message": "premix: the lot is not open", "next": "open it", "reason": "x"}
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "premix" in text)
        display.read(0.3)
        before = display.bells
        display.press("3")
        display.until(lambda text: "NO: premix: the lot is not open > open it" in text)
        display.read(1.0)
        assert display.bells - before == 3
    finally:
        display.end()
        station.close()


def test_what_the_station_asks_to_be_said_again_is_said_by_the_same_key(place: Path) -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    station = StandIn(place, shown(bench))
    really = {
        "verb": "end",
        "params": {"line": "pork", "sure": True},
        "key": "done",
        "danger": True,
    }
    station.refuse = {
        "message": "9 % off the plan", "next": "end --sure", "reason": "off-plan",
        "offers": [really],
    }  # fmt: skip
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "which tub?" in text)
        for sure in (False, True):
            station.calls.clear()
            for _ in range(2):
                display.press("+")
                display.read(0.4)
            assert station.wait_call("end")["sure"] is sure
            display.until(lambda text: "the same once more if it is right" in text)
    finally:
        display.end()
        station.close()


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
    station = StandIn(place, less)
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "84.00 g to go" in text)
    finally:
        display.end()
        station.close()


@pytest.mark.parametrize("size", SIZES)
def test_a_batch_is_opened_by_keys_alone(place: Path, size: str) -> None:
    bench = Bench()
    bench.vessels()
    bench.say(do.Who("Ansel", ("Ansel", "Brida")))
    bench.floor.offer_formulas(["garlic-ring", "herb-link"])
    station, display = StandIn(place, shown(bench)), Display(place, *SIZES[size])
    try:
        display.until(lambda text: "/ open a batch" in text)
        display.press("/")
        display.until(lambda text: "2 open herb-link" in text)
        display.read(0.3)
        display.press("2")
        display.until(lambda text: "how much meat, in kg?" in text)
        for key in "7.5":
            display.press(key)
            display.read(0.1)
        display.until(lambda text: "Enter opens it for 7.5 kg" in text)
        display.press("\r")
        assert station.wait_call("open") == {
            "formula": "herb-link",
            "who": "Ansel",
            "meat": "7.5 kg",
        }
    finally:
        display.end()
        station.close()


def test_what_has_no_key_is_chosen_from_the_list_and_a_danger_twice(place: Path) -> None:
    station = StandIn(place, WORDS["ON HOLD"]())
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "/ more" in text)
        display.press("/")
        display.until(lambda text: "twice abandon" in text)
        row = next(row for row in display.text.splitlines() if "twice abandon" in row)
        digit = row.split()[0]
        display.read(0.3)
        display.press(digit)
        display.read(0.5)
        assert not [name for name, _ in station.calls if name == "abandon"]
        display.press(digit)
        assert station.wait_call("abandon")["reason"] == "said at the bench"
    finally:
        display.end()
        station.close()


def test_a_list_gives_way_to_what_goes_wrong(place: Path) -> None:
    station = StandIn(place, pouring("100"))
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "116.00 g to go" in text)
        display.press("/")
        display.until(lambda text: "what is to be done?" in text)
        station.show(WORDS["STOP"]())
        display.until(lambda text: "what is to be done?" not in text)
    finally:
        display.end()
        station.close()


def test_the_overview_is_read_page_by_page_and_ends_with_the_screen(place: Path) -> None:
    more = replace(standing(), parked=(Parked("b-0", "test link", None),))
    station, display = StandIn(place, more), Display(place, 40, 12)
    try:
        display.until(lambda text: "premix" in text)
        display.press("9")
        display.until(lambda text: "pork 12000 of 12000 g: in the mix" in text)
        assert "parked: b-0" not in display.text
        display.read(0.3)
        display.press("9")
        display.until(lambda text: "parked: b-0 test link" in text and "pork" not in text)
        display.read(0.3)
        display.press("9")
        display.until(lambda text: "parked: b-0" not in text and "pork" not in text)
    finally:
        display.end()
        station.close()


def test_two_different_digits_are_no_key_pressed_twice(place: Path) -> None:
    """The weak bag chosen, then the strong one: neither is said twice."""
    calls = [
        {"verb": "lot", "params": {"line": "premix", "lot": "P", "product": name},
         "danger": True, "means": name}
        for name in ("weak", "strong")
    ]  # fmt: skip
    station = StandIn(place, standing())
    station.refuse = {"message": "which product is it?", "next": "", "reason": "", "offers": calls}
    display = Display(place, 80, 24)
    try:
        display.until(lambda text: "1 twice tip" in text)
        for _ in range(2):
            display.press("1")
            display.read(0.4)
        display.until(lambda text: "2 twice strong" in text)
        station.calls.clear()
        for key in ("1", "2"):
            display.press(key)
            display.read(0.5)
        assert not [name for name, _ in station.calls if name == "lot"]
        display.press("2")
        assert station.wait_call("lot")["product"] == "strong"
    finally:
        display.end()
        station.close()
