"""What each key does now: from what the station offers to a call. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from station.wire import FORMULA, Offer, Snapshot

ACTIONS = (
    *("accept", "done", "void", "tip", "who", "vessel", "skip", "in-mix", "as-weighed", "park"),
    *("take-up", "same", "look", "more", "quiet"),
)
"""What a key may be set to in config/bench.toml. All but `look`, `more` and `quiet`, which are the
display's own, make the station's offer of that key."""

_NOTHING = {
    "tip": "nothing stands",
    "take-up": "no batch is parked",
    "done": "nothing to end",
    "vessel": "no vessel is wanted now",
    "who": "nobody is on the list",
}
ANSWER = "answer-"
_LAST = ("who", "in-mix", "park")
"""Keys that can wait for room on the screen."""


@dataclass(frozen=True, slots=True)
class Say:
    """Nothing to call: a word for whoever pressed."""

    text: str


def action_of(key: str, keys: Mapping[str, str], shown: Snapshot) -> str | None:
    """The action of a key. While something is asked the digits are its answers, in their order.
    `keys`: key -> action."""
    answers = len(shown.asks.answers) if shown.asks else 0
    if key.isdigit() and 0 < int(key) <= answers:
        return f"{ANSWER}{key}"
    return keys.get(key)


def call_for(action: str, shown: Snapshot, again: Sequence[Offer] = ()) -> Offer | Say:
    """What `action` asks of the station now. `again`: what answers the station's last refusal."""
    if action.startswith(ANSWER):
        answers = shown.asks.answers if shown.asks else ()
        number = int(action.removeprefix(ANSWER))
        return answers[number - 1] if number <= len(answers) else Say("nothing is asked now")
    for offer in (*again, *shown.offers):
        if offer.key == action:
            return offer
    if action in _NOTHING:
        return Say(_NOTHING[action])
    return Say(f"not now > {shown.next}" if shown.line else "no line is at its turn")


def scanned(text: str, shown: Snapshot) -> Offer | Say:
    """What a scanned label says: a person, a vessel, or the lot of the line that is weighed."""
    if text in shown.people:
        return Offer("who", {"name": text})
    if text in shown.vessels:
        return Offer("use", {"vessel": text})
    if text.startswith(FORMULA):
        return _formula(text.removeprefix(FORMULA), shown)
    line = shown.line
    if line is not None and shown.role == "meat":
        return Offer("meat-lot", {"line": line, "lot": text}, danger=True)
    if line is None or shown.ends_by_key:
        return Say(f"scanned {text}: no line wants a lot now")
    if shown.net_g is not None:
        return Offer("next-bag", {"line": line, "lot": text}, danger=True)
    return Offer("lot", {"line": line, "lot": text}, danger=not shown.key_first)


def _formula(name: str, shown: Snapshot) -> Offer | Say:
    """To open the formula whose sheet was scanned."""
    offers = [offer for offer in shown.offers if offer.verb == "open"]
    for offer in offers:
        if offer.params.get("formula") == name:
            return offer
    if shown.batch is not None and not offers:
        return Say("a batch is at the bench: close or park it first")
    return Say(f"{name} does not pass the check" if offers else "say first who is at the bench")


def keys_now(shown: Snapshot, keys: Mapping[str, str], looks: str = "") -> tuple[str, ...]:
    """What the keys do now, the most wanted first. `keys`: action -> name of its key; `looks`: what
    the key of the overview does while that is on the screen."""
    if looks and "look" in keys:
        return (f"{keys['look']} {looks}",)
    answers = shown.asks.answers if shown.asks else ()  # shown as answers, each with its digit
    digits = {str(n) for n in range(1, len(answers) + 1)}
    keys = {action: key for action, key in keys.items() if key not in digits}
    answered = {(offer.verb, str(offer.params)) for offer in answers}
    offers = [o for o in shown.offers if o.key in keys and (o.verb, str(o.params)) not in answered]
    first = [o for o in offers if o.key not in _LAST]
    last = {offer.key: _hint(offer, keys) for offer in offers if offer not in first}
    hints = [_hint(offer, keys) for offer in first]
    if "more" in keys:
        begin = any(offer.verb == "open" for offer in shown.offers)
        more = f"{keys['more']} {'open a batch' if begin else 'more'}"
        hints.insert(0 if begin else len(hints), more)
    if shown.alarm and "quiet" in keys:
        hints.append(f"{keys['quiet']} quiet")
    if "who" in last:
        hints.append(last["who"])
    if "look" in keys:
        hints.append(f"{keys['look']} overview")
    hints += [hint for key, hint in last.items() if key != "who"]
    return tuple(hints)


def _hint(offer: Offer, keys: Mapping[str, str]) -> str:
    twice = " twice" if offer.danger else ""
    return f"{keys[offer.key or '']}{twice} {label(offer)}"


def answers(shown: Snapshot) -> tuple[str, ...]:
    """The answers to what is asked, each with its digit and what it means, and what the hands do
    where none is true."""
    if shown.asks is None:
        return ()
    found = [
        f"{n}{' twice' if offer.danger else ''} {offer.means or label(offer)}"
        for n, offer in enumerate(shown.asks.answers[:9], 1)
    ]
    return (*found, *([f"else {shown.asks.otherwise}"] if shown.asks.otherwise else []))


def label(offer: Offer) -> str:
    """The verb with its flags, as the command line has them."""
    flags = [f"--{name.replace('_', '-')}" for name, value in offer.params.items() if value is True]
    return " ".join([offer.verb, *flags])


def about(offer: Offer, batch: str | None) -> str | None:
    """What a call is about, so that two presses mean the same: its line, in its batch."""
    line = offer.params.get("line") or offer.params.get("batch")
    return f"{line} of {batch}" if line and batch else line
