"""The hash chain by itself: what a hash covers, and what a body may hold.

SHA-256 is FIPS 180-4, canonical JSON is RFC 8785; both references here are built by hand from the
standard library, as `ledger/chain.py` describes the chain.
"""

import hashlib
import json
from typing import Any

import msgspec
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from station.ledger.chain import (
    BodyError,
    canonical_body,
    event_hash,
    first_prev,
    head_text,
    is_canonical,
)

AT = "2026-11-30T10:00:00.000Z"
GOOD: dict[str, Any] = {"prev": bytes(32), "seq": 7, "at": AT, "batch": "b-1", "kind": "note",
                        "body": {"text": "soft", "who": "Ansel"}}  # fmt: skip


def hashed(event: dict[str, Any]) -> bytes:
    """The hash of an event whose body is given as values."""
    return event_hash(**{**event, "body": canonical_body(event["body"])})


def test_the_first_prev_is_the_hash_of_the_ledgers_id() -> None:
    """FIPS 180-4 example: SHA-256 of "abc" (from memory, computed)."""
    assert first_prev(b"abc").hex() == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_an_events_hash_is_over_the_one_before_it_and_its_canonical_array() -> None:
    text = f'[7,"{AT}","b-1","note",{{"text":"soft","who":"Ansel"}}]'
    assert hashed(GOOD) == hashlib.sha256(bytes(32) + text.encode()).digest()


@pytest.mark.parametrize(
    "other",
    [{"prev": b"\1" + bytes(31)}, {"seq": 8}, {"at": "2026-11-30T10:00:00.001Z"}, {"batch": None},
     {"batch": "b-2"}, {"kind": "void"}, {"body": {"text": "soft", "who": "Brida"}},
     {"body": {"text": "soft"}}],
)  # fmt: skip
def test_a_change_of_any_part_changes_the_hash(other: dict[str, Any]) -> None:
    assert hashed({**GOOD, **other}) != hashed(GOOD)


def test_the_order_in_which_a_body_was_written_does_not() -> None:
    turned = {"who": "Ansel", "text": "soft"}
    assert hashed({**GOOD, "body": turned}) == hashed(GOOD)
    assert canonical_body(turned) == '{"text":"soft","who":"Ansel"}'


def test_a_head_is_printed_as_four_groups_of_four_digits() -> None:
    assert head_text(bytes(range(32))) == "0001 0203 0405 0607"


@pytest.mark.parametrize(
    "value",
    ["", "9.50", True, False, None, 0, -1, 2**53 - 1, -(2**53 - 1), [], [1, ["a", None]], {},
     {"a": {"b": [True]}}],
)  # fmt: skip
def test_text_truth_nothing_small_integers_lists_and_objects_are_for_the_ledger(
    value: Any,
) -> None:
    body = {"it": value}
    assert canonical_body(body)
    assert hashed({**GOOD, "body": body})


BAD: list[Any] = [
    0.5,
    float("nan"),
    2**53,  # the first integer that a double does not tell from its neighbour (RFC 8785)
    -(2**53),
    2**64,
    b"bytes",
    ("a", "tuple"),
    {"a set"},
    {1: "a key that is no text"},
]


@pytest.mark.parametrize("value", BAD, ids=repr)
@pytest.mark.parametrize("where", ["top", "list", "object", "deep"])
def test_whatever_would_not_come_back_as_it_was_is_refused_wherever_it_is(
    value: Any, where: str
) -> None:
    body = {
        "top": {"it": value},
        "list": {"it": ["fine", value]},
        "object": {"it": {"in": value}},
        "deep": {"it": [{"in": [value]}]},
    }[where]
    with pytest.raises(BodyError):
        canonical_body(body)


def test_a_refusal_names_what_was_found() -> None:
    with pytest.raises(BodyError, match=r"float is not for the ledger: 0\.5"):
        canonical_body({"net_g": 0.5})
    with pytest.raises(BodyError, match="too large for an integer of the ledger: 9007199254740992"):
        canonical_body({"seq": 2**53})
    with pytest.raises(BodyError, match="a key that is no text: 1"):
        canonical_body({1: "x"})  # type: ignore[dict-item]


def the_slow_way(text: str) -> bool:
    """By rfc8785 alone, a reference; what it refuses is not canonical."""
    try:
        return canonical_body(msgspec.json.decode(text)) == text
    except (ValueError, BodyError):
        return False


def quickly(text: str) -> bool:
    try:
        return is_canonical(msgspec.json.decode(text), text)
    except (ValueError, BodyError):
        return False


TEXTS = [
    "{}",
    '{"a":1,"b":[true,false,null,-1]}', '{"b":1,"a":2}', '{"a": 1}', '{"a":1}\n', '{"a":-0}',
    '{"a":01}', '{"a":1.5}', '{"a":[1,-2.5]}', '{"a":1e3}', '{"a":1E3}', '{"a":10e22}',
    "1.5", "[0.5]",
    '{"a":9007199254740991}', '{"a":9007199254740992}', '{"a":-9007199254740992}',
    "9007199254740992",
    '{"a":[1,9007199254740993]}', '{"a":12345678901234567890}', '{"a":"9007199254740992"}',
    '{"a":"x:1.5","b":"216.40"}', '{"a":"\\u00e9"}', '{"a":"\u00e9"}', '{"a":"\\/"}', '{"a":"/"}',
    '{"a":"\\u001F"}', '{"a":"\\u001f"}', '{"a":"\\u000a"}', '{"a":"\\n"}', '{"a":1,"a":1}',
    '{"\ufb33":1,"\U0001f600":2}', '{"\U0001f600":2,"\ufb33":1}', '{"\u00f6":1,"\u20ac":2}',
    '{"\u20ac":2,"\u00f6":1}', '{"\U0001f600":1}', '{"":0}', "null", '""', "[]",
]  # fmt: skip


@pytest.mark.parametrize("text", TEXTS)
def test_the_quick_way_says_what_the_reference_says(text: str) -> None:
    """Key orders of RFC 8785, section 3.2.3; an escape that it does not write; other numbers."""
    assert quickly(text) == the_slow_way(text)


BODIES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**60), 2**60)
    | st.text()
    | st.floats(allow_nan=False),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=12,
)


@given(BODIES, st.booleans(), st.booleans())
def test_the_quick_way_says_so_of_any_body_however_it_was_written(
    body: Any, ascii_only: bool, blanks: bool
) -> None:
    written = json.dumps(body, ensure_ascii=ascii_only, separators=None if blanks else (",", ":"))
    for text in {
        written,
        json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":")),
    }:
        try:
            msgspec.json.decode(text)
        except ValueError:
            continue
        assert quickly(text) == the_slow_way(text)


def test_every_sign_stands_in_the_hash_as_the_reference_writes_it() -> None:
    signs = "".join(chr(code) for code in range(0x110000) if not 0xD800 <= code < 0xE000)
    for at in range(0, len(signs), 4096):
        batch, body = signs[at : at + 4096], canonical_body({"text": signs[at : at + 4096]})
        told = rfc8785.dumps([1, AT, batch, "noted"])[:-1] + b"," + body.encode() + b"]"
        expected = hashlib.sha256(bytes(32) + told).digest()
        assert event_hash(bytes(32), 1, AT, batch, "noted", body) == expected
        assert is_canonical({"text": signs[at : at + 4096]}, body)


@pytest.mark.parametrize("text", ['{"b":1,"a":"\U0001f600"}', '{"a":"\U0001f600","c":1,"b":2}'])
def test_keys_out_of_their_order_are_told_the_slow_way_too(text: str) -> None:
    """RFC 8785, section 3.2.3: sorted; as text what is canonical comes before what is not."""
    body = msgspec.json.decode(text)
    assert canonical_body(body) < text
    assert not is_canonical(body, text)
