"""Every shipped text grammar against its capture, in every way a line can deliver it."""

import random
import time
import tracemalloc
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.grammar import Grammar, compile_grammar
from drivers.kinds import load_any
from drivers.kinds.text import TextInstrument, TextKind
from drivers.measured import Measured, MeasuringParser
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from drivers.recording import read_capture
from station.resources import packaged

CAPTURES = Path(__file__).parents[1] / "captures"
FILES = sorted((packaged() / "scales").glob("*.toml"))
KINDS = [load_any(path.read_text(encoding="utf-8"), path.name) for path in FILES]
GRAMMARS = {
    kind.name: kind.grammar for kind in KINDS if isinstance(kind, (TextKind, TextInstrument))
}
CHECKED = sorted(name for name, grammar in GRAMMARS.items() if grammar.checksum is not None)
UNCHECKED = sorted(set(GRAMMARS) - set(CHECKED))


def frames(name: str) -> list[bytes]:
    text = (CAPTURES / f"{name}.capture").read_text(encoding="utf-8")
    return [chunk.data for chunk in read_capture(text.splitlines()).chunks]


def expected(name: str) -> list[str]:
    return (CAPTURES / f"{name}.expected").read_text(encoding="utf-8").splitlines()


def parser_of(grammar: Grammar) -> Parser | MeasuringParser:
    return Parser(grammar) if grammar.measures == "weight" else MeasuringParser(grammar)


def line_of(reading: Reading | Measured) -> str:
    """As the file beside the capture says it."""
    value = "-" if reading.value is None else str(reading.value)
    stable = {True: "stable", False: "moving", None: "-"}[reading.stable]
    if isinstance(reading, Measured):
        return f"{reading.quantity} {value} {reading.unit} {stable} {reading.condition}"
    tare = "" if reading.tare is None else f" tare {reading.tare}"
    return f"{value} {reading.unit} {reading.kind} {stable} {reading.condition}{tare}"


def read(grammar: Grammar, chunks: list[bytes]) -> list[str]:
    parser = parser_of(grammar)
    found = [item for chunk in chunks for item in parser.feed(chunk, 1.0)]
    return [line_of(item) for item in found if not isinstance(item, Fault)]


def ended(name: str, sent: list[bytes]) -> list[bytes]:
    """What shows that the last frame is whole, where only the next one does."""
    grammar = GRAMMARS[name]
    return sent if grammar.end else [*sent, grammar.start or b"\r"]


def garbled(sent: list[bytes]) -> list[bytes]:
    """The same bytes at another speed: other bytes, and more of them."""
    return [bytes(byte * 167 % 251 | 0x80 for byte in frame) * 2 for frame in sent]


WAYS: dict[str, Callable[[list[bytes]], list[bytes]]] = {
    "frame by frame": lambda sent: sent,
    "whole": lambda sent: [b"".join(sent)],
    "byte by byte": lambda sent: [bytes([byte]) for byte in b"".join(sent)],
    "in pieces of seven": lambda sent: [
        b"".join(sent)[at : at + 7] for at in range(0, len(b"".join(sent)), 7)
    ],
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", sorted(GRAMMARS))
def test_a_capture_yields_what_it_must_however_it_is_cut(name: str, way: str) -> None:
    assert read(GRAMMARS[name], WAYS[way](ended(name, frames(name)))) == expected(name)


@pytest.mark.parametrize("name", sorted(GRAMMARS))
def test_junk_before_between_and_after_costs_no_good_frame(name: str) -> None:
    junk = b"\x00\xff?junk" + GRAMMARS[name].end
    dirty = junk + junk.join(frames(name)) + junk
    assert read(GRAMMARS[name], ended(name, [dirty])) == expected(name)


@pytest.mark.parametrize("name", sorted(GRAMMARS))
def test_another_speed_is_noise_and_noise_is_no_reading(name: str) -> None:
    assert read(GRAMMARS[name], garbled(frames(name))) == []


@pytest.mark.parametrize("name", sorted(GRAMMARS))
def test_a_frame_that_lost_a_byte_is_never_a_reading(name: str) -> None:
    for frame in frames(name):
        for cut in range(1, len(frame) - 1):
            assert read(GRAMMARS[name], [frame[:cut] + frame[cut + 1 :]]) == []


def flipped(frame: bytes) -> Iterator[bytes]:
    """The frame with one bit turned, each in its turn."""
    for bit in range(len(frame) * 8):
        bad = bytearray(frame)
        bad[bit // 8] ^= 1 << bit % 8
        yield bytes(bad)


@pytest.mark.parametrize("name", CHECKED)
def test_one_flipped_bit_is_never_a_wrong_reading_where_there_is_a_checksum(name: str) -> None:
    known = set(expected(name))
    for frame in frames(name):
        for bad in flipped(frame):
            assert set(read(GRAMMARS[name], [bad])) <= known, bad


@pytest.mark.parametrize("name", UNCHECKED)
def test_one_flipped_bit_without_a_checksum_changes_one_digit_or_one_word_of_a_weight(
    name: str,
) -> None:
    """No such grammar can tell one digit from another. But one bit never makes two readings of a
    frame, never changes two things of a weight, never moves its point, and moves its number by 1,
    2, 4 or 8 in one place: so are ASCII digits made."""
    units = (1, 16) if "pounds" in GRAMMARS[name].pattern.groupindex else (1,)
    for frame in frames(name):
        (meant,) = said(name, frame) or (None,)
        for bad in flipped(frame):
            found = said(name, bad)
            assert len(found) <= 1, bad
            if meant is None or meant.value is None or not found or found[0].value is None:
                continue
            (told,) = found
            moved = abs(told.value - meant.value)
            steps = {(moved / unit).normalize().as_tuple().digits for unit in units}
            assert not moved or steps & {(1,), (2,), (4,), (8,)}, bad
            words = [getattr(told, key, "") == getattr(meant, key, "") for key in WORDS]
            assert words.count(False) + bool(moved) <= 1, bad


WORDS = "unit", "kind", "stable", "condition"


def said(name: str, frame: bytes) -> list[Reading | Measured]:
    """The readings of one frame."""
    parser = parser_of(GRAMMARS[name])
    items = [item for chunk in ended(name, [frame]) for item in parser.feed(chunk, 1.0)]
    return [item for item in items if not isinstance(item, Fault)]


@pytest.mark.parametrize("name", sorted(GRAMMARS))
def test_a_megabyte_of_noise_yields_nothing_in_bounded_memory_and_time(name: str) -> None:
    noise = random.Random(7).randbytes(1_000_000)
    parser = parser_of(GRAMMARS[name])
    tracemalloc.start()
    before, begin = tracemalloc.get_traced_memory()[0], time.perf_counter()
    readings = sum(
        not isinstance(item, Fault)
        for at in range(0, len(noise), 4096)  # as a port hands them over
        for item in parser.feed(noise[at : at + 4096], 1.0)
    )
    took = time.perf_counter() - begin
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert readings == 0
    assert peak - before < 1_000_000
    assert took < 30  # bounded, not timed: a second or two as a rule
    sent = [noise[:64] + GRAMMARS[name].end, *ended(name, frames(name))]
    assert read(GRAMMARS[name], sent)[-1] == expected(name)[-1]


def test_every_text_grammar_has_a_capture_and_every_capture_a_grammar() -> None:
    captures = {path.stem for path in CAPTURES.glob("*.capture")}
    assert captures == set(GRAMMARS)


# whatever a printer prints, the parser reads back


@st.composite
def formats(draw: st.DrawFn) -> tuple[Grammar, Callable[[Decimal, bool, str], bytes]]:
    """A grammar that nobody wrote, and its printer."""
    start = draw(st.sampled_from(["", "\x02", "#", "@@"]))
    end = draw(st.sampled_from(["\r\n", "\n", "\r", "\x03"]))
    width = draw(st.integers(7, 10))
    comma = draw(st.booleans())
    places = draw(st.sampled_from([None, 0, 2, 3]))
    check = draw(st.sampled_from([None, "xor", "sum", "complement"]))
    stable = draw(st.sampled_from(["letter", "bit", "mark"]))
    zeros = draw(st.booleans())
    told = {"letter": "(?P<s>[SM])", "bit": "(?P<s>[0-9A-F]{2})", "mark": "(?P<s>[* ])"}[stable]
    tables = {
        "letter": '[status.s]\nS = "stable"\nM = "moving"\n',
        "bit": '[bits.s]\ncode = "hex"\n3 = ["stable", "moving"]\n',
        "mark": '[status.s]\n"*" = "stable"\n" " = "moving"\n',
    }[stable]
    digits = "[ 0-9]" if places is not None else "[ 0-9.,]"
    regex = f"{told};(?P<value>[-+ ]{digits}{{{width}}})(?P<unit>kg|g |lb)"
    regex += "(?P<checksum>[0-9A-F]{2})" if check else ""
    text = f"name = 'x'\nabout = 'x'\nstart = {_toml(start)}\nend = {_toml(end)}\n"
    text += f"regex = '{regex}'\n" + ('decimal = ","\n' if comma else "")
    text += f"[decimals]\nplaces = {places}\n" if places is not None else ""
    text += (f'[checksum]\nkind = "{check}"\n' if check else "") + tables
    grammar = compile_grammar(text, "x.toml")

    def printer(value: Decimal, is_stable: bool, unit: str) -> bytes:
        if places is not None:
            number = f"{abs(value).scaleb(places):.0f}"
        else:
            number = f"{abs(value):f}".replace(".", "," if comma else ".")
        number = number.rjust(width, "0" if zeros else " ")
        words = {"letter": "SM", "bit": ("08", "00"), "mark": "* "}[stable]
        sign = "-" if value < 0 else " "
        body = f"{words[0] if is_stable else words[1]};{sign}{number}{unit:<2}".encode()
        if check:
            total = 0
            for byte in body:
                total = total ^ byte if check == "xor" else total + byte
            body += b"%02X" % ((-total if check == "complement" else total) & 0xFF)
        return start.encode() + body + end.encode()

    return grammar, printer


def _toml(text: str) -> str:
    return '"' + "".join(f"\\u{ord(sign):04x}" for sign in text) + '"'


@settings(max_examples=150, deadline=None)
@given(
    formats(),
    st.lists(
        st.tuples(st.integers(-99_999, 99_999), st.booleans(), st.sampled_from(["kg", "g", "lb"])),
        min_size=1,
        max_size=5,
    ),
    st.integers(1, 9),
)
def test_whatever_the_printer_prints_the_parser_reads_back(
    made: tuple[Grammar, Callable[[Decimal, bool, str], bytes]],
    weights: list[tuple[int, bool, str]],
    piece: int,
) -> None:
    grammar, printer = made
    places = grammar.decimals.places if grammar.decimals and grammar.decimals.places else 0
    if grammar.decimals is None:
        places = 2
    sent = [(Decimal(n).scaleb(-places), stable, unit) for n, stable, unit in weights]
    data = b"".join(printer(*weight) for weight in sent)
    parser = Parser(grammar)
    items = [
        item
        for at in range(0, len(data), piece)
        for item in parser.feed(data[at : at + piece], 0.0)
    ]
    assert not [item for item in items if isinstance(item, Fault)]
    found = [(item.value, item.stable, item.unit) for item in items if isinstance(item, Reading)]
    assert found == sent
    assert [str(value) for value, _, _ in found] == [str(value) for value, _, _ in sent]
