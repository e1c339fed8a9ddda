"""What was written with a right hash, and what a bad disk made: a sentence, never more."""

import random
import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

import pytest

from station.ledger import chain
from station.ledger.book import LedgerError, read_events
from station.ledger.mark import mark_path
from station.ledger.reading import open_reader
from station.ledger.records import Recorded, chain_break
from station.ledger.repair import examine
from tests.ledger.ledgers import AT, checked, opened

FORGED: dict[str, tuple[str, str | dict[str, str]]] = {
    "no such kind": ("none", "{}"),
    "no text": ("noted", '{"text":5}'),
    "of no line": ("tared", {"line": "nobody's"}),
    "a meat of no weight": ("meat-weighed", {"net_g": "NaN"}),
    "a meat beyond all weight": ("meat-weighed", {"net_g": "9" * 400}),
    "no number": ("spilt", '{"line":"salt","spilt_g":"much","uid":null}'),
    "no object": ("noted", "[]"),
    "blanks": ("noted", '{"text": "x","uid":null,"who":"Ansel"}'),
    "a key twice": ("noted", '{"text":"x","text":"y","uid":null,"who":"Ansel"}'),
    "keys in another order": ("noted", '{"who":"Ansel","text":"x","uid":null}'),
    "deep": ("noted", '{"text":' + "[" * 700 + "]" * 700 + "}"),
    "deeper": ("noted", '{"text":' + "[" * 100_000 + "]" * 100_000 + "}"),
}


@pytest.mark.parametrize("what", FORGED)
def test_a_hash_that_is_right_proves_nothing_about_what_it_covers(path: Path, what: str) -> None:
    with open_reader(path) as db:
        *_, last = read_events(db)
        bodies = {record.kind: record.body for record in read_events(db)}
    kind, made = FORGED[what]
    text = made if isinstance(made, str) else chain.canonical_body(bodies[kind] | made)
    digest = chain.event_hash(last.hash, last.seq + 1, AT, "b-1", kind, text)
    with closing(sqlite3.connect(path, isolation_level=None)) as added:
        added.execute(
            "INSERT INTO event VALUES (?, ?, 'b-1', ?, ?, ?, ?)",
            (last.seq + 1, AT, kind, text, last.hash, digest),
        )
    verdict = checked(path)
    first = None if what == "a meat beyond all weight" else last.seq + 1
    assert (verdict.ok, verdict.first_broken) == (False, first)
    with pytest.raises(
        LedgerError, match=rf"is broken: (event {last.seq + 1} |its events make no)"
    ):
        opened(path)


def test_no_flipped_byte_is_more_than_a_sentence(path: Path) -> None:
    """Anywhere in the file: read, opened and repaired without another exception, never called whole
    with another content."""
    content, seed = path.read_bytes(), random.Random(41)
    expected = checked(path)
    flipped = path.with_name("flipped.ledger")
    found = 0
    for _ in range(60):
        at = seed.randrange(len(content))
        flipped.write_bytes(
            content[:at] + bytes([content[at] ^ 1 << seed.randrange(8)]) + content[at + 1 :]
        )
        shutil.copy(mark_path(path), mark_path(flipped))
        try:
            verdict = checked(flipped)
        except LedgerError:
            found += 1
        else:
            found += not verdict.ok
            assert not verdict.ok or verdict == expected
        with suppress(LedgerError):
            examine(flipped)
        with suppress(LedgerError):
            opened(flipped).close()
    assert found > 10


def test_a_body_deeper_than_the_chain_can_follow_is_told_not_raised() -> None:
    """Read by a stack a little emptier than the one it is checked on; how deep is too deep, and so
    in which words it is told, is the interpreter's."""
    body: list[object] = []
    for _ in range(5000):
        body = [body]
    record = Recorded(1, AT, None, "noted", {"text": body}, "", bytes(32), bytes(32))
    told = chain_break(record, 0, bytes(32))
    assert told is not None and told.startswith("event 1 ")
