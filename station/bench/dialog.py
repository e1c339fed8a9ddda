"""What the display itself asks: a choice from a list, then a weight where the call may have one.
Pure: time comes in with the keys."""

from dataclasses import dataclass, replace

from msgspec import structs

from station.bench.choices import Choices
from station.wire import Offer

WAITS_S = 20.0
"""Without a key for so long it is gone."""
_LONGEST = 6


@dataclass(frozen=True, slots=True)
class Entry:
    """A weight in kilograms as it is typed, for a call that may have one."""

    offer: Offer
    typed: str = ""

    def typed_more(self, key: str) -> "Entry | None":
        """With one key more; None where the key belongs to no number."""
        if key == "backspace":
            return replace(self, typed=self.typed[:-1])
        sign = "." if key == "point" else key
        if not (sign.isascii() and sign.isdigit()) and (sign != "." or "." in self.typed):
            return None
        return replace(self, typed=(self.typed + sign)[:_LONGEST])

    @property
    def call(self) -> Offer:
        """The call with the weight, or without one where nothing was typed."""
        if not self.typed.strip("."):
            return self.offer
        params = {**self.offer.params, "meat": f"{self.typed.rstrip('.')} kg"}
        return structs.replace(self.offer, params=params)


class Dialog:
    """Nothing, a list, or a weight that is typed."""

    def __init__(self) -> None:
        self._choices: Choices | None = None
        self._entry: Entry | None = None
        self._until_s = 0.0

    @property
    def on(self) -> bool:
        return self._choices is not None or self._entry is not None

    def show(self, choices: Choices, now_s: float) -> None:
        """Show a list."""
        self._choices, self._entry, self._until_s = choices, None, now_s + WAITS_S

    def close(self) -> None:
        self._choices = self._entry = None

    def over(self, now_s: float) -> bool:
        """Whether it was left alone for too long."""
        return self.on and now_s > self._until_s

    def press(self, key: str, yes: bool, now_s: float) -> Offer | None:
        """What is called for now. `yes`: the key is the one that accepts. A key that is none of the
        dialog's closes it."""
        self._until_s = now_s + WAITS_S
        if self._entry is not None:
            return self._weigh(self._entry, key, yes)
        if self._choices is None:
            return None
        if key == "0":
            self._choices = self._choices.next_page()
            return None
        chosen = self._choices.chosen(key)
        if chosen is None:
            self.close()
        elif chosen.verb == "open":
            self._choices, self._entry = None, Entry(chosen)
            return None
        return chosen

    def _weigh(self, entry: Entry, key: str, yes: bool) -> Offer | None:
        if yes:
            return entry.call
        self._entry = entry.typed_more(key)
        return None

    def asked(self) -> str:
        """What it is about."""
        if self._entry is not None:
            return f"open {self._entry.offer.means}: how much meat, in kg?"
        return self._choices.asked if self._choices else ""

    def lines(self, columns: int) -> tuple[str, ...]:
        """What it shows, a line each."""
        if self._entry is not None:
            opens = f"Enter opens it for {self._entry.typed} kg"
            if not self._entry.typed:
                opens = "Enter alone: the meat that arrives"
            return (f"{self._entry.typed}_ kg", opens)
        return self._choices.lines(columns) if self._choices else ()
