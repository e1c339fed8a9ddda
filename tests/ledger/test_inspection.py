"""What verify.py says of an export that somebody changed."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from station.ledger import inspection
from station.ledger.export import Part
from tests.ledger.test_export import Lines, exported, inspected, lines_of, of_batch, put


def rehashed(event: dict[str, Any]) -> dict[str, Any]:
    """The event with the hash that it would have: a forger has verify.py, too."""
    told = inspection.canonical([event[key] for key in ("seq", "at", "batch", "kind", "body")])
    digest = inspection.hashlib.sha256(bytes.fromhex(event["prev"]) + told).hexdigest()
    return event | {"hash": digest}


def changed(lines: Lines) -> Lines:
    lines[7]["body"] |= {"net_g": "1.00"}
    return lines


def renamed(lines: Lines) -> Lines:
    lines[7]["batch"] = "b-2"
    return lines


def forged(lines: Lines) -> Lines:
    lines[7] = rehashed(lines[7] | {"at": "2026-11-30T11:00:00.000Z"})
    return lines


def last_forged(lines: Lines) -> Lines:
    lines[-1] = rehashed(lines[-1] | {"at": "2026-11-30T11:00:00.000Z"})
    return lines


ATTACKS: dict[str, tuple[Callable[[Lines], Lines], str]] = {
    "an event changed": (changed, "event 7 was changed"),
    "an event given to another batch": (renamed, "event 7 was changed"),
    "an event forged with a right hash": (forged, "event 8 does not follow"),
    "the last event forged": (last_forged, "is not the one of the head"),
    "an event gone": (lambda lines: lines[:7] + lines[8:], "event 7 is missing, 8 comes instead"),
    "the first event gone": (lambda lines: lines[:1] + lines[2:], "event 1 is missing"),
    "the tail cut off": (lambda lines: lines[:-2], "is missing: the file must go to event"),
    "an event twice": (lambda lines: lines[:8] + lines[7:], "event 8 is missing, 7 comes instead"),
    "two changed over": (
        lambda lines: [*lines[:7], lines[8], lines[7], *lines[9:]],
        "event 7 is missing, 8 comes instead",
    ),
    "a fraction": (
        lambda lines: [*lines[:5], lines[5] | {"body": {"net_g": 1.5}}, *lines[6:]],
        "event 5 cannot be read: 1.5 is no whole number",
    ),
    "no object": (lambda lines: [*lines[:5], [], *lines[6:]], "event 5 cannot be read"),  # type: ignore[list-item]
    "another ledger's id": (
        lambda lines: [lines[0] | {"ledger": "00" * 32}, *lines[1:]],
        "does not follow from the ledger's own id",
    ),
    "said to end earlier": (
        lambda lines: [lines[0] | {"last": 5}, *lines[1:6]],
        "as it says that it is whole",
    ),
    "practice told as real": (
        lambda lines: [lines[0] | {"simulated": not lines[0]["simulated"]}, *lines[1:]],
        "event 1 says simulated otherwise than line 1",
    ),
    "said to be more events": (
        lambda lines: [lines[0] | {"events": lines[0]["events"] + 1}, *lines[1:]],
        "line 1 says events: ",
    ),
    "said to be a batch's": (
        lambda lines: [lines[0] | {"batch": "b-9"}, *lines[1:]],
        "line 1 names the batch b-9",
    ),
    "a word that no hash covers": (
        lambda lines: [*lines[:5], lines[5] | {"seen": "yes"}, *lines[6:]],
        "event 5 cannot be read: it has the keys",
    ),
}


@pytest.mark.parametrize("how", ATTACKS)
def test_what_was_done_to_an_export_is_told_with_the_first_broken_event(
    path: Path, how: str
) -> None:
    go, says = ATTACKS[how]
    file, _ = exported(path)
    put(file, go(lines_of(file)))
    status, told = inspected(file)
    assert status == 1, told
    assert told.startswith("BROKEN: ") and says in told


def test_a_batch_opened_as_practice_is_not_told_as_real(path: Path) -> None:
    file, about = exported(path, Part(batch="b-1"))
    lines = lines_of(file)
    assert (lines[1]["kind"], about.simulated) == ("batch-opened", lines[1]["body"]["simulated"])
    put(file, [lines[0] | {"simulated": not about.simulated}, *lines[1:]])
    status, told = inspected(file)
    assert (status, "says simulated otherwise than line 1" in told) == (1, True)


def test_a_key_that_stands_twice_is_told(path: Path) -> None:
    """A reader might take the first, the hash covers the last."""
    file, _ = exported(path)
    lines = file.read_text(encoding="utf-8").split("\n")
    lines[5] = lines[5].replace('"seq":5', '"batch":"b-9","seq":5')
    file.write_text("\n".join(lines), encoding="utf-8")
    assert inspected(file)[0] == 1
    assert "event 5 cannot be read: a key stands twice" in inspected(file)[1]


def test_a_file_cut_in_the_middle_of_a_line_is_broken_there(path: Path) -> None:
    file, about = exported(path)
    file.write_bytes(file.read_bytes()[:-20])
    assert inspected(file) == (1, inspected(file)[1])
    assert f"BROKEN: event {about.last} cannot be read" in inspected(file)[1]


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe", b"{}\n", b"seq,at\n", b'{"export":2,"of":"whole","head":""}',
                b'{"export":1,"of":"all","head":""}', b'{"export":1,"of":"whole","head":""}',
                b'{"export":1,"of":"whole","head":5,"first":1,"prev":"","last":"x"}'],
)  # fmt: skip
def test_what_is_no_export_cannot_be_read(path: Path, content: bytes) -> None:
    file, _ = exported(path)
    file.write_bytes(content)
    assert inspected(file)[0] == 2, inspected(file)
    file.unlink()
    assert inspected(file)[0] == 2


def test_verify_py_takes_one_file(path: Path) -> None:
    file, _ = exported(path)
    words = [sys.executable, "-I", str(file.with_name("verify.py"))]
    result = subprocess.run(words, capture_output=True, text=True, timeout=30, check=False)
    assert (result.returncode, result.stderr) == (2, "use: python verify.py FILE\n")


BATCH_ATTACKS: dict[str, tuple[Callable[[Lines], Lines], str]] = {
    "changed": (lambda x: [*x[:2], x[2] | {"at": "2026-11-30T11:00:00.000Z"}, x[3]], "was changed"),
    "forged with a right hash": (
        lambda x: [*x[:2], rehashed(x[2] | {"at": "2026-11-30T11:00:00.000Z"}), x[3]],
        "together they are not what the batch had",
    ),
    "gone": (lambda x: [*x[:2], x[3]], "2 events, line 1 says 3"),
    "gone, and line 1 with it": (
        lambda x: [x[0] | {"events": 2}, *x[1:3]],
        "together they are not",
    ),
    "twice": (lambda x: [x[0] | {"events": 4}, *x[1:], x[3]], "does not belong here"),
    "of another batch": (
        lambda x: [*x[:3], rehashed(x[3] | {"batch": "b-2"})],
        "does not belong here",
    ),
    "put in": (
        lambda x: [x[0] | {"events": 4}, *x[1:], rehashed(x[3] | {"seq": 9000})],
        "together they are not what the batch had",
    ),
    "said to be another batch": (
        lambda x: [x[0] | {"batch": "b-18"}, *x[1:]],
        "does not belong here",
    ),
    "said to begin elsewhere": (lambda x: [x[0] | {"first": 1}, *x[1:]], "line 1 says first: 1"),
    "said to end elsewhere": (lambda x: [x[0] | {"last": 99}, *x[1:]], "line 1 says last: 99"),
    "said to follow another": (lambda x: [x[0] | {"prev": "00"}, *x[1:]], "line 1 says prev: 00"),
    "a word that no hash covers": (
        lambda x: [*x[:2], x[2] | {"seen": "yes"}, x[3]],
        "it has the keys",
    ),
}


@pytest.mark.parametrize("how", BATCH_ATTACKS)
def test_what_was_done_to_the_export_of_a_batch_is_told(path: Path, how: str) -> None:
    go, says = BATCH_ATTACKS[how]
    file = of_batch(path)
    put(file, go(lines_of(file)))
    status, told = inspected(file)
    assert (status, says in told) == (1, True), told


@pytest.mark.parametrize(
    "value",
    [
        {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001f600": 5, "\u0080": 6, "\u00f6": 7},
        ["\x00\x1f\x7f\b\t\n\f\r\"\\/", "\u2028 \u00e4 \U0001f9c2"],
        {"a": [True, False, None, 0, -1, 2**53 - 1], "A": {}, "": []},
    ],
)  # fmt: skip
def test_its_canonical_json_is_that_of_a_reference_library(value: object) -> None:
    """The keys of the first are those of RFC 8785, section 3.2.3; the library is rfc8785."""
    assert inspection.canonical(value) == rfc8785.dumps(value)  # type: ignore[arg-type]
