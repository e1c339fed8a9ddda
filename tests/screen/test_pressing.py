"""What a key, a list and a scanner do on the real display in a real terminal."""

import time
from pathlib import Path

import pytest
from msgspec.structs import replace

from station.weighing import commands as do
from station.wire import Change, Clock, Parked
from tests.benchside import Bench
from tests.screen.moments import WORDS, cure_in_band, pouring, shown, standing
from tests.screen.stand_in import SIZES, on_screen

pytestmark = pytest.mark.slow


def test_a_cure_wants_its_key_twice_and_a_held_key_is_no_press(place: Path) -> None:
    with on_screen(place, cure_in_band()) as (station, display):
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


def test_a_scanned_label_is_no_key(place: Path) -> None:
    """A wedge scanner types "41-7-1" and Enter: seven signs, each of which would be a key."""
    with on_screen(place, pouring("132")) as (station, display):
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


def test_a_refusal_is_said_with_its_next_step_and_three_beeps(place: Path) -> None:
    with on_screen(place, standing()) as (station, display):
        station.refuse = {
            "message": "premix: the lot is not open",
            "next": "open it",
            "reason": "x",
        }
        display.until(lambda text: "premix" in text)
        display.read(0.3)
        before = display.bells
        display.press("3")
        display.until(lambda text: "NO: premix: the lot is not open > open it" in text)
        display.read(1.0)
        assert display.bells - before == 3


def test_what_the_station_asks_to_be_said_again_is_said_by_the_same_key(place: Path) -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    really = {
        "verb": "end",
        "params": {"line": "pork", "sure": True},
        "key": "done",
        "danger": True,
    }
    with on_screen(place, shown(bench)) as (station, display):
        station.refuse = {
            "message": "9 % off the plan", "next": "end --sure", "reason": "off-plan",
            "offers": [really],
        }  # fmt: skip
        display.until(lambda text: "which tub?" in text)
        for sure in (False, True):
            station.calls.clear()
            for _ in range(2):
                display.press("+")
                display.read(0.4)
            assert station.wait_call("end")["sure"] is sure
            display.until(lambda text: "the same once more if it is right" in text)


@pytest.mark.parametrize("size", SIZES)
def test_a_batch_is_opened_by_keys_alone(place: Path, size: str) -> None:
    bench = Bench()
    bench.vessels()
    bench.say(do.Who("Ansel", ("Ansel", "Brida")))
    bench.floor.offer_formulas(["garlic-ring", "herb-link"])
    with on_screen(place, shown(bench), *SIZES[size]) as (station, display):
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


def test_what_has_no_key_is_chosen_from_the_list_and_a_danger_twice(place: Path) -> None:
    with on_screen(place, WORDS["ON HOLD"]()) as (station, display):
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


def test_a_list_gives_way_to_what_goes_wrong(place: Path) -> None:
    with on_screen(place, pouring("100")) as (station, display):
        display.until(lambda text: "116.00 g to go" in text)
        display.press("/")
        display.until(lambda text: "what is to be done?" in text)
        station.show(WORDS["STOP"]())
        display.until(lambda text: "what is to be done?" not in text)


def test_the_overview_is_read_page_by_page_and_ends_with_the_screen(place: Path) -> None:
    more = replace(standing(), parked=(Parked("b-0", "test link", None),))
    with on_screen(place, more, 40, 12) as (_, display):
        display.until(lambda text: "premix" in text)
        display.press("9")
        display.until(lambda text: "pork 12000 of 12000 g: in the mix" in text)
        assert "9 next page" in display.text
        assert "parked: b-0" not in display.text
        display.read(0.3)
        display.press("9")
        display.until(lambda text: "parked: b-0 test link" in text and "pork" not in text)
        assert "9 back" in display.text
        display.read(0.3)
        display.press("9")
        display.until(lambda text: "parked: b-0" not in text and "pork" not in text)


def test_two_different_digits_are_no_key_pressed_twice(place: Path) -> None:
    """The weak bag chosen, then the strong one: neither is said twice."""
    calls = [
        {"verb": "lot", "params": {"line": "premix", "lot": "P", "product": name},
         "danger": True, "means": name}
        for name in ("weak", "strong")
    ]  # fmt: skip
    with on_screen(place, standing()) as (station, display):
        station.refuse = {
            "message": "which product is it?",
            "next": "",
            "reason": "",
            "offers": calls,
        }
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


def test_an_answer_does_not_outlive_its_question(place: Path) -> None:
    """The load that was asked about is off the pan; the key accepts the next one, unanswered."""
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.show("bench", "1200")
    bench.show("bench", "13200")
    loaded = shown(bench)
    bench.show("bench", "0")
    away = shown(bench)
    sure = {"verb": "accept", "params": {"line": "pork", "sure": True}, "key": "accept"}
    with on_screen(place, loaded) as (station, display):
        station.refuse = {"message": "like a load", "next": "", "reason": "", "offers": [sure]}
        display.until(lambda text: "takes the load" in text)
        display.press("\r")
        display.until(lambda text: "the same once more if it is right" in text)
        for snapshot, wanted in ((away, "set tub down"), (loaded, "takes the load")):
            station.show(snapshot)
            display.until(lambda text, w=wanted: w in " ".join(text.split()))
        station.calls.clear()
        display.press("\r")
        assert "sure" not in station.wait_call("accept")


def test_a_list_of_answers_goes_with_its_question(place: Path) -> None:
    answer = {"verb": "use", "params": {"vessel": "tub"}, "means": "it is tub", "danger": True}
    with on_screen(place, standing()) as (station, display):
        station.refuse = {"message": "which?", "next": "", "reason": "", "offers": [answer]}
        display.until(lambda text: "1 twice tip" in text)
        for _ in range(2):
            display.press("1")
            display.read(0.4)
        display.until(lambda text: "1 twice use it is tub" in text)
        station.show(pouring("132"))
        display.until(lambda text: "it is tub" not in text and "84.00 g to go" in text)


def test_the_scanned_code_of_a_formula_asks_for_its_meat(place: Path) -> None:
    bench = Bench()
    bench.floor.offer_formulas(("garlic-ring",))
    bench.say(do.Who("Ansel", ("Ansel", "Brida")))
    with on_screen(place, shown(bench)) as (station, display):
        display.until(lambda text: "open a batch" in text)
        display.press("formula garlic-ring\r")
        display.until(lambda text: "open garlic-ring: how much meat, in kg?" in text)
        for key in "12":
            display.press(key)
            display.read(0.3)
        display.until(lambda text: "Enter opens it for 12 kg" in text)
        display.press("\r")
        assert station.wait_call("open") == {
            "formula": "garlic-ring", "who": "Ansel", "meat": "12 kg",
        }  # fmt: skip


def test_a_time_that_runs_out_calls_once_and_not_again(place: Path) -> None:
    def running(late: bool) -> Change:
        clock = Clock("b-1", "into the cold", "", None, "5400", late, f"into the cold: late {late}")
        return replace(standing(), clocks=(clock,))

    with on_screen(place, running(False)) as (station, display):
        display.until(lambda text: "late False" in text)
        display.read(0.5)
        before = display.bells
        station.show(running(True))
        display.until(lambda text: "late True" in text)
        display.read(0.5)
        station.show(replace(running(True), net_g="1"))
        display.read(1.0)
        assert display.bells - before == 1
