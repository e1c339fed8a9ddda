"""What the display itself asks: the list of all that can be done, and a weight."""

import pytest

from station.bench.choices import Choices, all_now
from station.bench.dialog import WAITS_S, Dialog
from station.wire import Ask, Offer, Snapshot

OPEN = Offer("open", {"formula": "herb-link", "who": "Ansel"}, means="herb-link")
PARK = Offer("park", {}, "station park", "park", danger=True)
WHO = Offer("who", {"name": "Brida"}, "station who Brida")


def many(count: int) -> tuple[Offer, ...]:
    return tuple(Offer("who", {"name": f"P{n}"}, f"station who P{n}") for n in range(count))


def listing(*offers: Offer, size: int = 9) -> Dialog:
    dialog = Dialog()
    dialog.show(Choices("what?", offers, size), 0)
    return dialog


def test_what_has_no_key_comes_first_and_answers_are_left_out() -> None:
    yes = Offer("accept", {"line": "salt"}, "station accept salt", "accept")
    shown = Snapshot(offers=(yes, PARK, WHO), asks=Ask("salt?", (yes,)))
    assert all_now(shown, ("it was warm",), 24).lines(78) == (
        "1 who Brida",
        "2 note: it was warm",
        "3 twice park",
    )


@pytest.mark.parametrize(("rows", "size"), [(12, 6), (24, 9), (15, 9), (14, 8), (6, 1)])
def test_a_page_is_as_long_as_the_screen_and_the_digits_allow(rows: int, size: int) -> None:
    assert all_now(Snapshot(offers=many(30)), (), rows).size == size


def test_the_digit_zero_turns_the_page_and_after_the_last_comes_the_first() -> None:
    dialog = listing(*many(5), size=3)
    assert dialog.lines(78) == ("1 who P0", "2 who P1", "3 who P2", "0 more (1 of 2)")
    assert dialog.press("0", False, 1) is None
    assert dialog.lines(78) == ("1 who P3", "2 who P4", "0 more (2 of 2)")
    assert dialog.press("3", False, 1) is None
    assert not dialog.on, "no third one is there"
    dialog = listing(*many(5), size=3)
    for _ in range(2):
        dialog.press("0", False, 1)
    chosen = dialog.press("1", False, 1)
    assert chosen is not None and chosen.params == {"name": "P0"}


def test_one_page_has_no_next() -> None:
    assert listing(*many(3), size=3).lines(78)[-1] == "3 who P2"


def test_any_other_key_closes_it_and_does_nothing() -> None:
    dialog = listing(WHO)
    assert dialog.press("enter", True, 1) is None
    assert not dialog.on


@pytest.mark.parametrize(("columns", "line"), [(9, "1 who P.."), (20, "1 who Perpetua-Maria")])
def test_what_is_too_long_for_a_row_says_so(columns: int, line: str) -> None:
    offer = Offer("who", {"name": "Perpetua-Maria"})
    assert listing(offer).lines(columns)[0][: len(line)] == line[: len(line)]
    assert len(listing(offer).lines(columns)[0]) <= columns


@pytest.mark.parametrize(
    ("keys", "meat"),
    [
        ("", None),
        ("12", "12 kg"),
        ("7.5", "7.5 kg"),
        ("7..5", None),
        ("12345678", "1234567 kg"),
        ("12.", "12 kg"),
        (".", None),
    ],
)
def test_a_weight_is_typed_for_a_batch_or_left_open(keys: str, meat: str | None) -> None:
    dialog = listing(OPEN)
    assert dialog.press("1", False, 1) is None
    for key in keys:
        dialog.press("point" if key == "." else key, False, 1)
    if keys == "7..5":
        assert not dialog.on, "two points are no number: nothing is opened"
        return
    call = dialog.press("enter", True, 1)
    assert call is not None
    wanted = {"formula": "herb-link", "who": "Ansel", **({"meat": meat} if meat else {})}
    assert (call.verb, call.params) == ("open", wanted)


def test_a_wrong_digit_is_taken_back_and_what_will_be_opened_is_shown() -> None:
    dialog = listing(OPEN)
    dialog.press("1", False, 1)
    assert dialog.asked() == "open herb-link: how much meat, in kg?"
    assert dialog.lines(78) == ("_ kg", "Enter alone: the meat that arrives")
    for key in ("1", "9", "backspace", "2"):
        dialog.press(key, False, 1)
    assert dialog.lines(78) == ("12_ kg", "Enter opens it for 12 kg")


@pytest.mark.parametrize("key", ["minus", "plus", "a", "²"])
def test_a_key_of_no_number_ends_the_typing(key: str) -> None:
    dialog = listing(OPEN)
    dialog.press("1", False, 1)
    assert dialog.press(key, False, 1) is None
    assert not dialog.on


def test_it_is_gone_when_it_is_left_alone() -> None:
    dialog = listing(WHO)
    dialog.press("0", False, 5)
    assert not dialog.over(5 + WAITS_S)
    assert dialog.over(5.1 + WAITS_S)
    dialog.close()
    assert not dialog.over(1000)


def test_who_washed_down_is_chosen_and_no_weight_is_typed_again() -> None:
    params = {"formula": "herb-link", "who": "Ansel", "meat": "7 kg", "washed": "Brida"}
    answer = Offer("open", params, means="Brida washed down")
    dialog = Dialog()
    dialog.show(Choices("wheat is on the bench", (answer,), answers=True), 0)
    assert dialog.lines(78) == ("1 Brida washed down",)
    call = dialog.press("1", False, 1)
    assert call is not None
    assert (call.verb, call.params) == ("open", params)
