"""What the display itself asks: a choice from a list, then a number where the call wants one.
Pure: time comes in with the keys."""

from dataclasses import dataclass, replace

from msgspec import structs

from station.bench.choices import Choices
from station.wire import Form, Offer

WAITS_S = 20.0
"""Without a key for so long it is gone."""
_LONGEST = 7


@dataclass(frozen=True, slots=True)
class Entry:
    """A number as it is typed, for a call that wants one. `alone`: what the call does without it,
    empty where it must have one."""

    offer: Offer
    param: str
    unit: str
    alone: str = ""
    typed: str = ""

    def typed_more(self, key: str) -> "Entry | None":
        """With one key more; None where the key belongs to no number."""
        if key == "backspace":
            return replace(self, typed=self.typed[:-1])
        if key == "minus" and self.unit == "degC" and not self.typed:
            return replace(self, typed="-")
        sign = "." if key == "point" else key
        if not (sign.isascii() and sign.isdigit()) and (sign != "." or "." in self.typed):
            return None
        return replace(self, typed=(self.typed + sign)[:_LONGEST])

    @property
    def call(self) -> Offer | None:
        """The call with the number; None where it lacks one."""
        if not self.typed.strip("-."):
            return self.offer if self.alone else None
        params = {**self.offer.params, self.param: f"{self.typed.rstrip('.')} {self.unit}"}
        return structs.replace(self.offer, params=params)

    def lines(self) -> tuple[str, str]:
        """What is typed so far, and what Enter does with it."""
        if not self.typed.strip("-."):
            return f"{self.typed}_ {self.unit}", self.alone or "type it, then Enter"
        twice = " twice" if self.offer.danger else ""
        does = "opens it for" if self.offer.verb == "open" else "takes"
        return f"{self.typed}_ {self.unit}", f"Enter{twice} {does} {self.typed} {self.unit}"


def _entry(chosen: Offer | Form) -> Entry | None:
    """What has to be typed for a choice."""
    if isinstance(chosen, Form):
        offer = Offer(chosen.verb, chosen.params, danger=chosen.danger, means=chosen.means)
        return Entry(offer, chosen.param, chosen.unit)
    if chosen.verb == "open":
        return Entry(chosen, "meat", "kg", alone="Enter alone: the meat that arrives")
    return None


def fits(form: Form, call: Offer) -> bool:
    """Whether a call is that form with its value."""
    given = {name: value for name, value in call.params.items() if name != form.param}
    return (form.verb, form.params) == (call.verb, given)


class Dialog:
    """Nothing, a list, or a number that is typed."""

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

    def weigh_in(self, offer: Offer, now_s: float) -> None:
        """Ask for the weight of a batch that is to be opened."""
        self._choices, self._entry, self._until_s = None, _entry(offer), now_s + WAITS_S

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
            return None
        entry = None if self._choices.answers else _entry(chosen)
        if entry is not None:
            self._choices, self._entry = None, entry
            return None
        return chosen if isinstance(chosen, Offer) else None

    def _weigh(self, entry: Entry, key: str, yes: bool) -> Offer | None:
        if yes:
            return entry.call
        self._entry = entry.typed_more(key)
        return None

    def asked(self) -> str:
        """What it is about."""
        if self._entry is not None:
            if self._entry.offer.verb == "open":
                return f"open {self._entry.offer.means}: how much meat, in kg?"
            return f"{self._entry.offer.means}: how many {self._entry.unit}?"
        return self._choices.asked if self._choices else ""

    def lines(self, columns: int) -> tuple[str, ...]:
        """What it shows, a line each."""
        if self._entry is not None:
            return self._entry.lines()
        return self._choices.lines(columns) if self._choices else ()
