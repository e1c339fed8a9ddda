"""The list of all that can be done now. While it is on the screen the digits choose from it, a page
at a time. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from station.wire import Form, Offer, Snapshot

MOST = 9
"""As many as there are digits to choose by."""
AROUND = 6
"""Rows of a screen that the list leaves to others: header, word, what is asked, next page, a
caption, keys."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What is on the screen of it. `asked`: what it is about; `answers`: the calls answer what was
    asked about one that was made, and nothing is typed for them again."""

    asked: str
    offers: tuple[Offer | Form, ...]
    size: int = MOST
    page: int = 0
    answers: bool = False

    @property
    def _shown(self) -> tuple[Offer | Form, ...]:
        start = self.page * self.size
        return self.offers[start : start + self.size]

    @property
    def _pages(self) -> int:
        return -(-len(self.offers) // self.size)

    def chosen(self, key: str) -> Offer | Form | None:
        """What a key chooses, or None."""
        if not key.isdigit() or not 0 < int(key) <= len(self._shown):
            return None
        return self._shown[int(key) - 1]

    def next_page(self) -> "Choices":
        """The page after this one, the first after the last."""
        return replace(self, page=(self.page + 1) % self._pages)

    def lines(self, columns: int) -> tuple[str, ...]:
        """What each digit does, each in one line of the screen: what is too long ends in two
        points."""
        found = [
            _fit(f"{n}{_twice(offer)} {words(offer, self.answers)}", columns)
            for n, offer in enumerate(self._shown, 1)
        ]
        if self._pages > 1:
            found.append(f"0 more ({self.page + 1} of {self._pages})")
        return tuple(found)


def _twice(offer: Offer | Form) -> str:
    """What is typed is confirmed after it is typed."""
    return " twice" if isinstance(offer, Offer) and offer.danger else ""


def words(offer: Offer | Form, answers: bool = False) -> str:
    """A call for people: what it means where that says enough, as that of an answer does, else its
    verb and what about."""
    if isinstance(offer, Form):
        return offer.means
    if not offer.means:
        return said(offer)
    if offer.verb == "use" or (offer.verb == "open" and not answers):
        return f"{offer.verb} {offer.means}"
    return offer.means


def said(offer: Offer) -> str:
    """The verb, what it is about and its flags: whoever presses a key gives no reason."""
    flags = [f"--{name.replace('_', '-')}" for name, value in offer.params.items() if value is True]
    about = [str(offer.params[name]) for name in _ABOUT if offer.params.get(name)]
    return " ".join([offer.verb, *about, *flags])


_ABOUT = ("line", "name", "batch", "vessel", "scale", "lot", "text")
"""The parameters that a call is about."""


def all_now(shown: Snapshot, notes: Sequence[str], rows: int) -> Choices:
    """All that can be done now, what has no key of its own first, and the notes that are ready.
    Answers to a question have their digits already."""
    answers = shown.asks.answers if shown.asks else ()
    offers = [offer for offer in shown.offers if offer not in answers]
    ready = [Offer("note", {"text": text}, means=f"note: {text}") for text in notes]
    first = [offer for offer in offers if offer.key is None]
    last = [offer for offer in offers if offer.key is not None]
    return Choices("what is to be done?", (*shown.forms, *first, *ready, *last), page_size(rows))


def page_size(rows: int) -> int:
    """So many choices a page on a screen of so many rows."""
    return max(1, min(MOST, rows - AROUND))


def _fit(text: str, columns: int) -> str:
    return text if len(text) <= columns else f"{text[: columns - 2]}.."
