"""Whole batches by the display's keys and a scanner alone: nobody touches a keyboard.

The display's own code turns keys into calls, the service's own code turns calls into commands;
between them there is no socket and no terminal.
"""

from datetime import UTC, datetime
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from station.batch import events as ev
from station.batch.progress import phase
from station.bench.actions import Say, action_of, call_for, scanned
from station.bench.choices import Choices, all_now, words
from station.bench.dialog import Dialog
from station.bench.settings import load_bench
from station.opening import openable
from station.products import Product
from station.resources import Config
from station.service.methods import _with_answers, build, check
from station.service.snapshot import offer_as_sent
from station.settings import load_settings
from station.weighing.commands import METHODS, Refusal
from station.wire import Offer, Snapshot
from tests.benchside import CUPS, Bench
from tests.screen.moments import shown
from tests.service.test_lots import PREMIX

CONFIG = Config()
SETTINGS = load_bench(CONFIG)
KEYS = SETTINGS.keys
WEAK = Product("curing premix 2.5", {"sodium nitrite": Decimal("0.025"), "salt": Decimal("0.975")})
PREMIX_LABEL = "(01)09506000134352(17)270630(10)P-9"


class _Clock:
    def utc(self) -> datetime:
        return datetime(2026, 11, 30, 12, tzinfo=UTC)


class Hand:
    """Presses keys, scans labels, and moves what stands on the scales."""

    def __init__(self) -> None:
        self.bench = Bench()
        self.bench.vessels()
        self.settings = load_settings(CONFIG)
        self.bench.floor.offer_formulas(openable(CONFIG, self.settings))
        self.dialog = Dialog()
        self.again: tuple[Offer, ...] = ()
        self.said = ""

    @property
    def shown(self) -> Snapshot:
        return shown(self.bench)

    def press(self, *keys: str) -> None:
        """Each key once, or twice where its offer says so."""
        for key in keys:
            self._press(key)

    def _press(self, key: str) -> None:
        if self.dialog.on:
            call = self.dialog.press(key, KEYS.get(key) == "accept", 0)
            if call is not None:
                self.dialog.close()
                self.call(call)
            return
        action = action_of(key, KEYS, self.shown)
        if action == "more":
            self.dialog.show(all_now(self.shown, SETTINGS.notes, 24), 0)
            return
        assert action is not None, key
        found = call_for(action, self.shown, self.again)
        assert isinstance(found, Offer), f"{key}: {found}"
        self.call(found)

    def choose(self, text: str) -> None:
        """From the list of all that can be done now, turning its pages."""
        if not self.dialog.on:
            self.press("slash")
        for _ in range(9):
            for line in self.dialog.lines(78):
                digit, _, said = line.partition(" ")
                if text in said and digit.isdigit() and digit != "0":
                    self.press(digit)
                    return
            self.press("0")
        raise AssertionError(f"{text!r} is not in {[words(o) for o in self.shown.offers]}")

    def scan(self, text: str) -> None:
        found = scanned(text, self.shown)
        assert not isinstance(found, Say), found
        self.call(found)

    def call(self, offer: Offer) -> None:
        """What the display sends, decided as the daemon does."""
        self.again = ()
        method = METHODS[offer.verb]
        desk: Any = SimpleNamespace(clock=_Clock(), station=self.bench.station, simulated=True)
        around: Any = SimpleNamespace(
            desk=desk, config=CONFIG, settings=self.settings, products=(PREMIX, WEAK), channels={}
        )
        try:
            command = build(around, method, check(method, dict(offer.params)))
            self.said = self.bench.say(command)
        except Refusal as refusal:
            answered = _with_answers(around, method, dict(offer.params), refusal)
            self.again = tuple(offer_as_sent(o) for o in answered.offers)
            self.said = refusal.sentence
            if any(o.key is None for o in self.again):
                self.dialog.show(Choices(refusal.sentence, self.again), 0)

    # hands

    def meat(self, grams: int, tub: str = "1200") -> None:
        self.bench.show("bench", tub)
        self.bench.show("bench", str(int(tub) + grams))
        self.press("enter")
        self.bench.show("bench", "0")
        self.bench.show("bench", tub)
        self.bench.show("bench", "0")

    def add(self, cup: str, net: str) -> None:
        self.bench.pour(cup, net)
        if self.shown.key_first:
            self.press("enter")
        self.bench.lift()
        self.bench.tip(cup)


def begun() -> Hand:
    """A batch opened by keys, its meat weighed, up to the lot of the premix."""
    hand = Hand()
    hand.press("2")
    hand.choose("open garlic-ring")
    hand.press("enter")
    assert hand.bench.batch.opened.planned_by == "what arrives"
    hand.scan("(01)09506000134352(17)261204(10)B-118")
    hand.meat(6000)
    hand.press("plus")
    hand.scan("(17)261204(10)B-120")
    hand.meat(4000)
    hand.press("plus")
    assert "is that all?" in hand.said
    hand.press("plus")
    return hand


def salted() -> Hand:
    """The bag of the premix is open, the salt is in."""
    hand = begun()
    hand.scan(PREMIX_LABEL)
    hand.press("1")
    hand.add("cup 3", "180")
    assert hand.shown.line == "curing premix"
    return hand


def warmth(hand: Hand, degrees: str) -> None:
    """The step that wants a temperature, ended with what the thermometer says."""
    hand.choose("knead until tacky ends at so warm")
    hand.press(*degrees, "enter")


def finish(hand: Hand) -> None:
    """Whatever is left of a batch that is as it should be, by what the screen wants."""
    for _ in range(12):
        line = hand.shown.line
        if line == "knead until tacky":
            warmth(hand, "8")
        elif line == "ice":
            hand.choose("use tub")
            target = hand.bench.batch.target("ice")
            hand.bench.show("bench", "1200")
            hand.bench.show("bench", str(1200 + round(float(target))))
            hand.bench.show("bench", "0")
            hand.bench.show("bench", "1200")
            hand.bench.show("bench", "0")
        elif line in hand.bench.batch.lines:
            left = float(hand.bench.batch.target(line)) - float(hand.bench.line(line).actual_g)
            hand.add("cup 1", str(round(left, 1)))
        else:
            return
    raise AssertionError(hand.bench.told)


def test_a_whole_batch_is_made_by_keys_and_labels() -> None:
    hand = salted()
    hand.add("cup 2", "20")
    finish(hand)
    hand.press("plus")
    assert hand.bench.batch.end == "closed" and not hand.bench.batch.named
    lots = {meat.name: meat.lot for meat in hand.bench.batch.meats.values()}
    assert lots == {"pork shoulder": "B-118", "pork belly": "B-120"}
    assert hand.bench.line("curing premix").lot.lot == "P-9"


def test_the_code_on_a_formulas_sheet_opens_it() -> None:
    hand = Hand()
    assert scanned("formula garlic-ring", hand.shown) == Say("say first who is at the bench")
    hand.press("2")
    assert scanned("formula none", hand.shown) == Say("none does not pass the check")
    call = scanned("formula garlic-ring", hand.shown)
    assert isinstance(call, Offer)
    hand.dialog.weigh_in(call, 0)
    hand.press("1", "0", "enter")
    assert hand.bench.batch.opened.plan_g == 10000
    assert scanned("formula garlic-ring", hand.shown) == Say(
        "a batch is at the bench: close or park it first"
    )


def test_what_is_left_out_is_named_by_the_key_that_closes() -> None:
    hand = salted()
    hand.add("cup 2", "20")
    warmth(hand, "8")
    hand.press("4")
    finish_without_pepper = hand.bench.batch.order[-1]
    assert finish_without_pepper == "black pepper"
    for line in ("garlic",):
        assert hand.shown.line == line
        hand.add("cup 1", "50")
    hand.choose("use tub")
    for grams in ("1200", "2000", "0", "1200", "0"):
        hand.bench.show("bench", grams)
    hand.press("plus")
    assert "not as the formula says" in hand.said
    hand.press("plus")
    assert (hand.bench.batch.end, hand.bench.batch.named) == ("closed", ("black pepper",))


def test_a_line_that_was_left_for_the_end_is_taken_up_by_naming_its_vessel() -> None:
    hand = salted()
    hand.add("cup 2", "20")
    warmth(hand, "8")
    hand.press("4")
    hand.add("cup 1", "50")
    hand.choose("use tub")
    for grams in ("1200", "2000", "0", "1200", "0"):
        hand.bench.show("bench", grams)
    assert hand.shown.skipped
    hand.choose("use cup 1")
    hand.add("cup 1", "30")
    hand.press("plus")
    assert hand.bench.batch.end == "closed" and not hand.bench.batch.named


def test_too_much_in_the_mix_is_brought_back_with_more_meat() -> None:
    """27 g of premix of 6.25 % want 10.8 kg of meat by law and 13.5 by the formula; 10 are in."""
    hand = salted()
    hand.bench.pour("cup 2", "27")
    hand.bench.lift()
    hand.press("5")
    hand.bench.tip("cup 2")
    assert phase(hand.bench.batch) == "on hold"
    hand.choose("use tub")
    hand.bench.show("bench", "1200")
    hand.bench.show("bench", "4700")
    hand.choose("accept")
    for grams in ("0", "1200", "0"):
        hand.bench.show("bench", grams)
    assert phase(hand.bench.batch) == "additions", hand.bench.batch.hold
    finish(hand)
    hand.press("plus")
    assert "not as the formula says" in hand.said  # its verdict is how it went in
    hand.press("plus")
    assert "only Ansel says" in hand.said
    hand.choose("Brida saw it go in")
    hand.press("plus", "plus")
    assert hand.bench.batch.end == "closed", hand.said


def test_what_was_poured_into_the_wrong_vessel_is_begun_again() -> None:
    hand = salted()
    hand.add("cup 2", "20")
    warmth(hand, "8")
    hand.bench.pour("cup 1", "12")
    hand.press("minus")
    hand.bench.show("fine", "0")
    hand.bench.show("fine", CUPS["cup 1"])
    hand.bench.show("fine", "0")
    assert not hand.bench.line("black pepper").loads
    hand.add("cup 1", "30")
    assert hand.shown.line == "garlic"


def test_a_step_is_ended_unread_or_left_out_by_keys_only_with_a_second_thought() -> None:
    hand = salted()
    hand.add("cup 2", "20")
    hand.press("enter")
    assert hand.said == "knead until tacky: how warm is it? <= 10 degC is meant"
    hand.press("enter")
    assert hand.bench.batch.steps_done == {"knead until tacky": None}
    hand = salted()
    hand.add("cup 2", "20")
    hand.press("4")
    assert hand.bench.last(ev.StepEnded).skipped and hand.shown.line == "black pepper"


def test_a_cure_whose_scale_is_dead_is_typed_and_two_have_read_it() -> None:
    hand = salted()
    hand.bench.floor.link("fine", False, "its cable is out", "plug it in")
    hand.choose("curing premix by hand, Brida reads it")
    assert hand.dialog.asked() == "curing premix by hand, Brida reads it: how many g?"
    hand.press("enter")
    assert hand.dialog.on, "nothing is typed yet"
    hand.press("2", "0", "enter")
    (load,) = hand.bench.line("curing premix").loads
    assert (load.net_g, load.by_hand.second) == (Decimal(20), "Brida")


def test_a_word_said_by_mistake_is_taken_back() -> None:
    hand = salted()
    hand.bench.pour("cup 2", "20")
    hand.press("enter")
    hand.bench.lift()
    hand.press("1")
    assert not hand.bench.line("curing premix").standing
    hand.choose("Brida too: curing premix is not in")
    assert hand.bench.line("curing premix").standing


def test_a_new_vessel_gets_the_next_name_of_its_kind() -> None:
    hand = Hand()
    hand.bench.show("fine", "140.00")
    hand.choose("what is on fine is cup 4, empty: record it")
    assert hand.bench.station.vessels["cup 4"].empty_g == Decimal("140.00")


def test_a_batch_makes_room_for_another_and_comes_back() -> None:
    hand = salted()
    first = hand.bench.batch.id
    hand.press("7")
    assert list(hand.bench.station.parked) == [first]
    hand.choose("open herb-link")
    hand.press("1", "2", "enter")
    assert hand.bench.batch.opened.planned_by == "meat 12 kg"
    hand.press("7")
    hand.choose(first)
    assert hand.bench.batch.id == first


def test_a_weak_bag_is_worked_out_with_a_second_person() -> None:
    """2.5 % for 6.25 %: asked which it is, whether to work it out, and who else read it."""
    hand = begun()
    hand.scan("P-77")
    assert "which product is it?" in hand.said
    hand.choose("curing premix 2.5")
    assert "the bag P-77 says 2.5 %" in hand.said
    hand.choose("work the line and the salt out by it")
    assert "second person" in hand.said
    hand.choose("Brida has seen it too")
    assert hand.bench.batch.target("curing premix") == 50
    assert hand.bench.last(ev.LotOpened).second == "Brida"  # type: ignore[attr-defined]


def test_the_jar_and_a_ready_note_are_a_choice_away() -> None:
    hand = salted()
    hand.bench.show("bench", "620")
    hand.choose("its jar is on bench")
    assert hand.bench.line("curing premix").jars
    hand.choose(f"note: {SETTINGS.notes[0]}")
    assert hand.bench.last(ev.Noted).text == SETTINGS.notes[0]  # type: ignore[attr-defined]


def test_more_than_was_weighed_is_said_and_the_batch_given_up() -> None:
    hand = salted()
    hand.add("cup 2", "20")
    hand.choose("more curing premix went in, unweighed")
    assert phase(hand.bench.batch) == "on hold"
    hand.choose("abandon")
    assert hand.bench.batch.end == "abandoned"


@pytest.mark.parametrize("key", ["slash", "9"])
def test_list_and_overview_decide_nothing(key: str) -> None:
    hand = salted()
    before = list(hand.bench.events)
    if key == "slash":
        hand.press(key, "enter")
    assert hand.bench.events == before
