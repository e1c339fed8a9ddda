"""Every shipped grammar against its capture; bad bytes never become a reading."""

import random
import tracemalloc
from itertools import pairwise
from pathlib import Path

import pytest

from drivers.grammar import Grammar, GrammarError, compile_grammar
from drivers.reading import Fault, Reading
from drivers.recording import read_capture
from station.resources import packaged

CAPTURES = Path(__file__).parents[1] / "captures"
NAMES = sorted(path.stem for path in (packaged() / "scales").glob("*.toml"))


def grammar(name: str) -> Grammar:
    path = packaged() / "scales" / f"{name}.toml"
    return compile_grammar(path.read_text(encoding="utf-8"), path.name)


def frames(name: str) -> list[bytes]:
    text = (CAPTURES / f"{name}.capture").read_text(encoding="utf-8")
    return [chunk.data for chunk in read_capture(text.splitlines()).chunks]


def expected(name: str) -> list[str]:
    return (CAPTURES / f"{name}.expected").read_text(encoding="utf-8").splitlines()


def readings(name: str, chunks: list[bytes]) -> list[str]:
    """What the parser yields for the chunks, faults left out, as lines of the expected file."""
    parser = grammar(name).parser()
    found = [item for chunk in chunks for item in parser.feed(chunk, 1.0)]
    return [line_of(item) for item in found if isinstance(item, Reading)]


def line_of(reading: Reading) -> str:
    value = "-" if reading.value is None else str(reading.value)
    stable = {True: "stable", False: "moving", None: "-"}[reading.stable]
    return f"{value} {reading.unit} {reading.kind} {stable} {reading.condition}"


@pytest.mark.parametrize("name", NAMES)
def test_a_capture_yields_what_it_must_however_it_is_cut(name: str) -> None:
    sent = frames(name)
    whole = b"".join(sent)
    assert readings(name, sent) == expected(name)
    assert readings(name, [whole]) == expected(name)
    assert readings(name, [bytes([byte]) for byte in whole]) == expected(name)


@pytest.mark.parametrize("name", NAMES)
def test_junk_before_between_and_after_costs_no_good_frame(name: str) -> None:
    found = grammar(name)
    junk = b"\x00\xff?junk" + found.end
    dirty = junk + junk.join(frames(name)) + junk
    assert readings(name, [dirty]) == expected(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_frame_that_lost_a_byte_is_never_a_reading(name: str) -> None:
    for frame in frames(name):
        for cut in range(1, len(frame) - 1):
            assert readings(name, [frame[:cut] + frame[cut + 1 :]]) == []


def test_one_flipped_bit_never_passes_a_checksum() -> None:
    for frame, line in zip(frames("stx-etx-xor"), expected("stx-etx-xor"), strict=True):
        for bit in range(len(frame) * 8):
            bad = bytearray(frame)
            bad[bit // 8] ^= 1 << bit % 8
            assert readings("stx-etx-xor", [bytes(bad)]) in ([], [line])


@pytest.mark.parametrize("name", NAMES)
def test_a_megabyte_of_noise_yields_nothing_and_costs_little(name: str) -> None:
    noise = random.Random(7).randbytes(1_000_000)
    parser = grammar(name).parser()
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    read = sum(isinstance(item, Reading) for item in parser.feed(noise, 1.0))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert read == 0
    assert peak - before < 5_000_000
    assert readings(name, [noise, grammar(name).end, *frames(name)])[-1] == expected(name)[-1]


def test_bytes_without_an_end_become_faults_and_never_pile_up() -> None:
    parser = grammar("sma-scp-0499").parser()
    faults = [item for _ in range(100) for item in parser.feed(b"x" * 100, 1.0)]
    faults += parser.feed(b"x" * 10_000, 1.0)
    assert len(faults) > 50
    assert all(isinstance(fault, Fault) and len(fault.raw) <= 128 for fault in faults)


def test_a_decimal_comma_is_read_as_one_and_a_point_then_is_no_number() -> None:
    text = 'name = "c"\nabout = "x"\nend = "\\n"\nunit = "g"\ndecimal = ","\n'
    text += "regex = '(?P<value>[-+0-9.,]+)'\n"
    parser = compile_grammar(text, "c.toml").parser()
    first, second = parser.feed(b"1,5\n1.5\n", 0.0)
    assert isinstance(first, Reading) and str(first.value) == "1.5"
    assert isinstance(second, Fault)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("end = ", "ende = "), "ende"),
        (("(?P<value>", "(?P<wert>"), "value"),
        (('"O" = "overload"', '"O" = "overlaod"'), "overlaod"),
        (("(?P<status>", "(?P<state>"), "status"),
        (("[ZOUEIT ]", "[ZOUEIT "), "regex"),
        (('end = "\\r"', 'end = ""'), "end mark"),
        (('bits = "8N1"', 'bits = "9N1"'), "9N1"),
    ],
)
def test_a_wrong_grammar_says_what_is_wrong(change: tuple[str, str], says: str) -> None:
    text = (packaged() / "scales" / "sma-scp-0499.toml").read_text(encoding="utf-8")
    assert change[0] in text
    with pytest.raises(GrammarError, match=r"sma\.toml: ") as caught:
        compile_grammar(text.replace(*change), "sma.toml")
    assert says in str(caught.value)


def test_readings_keep_every_digit_as_sent() -> None:
    texts = [line.split()[0] for line in expected("sma-scp-0499")]
    assert "216.405" in texts and "216.40" in texts
    assert all(a != b for a, b in pairwise(texts) if a != "-")
