"""Verify an export of a ledger: python verify.py FILE

Needs nothing but Python. Exit status 0: whole; 1: broken, with the first broken event; 2: cannot be
read. Compare the head (or the root) that it prints with one on paper: a file made up from the start
is whole in itself.
"""

import hashlib
import json
import sys
from pathlib import Path
from typing import Any

Line = dict[str, Any]


def say(text: str | None) -> None:
    sys.stdout.write(f"{text}\n")


def sha(*parts: bytes) -> bytes:
    return hashlib.sha256(b"".join(parts)).digest()


def event_hash(event: Line) -> bytes:
    """SHA-256 of the hash before it and [seq, at, batch, kind, body] as canonical JSON."""
    words = [event["seq"], event["at"], event["batch"], event["kind"]]
    start = json.dumps(words, ensure_ascii=False, separators=(",", ":"))[:-1]
    return sha(bytes.fromhex(event["prev"]), f"{start},{event['body']}]".encode())


def root(first: Line, digest: bytes, count: int) -> bytes:
    """The root that a batch's leaf makes with its siblings on the path to it."""
    leaf = digest + count.to_bytes(8, "big") + first["batch"].encode()
    here = sha(b"\0", leaf)
    for place, siblings in first["path"]["levels"]:
        hashes = [bytes.fromhex(sibling) for sibling in siblings]
        hashes[place] = here
        here = sha(b"\1", *hashes)
    return sha(b"\2", first["path"]["leaves"].to_bytes(8, "big"), here)


def broken(first: Line, events: list[Line]) -> tuple[int, str] | None:
    """The first event that is wrong and why, or None."""
    digest = bytes(32)
    before = None
    seq = first["from"] - 1
    for event in events:
        if event_hash(event).hex() != event["hash"]:
            return event["seq"], "was changed"
        if first["batch"] is not None:
            if event["batch"] != first["batch"] or event["seq"] <= seq:
                return event["seq"], "does not belong here"
        elif event["seq"] != seq + 1 or before not in (None, event["prev"]):
            return seq + 1, "is missing, or the one before it is another"
        elif event["seq"] == 1 and event["prev"] != first["ledger"]:
            return 1, "is of another ledger"
        seq, before = event["seq"], event["hash"]
        digest = sha(digest, bytes.fromhex(before))
    if first["batch"] is not None:
        if root(first, digest, len(events)).hex() != first["root"]:
            return first["from"], "or a later one is missing, or not as the ledger had it"
    elif seq != first["to"]:
        return seq + 1, "is missing at the end"
    elif seq == first["events"] and before != first["head"]:
        return seq, "is not the one of the head"
    return None


def main(path: str) -> int:
    try:
        with Path(path).open(encoding="utf-8") as file:
            first, *events = [json.loads(line) for line in file]
        if first["format"] != "station ledger export 1":
            raise ValueError("it is no export of a ledger")
        found = broken(first, events)
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError) as error:
        say(f"{path} cannot be read: {error}")
        return 2
    if found is not None:
        say(f"BROKEN: event {found[0]} {found[1]}")
        return 1
    say(f"whole: {len(events)} events; ledger of {first['events']} events")
    say(f"head {first['head']}")
    if first["batch"] is not None:
        say(f"all events of batch {first['batch']}, under the root {first['root']}")
    elif first["to"] < first["events"]:
        say(f"not in this file: the events after {first['to']}, on which that head rests")
    return 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        say(__doc__)
        sys.exit(2)
    sys.exit(main(sys.argv[1]))
