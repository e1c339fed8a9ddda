"""Is this export of a weighing station's ledger whole? Run: python verify.py FILE

It needs Python 3.9 or later and nothing else: no network, nothing to install. It only reads FILE.

What it checks. Line 1 of FILE says what the file holds; each line after it is one event. An event
carries the hash of the event before it (`prev`) and its own:

    hash = SHA-256(prev, then [seq, at, batch, kind, body] as canonical JSON, RFC 8785)

so one that was changed does not fit its hash, and one that was taken out, put in or moved does not
fit the `prev` of the next. An export of one batch has no neighbours: there each event is held
against its own hash, and all of them together against the root of a hash tree, where line 1 has
the path to it.

What it cannot tell: whether somebody made all of FILE anew. Compare the head that it prints with
the one on a printed sheet of that day or on a backup.

Exit status: 0 whole, 1 broken (the first broken event is named), 2 FILE cannot be read.
"""

import hashlib
import json
import sys


class Broken(Exception):
    """What is wrong, and at which event."""


class Unreadable(Exception):
    """It is no export, or it cannot be had."""


def canonical(value: object) -> bytes:
    """RFC 8785, for what a ledger holds: text, true, false, null, whole numbers, lists, objects."""

    def ordered(part: object) -> object:
        if isinstance(part, dict):
            return {key: ordered(part[key]) for key in sorted(part, key=utf16)}
        return [ordered(one) for one in part] if isinstance(part, list) else part

    text = json.dumps(ordered(value), ensure_ascii=False, separators=(",", ":"))
    return text.encode("utf-8")


def utf16(key: str) -> bytes:
    """By what RFC 8785 orders keys."""
    return key.encode("utf-16-be")


def parsed(line: str) -> dict:  # type: ignore[type-arg]
    """A line's object. Raises `ValueError` for a key twice and for a number that is not whole."""

    def once(pairs: list) -> dict:  # type: ignore[type-arg]
        if len(dict(pairs)) < len(pairs):
            raise ValueError("a key stands twice")
        return dict(pairs)

    def refused(number: str) -> None:
        raise ValueError(f"{number} is no whole number")

    found = json.loads(line, object_pairs_hook=once, parse_float=refused, parse_constant=refused)
    if not isinstance(found, dict):
        raise ValueError("no object")
    return found


def check_event(line: str, seq: object, prev: object) -> dict:  # type: ignore[type-arg]
    """The event on a line. `seq` and `prev` are what they must be, None where nobody knows."""
    where = f"event {seq}" if seq else "an event"
    try:
        event = parsed(line)
        where = f"event {event['seq']}"
        if set(event) != {"seq", "at", "batch", "kind", "body", "prev", "hash"}:
            raise ValueError(f"it has the keys {', '.join(event)}")
        told = canonical([event[key] for key in ("seq", "at", "batch", "kind", "body")])
        digest = hashlib.sha256(bytes.fromhex(event["prev"]) + told).hexdigest()
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise Broken(f"{where} cannot be read: {error}") from None
    if seq and event["seq"] != seq:
        raise Broken(f"event {seq} is missing, {event['seq']} comes instead")
    if prev and event["prev"] != prev:
        raise Broken(f"event {event['seq']} does not follow from the one before it")
    if event["hash"] != digest:
        raise Broken(f"event {event['seq']} was changed")
    return event


def check_line_1(about: dict, lines: list) -> None:  # type: ignore[type-arg]
    """Hold what line 1 says of the events, which were checked, against them."""
    first, last = parsed(lines[0]), parsed(lines[-1])
    there = {"first": first["seq"], "last": last["seq"], "prev": first["prev"]}
    there["events"] = len(lines)
    for key, found in there.items():
        if about[key] != found:
            raise Broken(f"line 1 says {key}: {about[key]}, and the events make it {found}")


KINDS_OF_PRACTICE = ("ledger-born", "batch-opened")


def check_practice(about: dict, event: dict) -> None:  # type: ignore[type-arg]
    """What is born or opened as practice stays so: SIMULATED is part of the record."""
    kept = event["body"].get("simulated") if event["kind"] in KINDS_OF_PRACTICE else None
    if kept is not None and kept != about["simulated"]:
        raise Broken(f"event {event['seq']} says simulated otherwise than line 1")


def check_chain(about: dict, lines: list) -> str:  # type: ignore[type-arg]
    """All of a ledger or a piece of it: each event follows from the one before it."""
    seq, prev = about["first"], about["prev"]
    for line in lines:
        event = check_event(line, seq, prev)
        check_practice(about, event)
        seq, prev = event["seq"] + 1, event["hash"]
    if seq != about["last"] + 1:
        raise Broken(f"event {seq} is missing: the file must go to event {about['last']}")
    if about["last"] == about["seq"] and prev != about["head"]:
        raise Broken(f"event {about['last']} is not the one of the head")
    if about["of"] == "whole" and (about["first"], about["last"]) != (1, about["seq"]):
        raise Broken("event 1 to the last one must be in it, as it says that it is whole")
    if about["of"] == "whole" and about["prev"] != about["ledger"]:
        raise Broken("event 1 does not follow from the ledger's own id")
    if about["batch"] is not None:
        raise Broken(f"line 1 names the batch {about['batch']}, and it is no export of one")
    if about["last"] == about["seq"]:
        return "they end at the head"
    return f"they end before the head; the last of them has the hash {prev}"


def check_batch(about: dict, lines: list) -> str:  # type: ignore[type-arg]
    """The events of one batch: each by itself, all of them by their path to the root."""
    digest, last = bytes(32), 0
    for line in lines:
        event = check_event(line, None, None)
        check_practice(about, event)
        if event["batch"] != about["batch"] or event["seq"] <= last:
            raise Broken(f"event {event['seq']} does not belong here")
        last = event["seq"]
        digest = hashlib.sha256(digest + bytes.fromhex(event["hash"])).digest()
    if len(lines) != about["events"]:
        raise Broken(f"after event {last}: {len(lines)} events, line 1 says {about['events']}")
    path = about["path"]
    if path is None:
        return "each is as its own hash says; NOT proved: that none of them is missing"
    leaf = digest + len(lines).to_bytes(8, "big") + about["batch"].encode()
    here = hashlib.sha256(b"\0" + leaf).digest()
    for place, siblings in path["levels"]:
        row = [bytes.fromhex(one) for one in siblings]
        row[place] = here
        here = hashlib.sha256(b"\1" + b"".join(row)).digest()
    root = hashlib.sha256(b"\2" + path["leaves"].to_bytes(8, "big") + here).hexdigest()
    if root != path["root"]:
        raise Broken(f"an event up to {last}: together they are not what the batch had")
    return (
        f"they are all that the batch had under the root {root}\n"
        "(which stands in the file beside the ledger that ends in .head, together with the head)"
    )


def check(name: str) -> str:
    """What the export proves. Raises `Broken` or `Unreadable`."""
    try:
        with open(name, encoding="utf-8", newline="\n") as file:  # noqa: PTH123 - for any reader
            lines = file.read().split("\n")
        about = parsed(lines[0])
        of, head = about["of"], about["head"]
        if about["export"] != 1 or of not in ("whole", "range", "batch"):
            raise Unreadable("it is an export of another kind")
    except KeyError as error:
        raise Unreadable(f"line 1 is that of no export: it does not say {error}") from None
    except (OSError, ValueError, RecursionError) as error:
        raise Unreadable(f"no JSON Lines export: {error}") from None
    events = lines[1:-1] if lines[-1] == "" else lines[1:]
    try:
        proved = check_batch(about, events) if of == "batch" else check_chain(about, events)
        check_line_1(about, events)
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError) as error:
        raise Unreadable(f"line 1 does not say what it must: {error}") from None
    short = " ".join(head[at : at + 4] for at in (0, 4, 8, 12))
    simulated = " (SIMULATED)" if about["simulated"] else ""
    ends = f"the ledger ends at event {about['seq']}, head {short}"
    told = "" if of != "batch" and about["last"] == about["seq"] else " so line 1 says, unproved:"
    return f"whole{simulated}: {len(events)} events; {proved}\ncompare with paper:{told} {ends}"


def main() -> int:
    """Say it, and the exit status."""
    if len(sys.argv) != 2:
        print("use: python verify.py FILE", file=sys.stderr)
        return 2
    try:
        print(check(sys.argv[1]))
    except Broken as broken:
        print(f"BROKEN: {broken}")
        return 1
    except Unreadable as unreadable:
        print(f"cannot be read: {unreadable}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
