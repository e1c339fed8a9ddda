"""Keys: bytes to names, presses that count, and what they ask of the station."""

from collections.abc import Sequence
from typing import Any

import pytest

from station.bench.actions import Say, action_of, call_for, keys_now, scanned
from station.bench.keys import BURST_S, KeyReader, Press, Scan
from station.bench.presses import REPEATS_S, TWICE_S, Presses, Wanted
from station.service.snapshot import offer_as_sent
from station.weighing import commands as do
from station.weighing.offers import WHY
from station.wire import Offer, Snapshot
from tests.benchside import Bench
from tests.screen.moments import WORDS, cure_in_band, shown, standing

ACCEPT = Wanted("accept", "premix")


def typed(data: bytes) -> list[Press | Scan]:
    reader = KeyReader()
    return [*reader.feed(data, 1.0), *reader.ready(1.0 + BURST_S)]


@pytest.mark.parametrize(
    ("data", "keys"),
    [
        (b"1", ["1"]),
        (b"\r", ["enter"]),
        (b"+", ["plus"]),
        (b"\x1b[A", ["up"]),
        (b"\x1bOM", ["enter"]),  # the keypad's Enter, in its other mode
        (b"\x1bOq", ["1"]),
        (b"\x1b[5~", ["page-up"]),
        (b"\x1b[1;5A1", ["1"]),  # an unknown sequence is no key, and none of its signs is one
        (b"\x1b", ["escape"]),
        (b"1\r", ["1", "enter"]),
        (b"12", []),  # two at once: a splash
    ],
)
def test_what_keyboards_send_is_named(data: bytes, keys: list[str]) -> None:
    assert typed(data) == [Press(key) for key in keys]


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"P-4199\r", [Scan("P-4199")]),
        (b"Bo\r", [Scan("Bo")]),
        (b"0000000000", []),  # a key held down, or an elbow
        (b"9999\r", []),
        (b"P-4199", []),  # a scanner ends with Enter
    ],
)
def test_signs_without_a_pause_are_a_scan_and_no_keys(
    data: bytes, found: list[Press | Scan]
) -> None:
    assert typed(data) == found


def test_a_held_arrow_is_known_at_once() -> None:
    reader = KeyReader()
    assert reader.feed(b"\x1b[C", 1.0) == [Press("right")]
    assert reader.feed(b"\x1b[C\x1b[C", 1.03) == [Press("right"), Press("right")]


def test_a_scan_that_comes_in_pieces_is_one_scan() -> None:
    reader = KeyReader()
    found: list[Press | Scan] = []
    for n, sign in enumerate("41-7-1\r"):
        found += reader.feed(sign.encode(), 1.0 + n * 0.01)
    assert found == []
    assert reader.ready(2.0) == [Scan("41-7-1")]


def test_keys_of_a_hand_are_keys() -> None:
    reader = KeyReader()
    found: list[Press | Scan] = []
    for n, sign in enumerate("41-7\r"):
        found += reader.feed(sign.encode(), 1.0 + n * 0.2)
    found += reader.ready(9.0)
    assert found == [Press(key) for key in ("4", "1", "minus", "7", "enter")]


def test_two_presses_count_once_the_second_stands_alone() -> None:
    presses = Presses()
    assert not presses.press(ACCEPT, True, 1.0)
    assert presses.again
    assert not presses.press(ACCEPT, True, 1.6)
    assert presses.due(1.6) is None
    assert presses.due(1.6 + REPEATS_S) == ACCEPT
    assert presses.due(9.0) is None


def test_a_key_held_down_never_counts() -> None:
    """First press, the keyboard's delay, then thirty a second."""
    presses = Presses()
    times = [1.0, 1.5, *(1.5 + n / 30 for n in range(1, 60))]
    for time_s in times:
        assert presses.due(time_s) is None
        assert not presses.press(ACCEPT, True, time_s)
    assert presses.due(99.0) is None


@pytest.mark.parametrize(
    "second", [1.0 + TWICE_S + 0.1, 1.0 + REPEATS_S / 2]
)  # too late; a bounce or a splash
def test_a_second_press_too_late_or_too_soon_does_not_count(second: float) -> None:
    presses = Presses()
    presses.press(ACCEPT, True, 1.0)
    presses.press(ACCEPT, True, second)
    assert presses.due(second + 1) is None


def test_two_presses_for_two_lines_are_one_press_for_each() -> None:
    presses = Presses()
    presses.press(ACCEPT, True, 1.0)
    presses.press(Wanted("accept", "salt"), True, 1.5)
    assert presses.due(9.0) is None


def test_a_single_key_counts_at_once_and_its_repeats_do_not() -> None:
    presses = Presses()
    who = Wanted("who", None)
    assert presses.press(who, False, 1.0)
    assert not presses.press(who, False, 1.05)
    assert presses.press(who, False, 2.0)


def test_each_key_makes_what_the_station_offers() -> None:
    salt, cup = WORDS["IN BAND"](), standing()
    assert call_for("tip", salt) == Say("nothing stands")
    assert call_for("take-up", salt) == Say("no batch is parked")
    assert calls("tip", cup) == ("tip", {"line": "salt"})
    assert calls("who", salt) == ("who", {"name": "Brida"})
    assert calls("park", cup) == ("park", {})
    assert calls("in-mix", salt) == ("tip", {"line": "salt", "unaccepted": True})
    assert calls("void", salt) == ("void", {"line": "salt", "reason": WHY})


def test_a_key_that_nothing_is_offered_for_says_what_comes_next_instead() -> None:
    salt = WORDS["IN BAND"]()
    assert call_for("accept", salt) == Say("not now > lift it off: that accepts")


def test_the_key_of_a_cure_is_pressed_twice_and_that_of_meat_once() -> None:
    cure = call_for("accept", cure_in_band())
    assert isinstance(cure, Offer) and cure.danger
    bench = with_meat_on()
    meat = call_for("accept", shown(bench))
    assert isinstance(meat, Offer) and not meat.danger


def test_meat_that_is_off_the_plan_is_ended_by_what_the_refusal_offers() -> None:
    bench = with_meat_on("6000")
    bench.say(do.Accept("pork"))
    assert calls("done", shown(bench)) == ("end", {"line": "pork", "sure": False})
    refusal = bench.refused(do.End("pork"))
    assert refusal.code == "off-plan"
    again = [offer_as_sent(offer) for offer in refusal.offers]
    assert calls("done", shown(bench), again) == ("end", {"line": "pork", "sure": True})


def test_the_vessel_key_goes_through_what_is_free_and_the_tub_comes_first_for_meat() -> None:
    bench = Bench()
    bench.vessels()
    bench.show("bench", "1300")
    bench.say(do.RecordVessel("tub 2", "bench"))
    bench.show("bench", "0")
    bench.open()
    seen = []
    for _ in range(3):
        verb, params = calls("vessel", shown(bench))
        seen.append(params["vessel"])
        assert verb == "use"
        bench.say(do.Use(params["vessel"]))
    assert seen == ["tub 2", "tub", "tub 2"]  # a cup of the fine scale holds no meat


def test_closing_names_what_the_station_asked_to_be_named() -> None:
    bench = Bench().begin()
    for name in ("salt", "premix", "pepper", "garlic"):
        bench.say(do.Skip(name, "not here"))
    assert calls("done", shown(bench)) == ("close", {"named": []})
    refusal = bench.refused(do.Close())
    again = [offer_as_sent(offer) for offer in refusal.offers]
    named = ["salt", "premix", "pepper", "garlic"]
    assert calls("done", shown(bench), again) == ("close", {"named": named})


def with_meat_on(grams: str = "12000") -> Bench:
    """The tub is named, and on the scale with meat in it."""
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.say(do.Use("tub"))
    bench.show("bench", str(1200 + int(grams)))
    return bench


def calls(action: str, change: Snapshot, again: Sequence[Offer] = ()) -> tuple[str, dict[str, Any]]:
    call = call_for(action, change, again)
    assert isinstance(call, Offer), call
    return call.verb, call.params


def test_a_scan_is_a_person_a_vessel_or_a_lot() -> None:
    pouring, waiting = WORDS["POUR"](), WORDS["SET DOWN"]()
    assert scanned("Brida", pouring) == Offer("who", {"name": "Brida"})
    assert scanned("cup 1", waiting) == Offer("use", {"vessel": "cup 1"})
    assert scanned("S-12", waiting) == Offer("lot", {"line": "salt", "lot": "S-12"}, danger=True)
    assert scanned("S-12", pouring) == Offer(
        "next-bag", {"line": "salt", "lot": "S-12"}, danger=True
    )


def test_the_keys_shown_are_those_that_help_now() -> None:
    keys = {"accept": "Enter", "tip": "1", "void": "-", "who": "2", "look": "9", "quiet": "0"}
    assert keys_now(cure_in_band(), keys)[0] == "Enter twice accept"
    assert "1 twice tip" in keys_now(standing(), keys)
    assert "0 quiet" in keys_now(WORDS["BLOCKED"](), keys)
    assert not any("accept" in hint for hint in keys_now(WORDS["IN BAND"](), keys))


KEYS = {"1": "tip", "2": "who", "enter": "accept"}


@pytest.mark.parametrize(
    ("key", "verb"), [("1", "tip"), ("2", "accept"), ("3", None), ("enter", "accept")]
)
def test_while_something_is_asked_the_digits_are_its_answers(key: str, verb: str | None) -> None:
    asked = WORDS["ANSWER"]()
    action = action_of(key, KEYS, asked)
    call = call_for(action, asked) if action else None
    assert (call.verb if isinstance(call, Offer) else None) == verb


def test_while_nothing_is_asked_a_digit_is_its_own_key() -> None:
    assert action_of("1", KEYS, WORDS["POUR"]()) == "tip"


def test_an_answer_that_comes_after_its_question_says_nothing() -> None:
    action = action_of("2", KEYS, WORDS["ANSWER"]())
    assert action is not None
    assert call_for(action, WORDS["POUR"]()) == Say("nothing is asked now")


def test_a_key_that_is_an_answer_now_is_not_shown_as_anything_else() -> None:
    hints = keys_now(WORDS["ANSWER"](), {"tip": "1", "who": "2", "void": "-", "look": "9"})
    assert not any(hint.startswith(("1", "2")) for hint in hints)
