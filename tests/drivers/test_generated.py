"""Of formats that nobody wrote: a reading that comes out is the one that went in, or none does."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from drivers.grammar import Grammar, compile_grammar
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from drivers.sums import SUMS
from tests.drivers.formats import sent_as

Body = Callable[[int], bytes]
"""Prints a whole number of the last places as a field."""


@dataclass(frozen=True)
class Figure:
    """A way to send a figure: its regex, its tables, its print, and what it can hold."""

    regex: str
    tables: str
    top: str
    prints: Body
    least: int
    most: int
    places: int


def grouped(number: int, places: int, mark: str, point: str) -> str:
    """A figure with a mark between thousands, as a printer prints it."""
    text = f"{abs(number):0{places + 1}d}"
    whole, broken = text[: len(text) - places], text[len(text) - places :]
    parts = f"{int(whole):,}".replace(",", mark)
    return f"{'-' if number < 0 else ''}{parts}{point + broken if places else ''}"


@st.composite
def figures(draw: st.DrawFn) -> Figure:
    kind = draw(st.sampled_from(["text", "bare point", "turned", "places", "binary", "bcd"]))
    places = draw(st.integers(0, 3))
    if kind == "text":
        mark, point = draw(st.sampled_from([" .", " ,", ".,", ",.", "'.", "',"]))
        table = f'[number]\nthousands = "{mark}"\n'
        width = 14
        return Figure(
            f"(?P<value>[-+ .,'0-9]{{{width}}})", table, f'decimal = "{point}"\n',
            lambda n: grouped(n, places, mark, point).rjust(width).encode(),
            -9_999_999, 99_999_999, places,
        )  # fmt: skip
    if kind == "bare point":

        def bare(n: int) -> bytes:
            text = f"{Decimal(abs(n)).scaleb(-places):f}"
            text = text.removeprefix("0") if places else text + "."
            return (("-" if n < 0 else "") + text).rjust(12).encode()

        return Figure("(?P<value>[-. 0-9]{12})", "", "", bare, -999_999, 999_999, places)
    if kind == "turned":
        return Figure(
            "(?P<value>[-. 0-9]{12})", '[number]\norder = "low-first"\n', "",
            lambda n: f"{Decimal(n).scaleb(-places):f}".rjust(12)[::-1].encode(),
            -999_999, 999_999, places,
        )  # fmt: skip
    if kind == "places":
        return Figure(
            "(?P<value>[-0-9]{8})", f"[decimals]\nplaces = {places}\n", "",
            lambda n: f"{n:08d}".encode(), -9_999_999, 99_999_999, places,
        )  # fmt: skip
    decimals = f"[decimals]\nplaces = {places}\n"
    order = draw(st.sampled_from(["high-first", "low-first"]))
    big = "big" if order == "high-first" else "little"
    if kind == "binary":
        signed = draw(st.booleans())
        return Figure(
            "(?P<value>.{4})",
            f'[number]\ncode = "binary"\nsigned = {str(signed).lower()}\norder = "{order}"\n'
            + decimals, "",
            lambda n: n.to_bytes(4, big, signed=signed),  # type: ignore[arg-type]
            -(2**31) if signed else 0, 2**31 - 1 if signed else 2**32 - 1, places,
        )  # fmt: skip
    return Figure(
        "(?P<value>.{4})", f'[number]\ncode = "bcd"\norder = "{order}"\n' + decimals, "",
        lambda n: bytes.fromhex(f"{n:08d}")[:: 1 if order == "high-first" else -1],
        0, 99_999_999, places,
    )  # fmt: skip


@dataclass(frozen=True)
class Format:
    grammar: Grammar
    figure: Figure
    prints: Callable[[int, int, bool], bytes]
    checked: bool


RANGES = [("A", 1), ("B", 10), ("C", 100)]


@st.composite
def formats(draw: st.DrawFn) -> Format:
    """A start mark, a range with its factor, bits of the unit, a figure, perhaps a check."""
    figure = draw(figures())
    kind = draw(st.sampled_from([None, *SUMS]))
    code = draw(st.sampled_from(["hex", "binary", "decimal"]))
    order = draw(st.sampled_from(["high-first", "low-first"]))
    parity = draw(st.sampled_from([None, "even", "odd"])) if "code" not in figure.tables else None
    if parity is not None and code == "binary":
        code = "hex"
    check = b"" if kind is None else sent_as(0, SUMS[kind].bits, code, order)
    length = 2 + len(figure.prints(0)) + len(check)
    regex = f"(?P<range>[ABC])(?P<bits>[0-7]){figure.regex}"
    regex += f"(?P<checksum>.{{{len(check)}}})" if kind else ""
    text = 'name = "x"\nabout = "x"\nstart = "="\nend = "\\r"\n' + f"length = {length}\n"
    text += f"regex = '''{regex}'''\n{figure.top}" + (f'parity = "{parity}"\n' if parity else "")
    text += '[status.range]\nA = ""\nB = "times 10"\nC = "times 100"\n'
    text += '[bits.bits]\ncode = "hex"\n"0-1" = ["unit g", "unit kg", "unit lb"]\n'
    text += '2 = ["stable", "moving"]\n' + figure.tables
    if kind:
        text += f'[checksum]\nkind = "{kind}"\ncode = "{code}"\norder = "{order}"\n'

    def prints(number: int, range_: int, stable: bool) -> bytes:
        body = f"{RANGES[range_][0]}{4 * stable + range_}".encode() + figure.prints(number)
        if kind:
            body += sent_as(SUMS[kind].of(body), SUMS[kind].bits, code, order)
        frame = b"=" + body + b"\r"
        if parity:
            wanted = parity == "odd"
            frame = bytes(b if b.bit_count() % 2 == wanted else b | 0x80 for b in frame)
        return frame

    return Format(compile_grammar(text, "x.toml"), figure, prints, kind is not None or bool(parity))


def told(item: Reading) -> tuple[Decimal | None, str | None, bool | None]:
    return item.value, item.unit, item.stable


@st.composite
def streams(draw: st.DrawFn) -> tuple[Format, list[tuple[int, int, bool]], list[bytes]]:
    made = draw(formats())
    numbers = st.integers(made.figure.least, made.figure.most)
    sent = draw(
        st.lists(st.tuples(numbers, st.integers(0, 2), st.booleans()), min_size=1, max_size=5)
    )
    return made, sent, [made.prints(*each) for each in sent]


def meant(made: Format, number: int, range_: int, stable: bool) -> tuple[Decimal, str, bool]:
    value = Decimal(number).scaleb(-made.figure.places) * RANGES[range_][1]
    return value, ("g", "kg", "lb")[range_], stable


@settings(max_examples=300, deadline=None)
@given(streams(), st.integers(1, 40))
def test_what_was_sent_is_what_is_read_however_it_is_cut(
    stream: tuple[Format, list[tuple[int, int, bool]], list[bytes]], piece: int
) -> None:
    made, sent, frames = stream
    data, parser = b"".join(frames), Parser(made.grammar)
    pieces = [data[at : at + piece] for at in range(0, len(data), piece)]
    items = [item for part in pieces for item in parser.feed(part, 0.0)]
    assert not [item for item in items if isinstance(item, Fault)]
    assert [told(item) for item in items if isinstance(item, Reading)] == [
        meant(made, *each) for each in sent
    ]


@settings(max_examples=300, deadline=None, derandomize=True)
@given(streams(), st.data())
def test_a_damaged_checked_frame_is_the_one_that_went_in_or_none(
    stream: tuple[Format, list[tuple[int, int, bool]], list[bytes]], data: st.DataObject
) -> None:
    """One bit turned anywhere: with a check, or with parity, it is no other weight."""
    made, sent, frames = stream
    assume(made.checked)
    n = data.draw(st.integers(0, len(frames) - 1))
    frame = bytearray(frames[n])
    bit = data.draw(st.integers(0, 8 * len(frame) - 1))
    frame[bit // 8] ^= 1 << bit % 8
    damaged = b"".join([*frames[:n], bytes(frame), *frames[n + 1 :]])
    items = list(Parser(made.grammar).feed(damaged, 0.0))
    known = [meant(made, *each) for each in sent]
    assert all(told(item) in known for item in items if isinstance(item, Reading))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(streams(), st.data())
def test_a_frame_that_lost_or_doubled_a_byte_is_no_other_weight(
    stream: tuple[Format, list[tuple[int, int, bool]], list[bytes]], data: st.DataObject
) -> None:
    made, sent, frames = stream
    n = data.draw(st.integers(0, len(frames) - 1))
    at, times = data.draw(st.integers(0, len(frames[n]) - 1)), data.draw(st.sampled_from([0, 2]))
    damaged = frames[n][:at] + frames[n][at : at + 1] * times + frames[n][at + 1 :]
    items = list(Parser(made.grammar).feed(b"".join([*frames[:n], damaged, *frames[n + 1 :]]), 0.0))
    known = [meant(made, *each) for each in sent]
    assert all(told(item) in known for item in items if isinstance(item, Reading))
