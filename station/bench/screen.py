"""The display as it runs: the station's changes in, faces out, keys back."""

import asyncio
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace

from station.bench.actions import (
    ANSWER,
    Say,
    about,
    action_of,
    answers,
    call_for,
    keys_now,
    label,
    scanned,
)
from station.bench.calls import ASKED_S, Calls
from station.bench.choices import Choices, all_now, page_size, words
from station.bench.connection import Connection
from station.bench.dialog import Dialog, fits
from station.bench.face import Words, face, inverse, page_rows
from station.bench.keys import KeyReader, Press, Scan
from station.bench.outside import OutsideSignal
from station.bench.overview import overview, pages
from station.bench.presses import TWICE_S, Presses, Wanted
from station.bench.settings import BenchSettings
from station.bench.sound import Sounds
from station.bench.steady import Steady
from station.bench.terminal import Terminal, ascii_only, size
from station.client import ClientError
from station.wire import Change, Offer, Snapshot

TICK_S = 0.03
NOTICE_S = 4.0
LOOK_S = 10.0
_CHOICE = "choice "
_ACCEPTED = frozenset({"accepted", "meat-weighed", "step-ended"})

NOTHING = Change(
    word="BLOCKED",
    alarm=True,
    sentence="no station answers yet",
    next="station run, on this machine",
    blocked=("station",),
)
"""What is shown while no station answers: never an old number."""


class Screen:
    """One display. `run` it until it is cancelled or interrupted."""

    def __init__(self, settings: BenchSettings, terminal: Terminal, place: Path) -> None:
        self._settings = settings
        self._terminal = terminal
        self._ascii = ascii_only(settings.characters)
        self._connection = Connection(place, self._change, self._lost)
        self._said: Change = NOTHING
        self._shown: Snapshot = NOTHING
        self._steady = Steady()
        self._size = size()
        self._reader = KeyReader()
        self._presses = Presses()
        self._sounds = Sounds()
        self._outside = OutsideSignal(settings.outside, self.say)
        self._notice, self._notice_until = "", 0.0
        self._look_until, self._page = 0.0, 0
        self._dialog = Dialog()
        self._chosen: Offer | None = None
        self._answers: tuple[Offer, ...] = ()  # of a refusal, while its list is on the screen
        self._calls = Calls(self._connection, self.say, self._refused)
        self._labels = {a: k for a in {*settings.keys.values()} if (k := settings.key_of(a))}
        self._captions: tuple[str, ...] = ()
        self.on_key: Callable[[str], bool] = lambda key: False
        """Gets every key first; True if it was its own."""

    async def run(self) -> None:
        """Show and obey for ever."""
        loop = asyncio.get_running_loop()
        loop.add_reader(sys.stdin.fileno(), self._read)
        loop.add_signal_handler(signal.SIGWINCH, self._resized)
        loop.add_signal_handler(signal.SIGCONT, self._terminal.again)
        try:
            self._paint()
            async with asyncio.TaskGroup() as group:
                group.create_task(self._connection.run())
                group.create_task(self._tick())
        finally:
            loop.remove_reader(sys.stdin.fileno())
            loop.remove_signal_handler(signal.SIGWINCH)
            loop.remove_signal_handler(signal.SIGCONT)

    def say(self, text: str, seconds: float = NOTICE_S) -> None:
        """A word in the place of the sentence, for a while, or until that changes."""
        self._notice, self._notice_until = text, time.monotonic() + seconds
        self._paint()

    def tell(self, *captions: str) -> None:
        """The demo's line, in one or more lengths, the longest first."""
        self._captions = captions
        self._paint()

    # from the station

    def _change(self, said: Change) -> None:
        self._said = said
        now = time.monotonic()
        if any(event.kind in _ACCEPTED for event in said.events):
            self._sounds.told("accepted", now)
            self._outside.tell("accepted")
        self._show(now)

    def _show(self, now: float) -> None:
        """Show what the station said last, as far as its word is due."""
        shown = self._steady.show(self._said, now)
        was = self._shown
        if (shown.word, shown.line, shown.blocked) != (was.word, was.line, was.blocked):
            self._notice = ""  # it was about what is over
            self._calls.forget()
            if shown.alarm or shown.word == "STOP" or self._answers:
                self._dialog.close()
                self._answers = ()
                self._look_until = 0.0
        self._shown = shown
        if (shown.calls and not was.calls) or _late(shown) - _late(was):
            self._sounds.told("accepted", now)
        self._sounds.show(shown.word, shown.alarm, next(iter(shown.blocked), None), now)
        self._outside.show(shown.word, shown.alarm)
        self._paint()
        self._beep(now)

    def _lost(self, reason: str, next_step: str) -> None:
        self._change(replace(NOTHING, sentence=reason, next=next_step or NOTHING.next))

    # from the hand

    def _read(self) -> None:
        data = os.read(sys.stdin.fileno(), 1024)
        if not data:  # the terminal hung up
            raise SystemExit(0)
        self._typed(self._reader.feed(data, time.monotonic()))

    def _typed(self, items: list[Press | Scan]) -> None:
        for item in items:
            self._sounds.key()
            if isinstance(item, Scan):
                self._scan(item.text)
            elif not self.on_key(item.key):
                self._press(item.key)

    def _scan(self, text: str) -> None:
        """A label of a person or a vessel says so at once; any other is a lot only when it is
        scanned twice."""
        call = scanned(text, self._shown)
        if isinstance(call, Offer) and call.verb == "open":
            self._look_until = 0.0
            self._dialog.weigh_in(call, time.monotonic())
            self._paint()
        elif isinstance(call, Say) or not call.danger:
            self._act(call)
        else:
            what = f"{call.verb} {text}"
            self._twice(Wanted(what, self._about(call)), what)

    def _press(self, key: str) -> None:
        if self._dialog.on:
            self._choose(key)
            return
        action = action_of(key, self._settings.keys, self._shown)
        if action is None or action == "quiet":
            return
        if action == "more":
            rows = self._size.rows
            self._answers = ()
            self._dialog.show(all_now(self._shown, self._settings.notes, rows), time.monotonic())
            self._look_until = 0.0
            self._paint()
            return
        if action == "look":
            self._look_on()
            return
        self._look_until = 0.0
        now = time.monotonic()
        call = call_for(action, self._shown, self._calls.asked_again(now))
        if isinstance(call, Say):
            self.say(call.text)
            return
        wanted = Wanted(action, self._about(call))
        if action.startswith(ANSWER):  # the same digit may mean another answer in a moment
            wanted = Wanted(f"{_CHOICE}{call.verb} {call.params}", self._about(call))
            self._chosen = call
        if call.danger:
            self._twice(wanted, label(call))
        elif self._presses.press(wanted, False, now):
            self._act(call)

    def _look_on(self) -> None:
        """The overview, its next page, and after the last one the screen again."""
        now = time.monotonic()
        self._page = self._page + 1 if now < self._look_until else 0
        self._look_until = now + LOOK_S if self._page < len(self._pages()) else 0.0
        self._paint()

    def _pages(self) -> tuple[tuple[str, ...], ...]:
        return pages(overview(self._shown), self._size.columns - 2, page_rows(self._size))

    def _choose(self, key: str) -> None:
        """A key while the display itself asks something."""
        now = time.monotonic()
        call = self._dialog.press(key, self._settings.keys.get(key) == "accept", now)
        if call is not None:
            wanted = Wanted(f"{_CHOICE}{call.verb} {call.params}", self._about(call))
            self._chosen = call
            if call.danger:
                self._twice(wanted, words(call, call in self._answers))
            elif self._presses.press(wanted, False, now):
                self._act_chosen()
        self._paint()

    def _act_chosen(self) -> None:
        """What was chosen, if it can still be done."""
        call, self._chosen = self._chosen, None
        self._dialog.close()
        if call is None:
            return
        asked = self._shown.asks.answers if self._shown.asks else ()
        offers = (*self._shown.offers, *asked, *self._answers)
        stays = call.verb in ("open", "note") or call in offers
        stays |= any(fits(form, call) for form in self._shown.forms)
        self._act(call if stays else Say("that cannot be done any more"))

    def _twice(self, wanted: Wanted, label: str) -> None:
        self._presses.press(wanted, True, time.monotonic())
        if self._presses.again:
            what = f"{wanted.line.partition(' of ')[0]}: " if wanted.line else ""
            self.say(f"{what}{label}? the same once more, within two seconds", TWICE_S)

    def _act(self, call: Offer | Say) -> None:
        if isinstance(call, Say):
            self.say(call.text)
        else:
            self._calls.make(call, self._shown.batch)

    def _refused(self, error: ClientError) -> None:
        now = time.monotonic()
        self._sounds.told("refused", now)
        self._outside.tell("refused")
        step, seconds = f" > {error.next}" if error.next else "", NOTICE_S
        again = self._calls.asked_again(now)
        if error.offers and any(offer.key is None for offer in again):
            self._answers = again
            size = page_size(self._size.rows)
            self._dialog.show(Choices(error.sentence, again, size, answers=True), now)
            self._paint()
            return
        if error.offers:
            step, seconds = " > the same once more if it is right", ASKED_S
        self.say(f"NO: {error.sentence}{step}", seconds)

    # as time passes

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            if not self._terminal.alive:
                raise SystemExit("the terminal is gone")  # whoever keeps it up starts it again
            now = time.monotonic()
            self._typed(self._reader.ready(now))
            wanted = self._presses.due(now)
            if wanted is not None:
                self._pressed_twice(wanted, now)
            self._beep(now)
            if self._said.word != self._shown.word and self._steady.due(now):
                self._show(now)
            if self._notice and now > self._notice_until:
                self._notice = ""
                self._paint()
            if self._look_until and now > self._look_until:
                self._look_until = 0.0
                self._paint()
            if self._dialog.over(now):
                self._dialog.close()
                self._paint()

    def _pressed_twice(self, wanted: Wanted, now: float) -> None:
        if wanted.action.startswith(_CHOICE):
            self._act_chosen()
            return
        method, _, text = wanted.action.partition(" ")
        if text:
            call = scanned(text, self._shown)
        else:
            call = call_for(method, self._shown, self._calls.asked_again(now))
        if self._about(call) == wanted.line:  # else the turn has gone to another line meanwhile
            self._act(call)

    def _about(self, call: Offer | Say) -> str | None:
        return None if isinstance(call, Say) else about(call, self._shown.batch)

    def _beep(self, now: float) -> None:
        if self._sounds.due(now):
            self._terminal.frames.want("sound")

    def _resized(self) -> None:
        self._size = size()
        self._paint()

    def _looked(self, now: float) -> tuple[tuple[str, ...], str]:
        """The page of the overview that is on the screen, and what its key does there."""
        found = self._pages() if now < self._look_until else ()
        if not found:
            return (), ""
        page = min(self._page, len(found) - 1)
        return found[page], "next page" if page + 1 < len(found) else "back"

    def _paint(self) -> None:
        now = time.monotonic()
        notice = self._notice if now < self._notice_until else ""
        looked, looks = self._looked(now)
        chooses = self._dialog.lines(self._size.columns - 2)
        words = Words(
            notice or self._dialog.asked(),
            looked,
            next((c for c in self._captions if len(c) < self._size.columns - 1), "")
            or (self._captions or ("",))[-1],
            keys_now(self._shown, self._labels, looks),
            chooses or answers(self._shown),
        )
        shown = self._shown
        what = f"{shown.word} {shown.line} {inverse(shown)}"
        self._terminal.frames.offer(what, face(shown, self._size, words, self._ascii))


def _late(shown: Snapshot) -> set[tuple[str, str]]:
    """The times that have run out."""
    return {(clock.batch, clock.step) for clock in shown.clocks if clock.late}
