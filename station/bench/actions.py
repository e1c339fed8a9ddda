"""What each key does now: from an action and what the station shows to a call. Pure."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

Shown = Mapping[str, Any]
WHY = "said at the bench"
"""The reason recorded where nobody can type one."""


_WANTS_KEY = re.compile(r"\b(accept|key)\b")
"""The next step asks for the key."""


@dataclass(frozen=True, slots=True)
class Action:
    """Its name in the settings, its word on the screen (the one that the sentences use), and
    whether its key is pressed twice (a cure's `accept` always is)."""

    name: str
    label: str
    twice: bool


ACTIONS = {
    action.name: action
    for action in (
        Action("accept", "accept", False),
        Action("done", "end", True),
        Action("void", "void", True),
        Action("tip", "tip", True),
        Action("who", "who", False),
        Action("vessel", "use", False),
        Action("skip", "skip", True),
        Action("in-mix", "tip --unaccepted", True),
        Action("as-weighed", "accept as weighed", True),
        Action("park", "park", True),
        Action("take-up", "take-up", True),
        Action("look", "what stands", False),
        Action("quiet", "quiet", False),
    )
}


@dataclass(frozen=True, slots=True)
class Call:
    """A method of the socket to call."""

    method: str
    params: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Say:
    """Nothing to call: a word for whoever pressed."""

    text: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What the station refused last and asked to be told again: its line and reason."""

    line: str | None = None
    reason: str = ""


def wants_twice(action: str, shown: Shown) -> bool:
    """Whether the action's key counts only when pressed twice."""
    return ACTIONS[action].twice or (action == "accept" and bool(shown.get("key_first")))


def call_for(action: str, shown: Shown, asked: Asked) -> Call | Say:  # noqa: C901 - one flat table
    """What `action` asks of the station now."""
    line, role = shown["line"], shown["role"]
    match action:
        case "who":
            return _next_person(shown)
        case "tip":
            if not shown["standing"]:
                return Say("nothing stands")
            return Call("tip", {"line": shown["standing"][0]["line"]})
        case "park":
            return Call("park")
        case "take-up":
            if not shown["parked"]:
                return Say("no batch is parked")
            return Call("take-up", {"batch": shown["parked"][0]["batch"]})
        case "done":
            return _done(shown, asked)
        case "vessel":
            return _next_vessel(shown)
    if line is None:
        return Say("no line is at its turn")
    match action:
        case "accept" if shown["ends_by_key"]:
            return Call("step", {"name": line})
        case "accept":
            return Call("accept", {"line": line})
        case "as-weighed":
            return Call("accept", {"line": line, "as_weighed": True})
        case "in-mix":
            return Call("tip", {"line": line, "unaccepted": True})
        case "void" | "skip" if role != "meat" and not shown["ends_by_key"]:
            return Call(action, {"line": line, "reason": WHY})
    return Say(f"not for {line}")


def _done(shown: Shown, asked: Asked) -> Call | Say:
    line = shown["line"]
    if line is None or shown["skipped"]:
        if shown["phase"] != "additions":
            return Say("nothing to end")
        named = shown["to_name"] if asked.reason == "to-be-named" else []
        return Call("close", {"named": named})
    if shown["ends_by_key"]:
        return Call("step", {"name": line})
    sure = asked.line == line and asked.reason in ("off-plan", "no-meat")
    return Call("end", {"line": line, "sure": sure})


def _next_person(shown: Shown) -> Call | Say:
    people: Sequence[str] = shown["people"]
    if not people:
        return Say("no batch is at the bench")
    at = people.index(shown["who"]) + 1 if shown["who"] in people else 0
    return Call("who", {"name": people[at % len(people)]})


def _next_vessel(shown: Shown) -> Call | Say:
    """The next vessel on record for the line: for meat the heaviest first, else the lightest."""
    vessels: list[str] = list(shown["vessels"])
    if shown["role"] == "meat":
        vessels.reverse()
    if not vessels or shown["line"] is None:
        return Say("no vessel is wanted now")
    at = vessels.index(shown["vessel"]) + 1 if shown["vessel"] in vessels else 0
    return Call("use", {"vessel": vessels[at % len(vessels)]})


def scanned(text: str, shown: Shown) -> Call | Say:
    """What a scanned label says: a person, a vessel, or the lot of the line that is weighed."""
    if text in shown["people"]:
        return Call("who", {"name": text})
    if text in shown["vessels"]:
        return Call("use", {"vessel": text})
    line = shown["line"]
    if line is None or shown["role"] == "meat" or shown["ends_by_key"]:
        return Say(f"scanned {text}: no line wants a lot now")
    if shown["net_g"] is not None:
        return Call("next-bag", {"line": line, "lot": text})
    if shown["key_first"]:
        return Say(f"scanned {text}: open it with its strength: lot open {line} {text}")
    return Call("lot", {"line": line, "lot": text})


def keys_now(shown: Shown, keys: Mapping[str, str]) -> tuple[str, ...]:
    """What the keys do now, the most wanted first. `keys`: action -> name of its key."""
    role, line, word = shown["role"], shown["line"], shown["word"]
    wanted: list[str] = []
    if role == "meat":
        wanted += ["accept", "done", "vessel"]
    elif shown["ends_by_key"] or _WANTS_KEY.search(shown["next"]):
        wanted.append("accept")
    if shown["standing"]:
        wanted.append("tip")
    if (line is None or shown["skipped"]) and shown["phase"] == "additions":
        wanted.append("done")
    if "unaccepted" in shown["next"]:
        wanted.append("in-mix")
    if line is not None and role != "meat" and not shown["ends_by_key"]:
        wanted += (
            ["void"] if shown["net_g"] is not None or word == "BLOCKED" else ["vessel", "skip"]
        )
    if shown["parked"] and shown["batch"] is None:
        wanted.append("take-up")
    wanted += ["quiet", "who", "look"] if word == "BLOCKED" else ["who", "look"]
    return tuple(_hint(action, shown, keys[action]) for action in wanted if action in keys)


_BY_KEY = re.compile(
    r"(?P<in_mix>tip --unaccepted)"
    r"|(?P<accept>the key\b|\baccept\b|step ends it)"
    r"|(?P<tip>\btip\b(?! --))"
    r"|(?P<void>\bvoid\b)"
    r"|(?P<vessel>\buse\b(?: [A-Z]+)?)"
    r"|(?P<done>\b(?:end|close)\b(?! --))"
)
"""Where a next step names a method that has a key; each group is an action."""


def with_keys(text: str, shown: Shown, keys: Mapping[str, str]) -> str:
    """A next step in the words of the methods, with the keys that say them."""

    def key(match: re.Match[str]) -> str:
        action = str(match.lastgroup).replace("_", "-")
        if action not in keys:
            return match[0]
        times = " twice" if wants_twice(action, shown) else ""
        return f"{match[0]} [{keys[action]}{times}]"

    return _BY_KEY.sub(key, text)


def _hint(action: str, shown: Shown, key: str) -> str:
    label = ACTIONS[action].label
    if action == "done" and (shown["line"] is None or shown["skipped"]):
        label = "close"
    if action == "accept" and shown["ends_by_key"]:
        label = "step"
    twice = " twice" if wants_twice(action, shown) else ""
    return f"{key}{twice} {label}"


def standing_list(shown: Shown) -> tuple[str, ...]:
    """What stands and since when, and which batches are parked."""
    found = []
    for cup in shown["standing"]:
        vessel = f" in {cup['vessel']}" if cup["vessel"] else ""
        hand = ", by hand" if cup["by_hand"] else ""
        since = cup["since"][11:16]
        found.append(
            f"{cup['line']} {cup['net_g']} g{vessel} since {since} UTC, {cup['who']}{hand}"
        )
    for batch in shown["parked"]:
        cups = f", standing: {', '.join(batch['standing'])}" if batch["standing"] else ""
        since = batch["since"][11:16]
        found.append(f"parked: {batch['batch']} {batch['formula']} since {since} UTC{cups}")
    return tuple(found) or ("nothing stands, no batch is parked",)
