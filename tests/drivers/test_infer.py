"""From recordings of a scale that nobody described: its file reads what was shown, or none does."""

import os
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.grammar import Grammar, compile_grammar
from drivers.identify import without_parity
from drivers.infer.cutting import Heard, Step, Unclear
from drivers.infer.describe import Described, PortLine, described, read_somewhere
from drivers.parser import Parser
from drivers.reading import Kind, Reading
from drivers.sums import SUMS
from tests.drivers.formats import sent_as
from tests.drivers.unknown import INVENTED, Prints, State, recorded

GROSS = "it is the gross weight"


def told(grammar: Grammar, frame: bytes) -> Reading | None:
    """What a grammar reads of one frame, among others like it."""
    data = without_parity(frame * 3)[0]
    items = [item for item in Parser(grammar).feed(data, 0.0) if isinstance(item, Reading)]
    return items[-1] if items else None


def wrong(found: Described, meant: dict[Step, list[tuple[State, bytes]]]) -> list[bytes]:
    """Frames of its recordings that are read as a weight that they do not say."""
    grammar = compile_grammar(found.text, "x.toml")
    bad = []
    stays = any(GROSS in said for said in found.says)
    for frames in meant.values():
        for state, frame in {frame: (state, frame) for state, frame in frames}.values():
            item = told(grammar, frame)
            if item is None or item.value is None:
                continue
            said = [state.gross] if stays else [state.net]
            untold = state.over and not any("read as an overload" in each for each in found.says)
            if item.value not in said or (state.over and not untold):
                bad.append(frame)
            if item.gross is not None and item.kind is Kind.NET and item.gross != state.gross:
                bad.append(frame)
            if item.stable and state.moving:
                bad.append(frame)
    return bad


@pytest.mark.parametrize("name", INVENTED)
def test_an_invented_format_is_worked_out_from_six_recordings(name: str) -> None:
    heard, meant = recorded(INVENTED[name])
    unit = "kg" if b"kg" in INVENTED[name](State(Decimal(1)), 0).translate(SEVEN) else "g"
    found = described("new", heard, unit, PortLine(9600))
    grammar = compile_grammar(found.text, "x.toml")
    assert wrong(found, meant) == []
    for step in ("empty", "known", "move", "tared", "lifted"):
        for _, frame in meant[step]:  # type: ignore[index]
            item = told(grammar, frame)
            assert item is not None and item.unit in (unit, None if item.stable is False else unit)
            assert item.value is not None


SEVEN = bytes(byte & 0x7F for byte in range(256))


def test_what_the_words_of_a_format_mean_is_written_with_its_reasons() -> None:
    heard, _ = recorded(INVENTED["words between bars"])
    found = described("mine", heard, "g", PortLine(4800))
    assert (
        found.text
        == """\
# a frame ends with CR LF; between them are 18 columns, in every frame
# columns 7 to 16 read as the display shows it, in every step (v)
# column 1 (m) changed with what was done: stable, overload, moving
# column 4 (k) changed with what was done: gross, net
# too much on it is read as an overload
name = "mine"
about = "Worked out from what it sent"
end = "\\r\\n"
columns = "mm|kk|vvvvvvv.vv u"
units = ["g"]

[line]
baud = 4800
bits = "8N1"

[status.m]
"ST" = "stable"
"OL" = "overload"
"US" = "moving"

[status.k]
"GS" = "gross"
"NT" = "net"
"""
    )


def test_a_gross_figure_is_preferred_and_a_tare_beside_a_net_one_is_read() -> None:
    heard, _ = recorded(INVENTED["gross tare net"])
    found = described("x", heard, "g", PortLine(9600))
    assert "Gvvvvv.vv T" in found.text
    assert not [said for said in found.says if "tare key:" in said]
    heard, _ = recorded(INVENTED["net, tare, decimal sum"])
    text = described("x", heard, "g", PortLine(9600)).text
    assert 'kind = "net"' in text and ";ttttt.tt;ccc" in text


def test_bits_that_never_changed_must_stay() -> None:
    heard, _ = recorded(INVENTED["bits"])
    grammar = compile_grammar(described("x", heard, "g", PortLine(9600)).text, "x.toml")
    for flags, value in ((0x40, True), (0x43, True), (0x50, False), (0x00, False), (0xC0, False)):
        (item,) = Parser(grammar).feed(b"\x02" + bytes([flags]) + b"    12.50 g\r", 0.0)
        assert isinstance(item, Reading) and (item.value is not None) == value, flags


def test_a_scale_that_is_asked_has_its_question_in_the_file() -> None:
    heard, _ = recorded(INVENTED["words between bars"])
    grammar = compile_grammar(described("x", heard, "g", PortLine(9600, b"\x05")).text, "x.toml")
    assert grammar.poll is not None and grammar.poll.send == "\x05"


# what cannot be worked out


@pytest.mark.parametrize("step", ["empty", "move", "over", "tared", "lifted"])
def test_a_step_that_was_skipped_is_said_with_what_it_would_have_shown(step: Step) -> None:
    heard, _ = recorded(INVENTED["words between bars"], skip=(step,))
    says = described("x", heard, "g", PortLine(9600)).says
    assert len([said for said in says if "was not recorded" in said]) == 1


def unclear(prints: Prints, unit: str = "g", skip: tuple[Step, ...] = ()) -> str:
    with pytest.raises(Unclear) as caught:
        described("x", recorded(prints, skip=skip)[0], unit, PortLine(9600))
    return str(caught.value)


def test_frames_as_long_as_their_number_are_left_to_a_regex() -> None:
    assert "needs a regex" in unclear(lambda s, n: f"ST{s.net}g\r\n".encode())


def test_a_number_that_the_display_does_not_show_is_no_weight() -> None:
    says = unclear(lambda s, n: f"{s.net * 2 + 1:9.2f} g\r\n".encode())
    assert "no place in the frame reads 216.40" in says


def test_without_the_tare_key_gross_and_net_side_by_side_are_not_told_apart() -> None:
    says = unclear(INVENTED["gross tare net"], skip=("tared", "lifted"))
    assert "several places (columns 2 to 9 and 22 to 29)" in says


def test_a_digit_that_tells_motion_right_beside_the_number_is_not_taken_for_it() -> None:
    """1000 g more while it moves, and a tenth of a division: neither may be read."""
    front: Prints = lambda s, n: f"{int(s.moving)}{abs(s.net):07.2f} g\r\n".encode()  # noqa: E731
    heard, meant = recorded(front, skip=("lifted", "tared"))
    try:
        assert wrong(described("x", heard, "g", PortLine(9600)), meant) == []
    except Unclear:
        pass  # as well: no weight at all
    behind: Prints = lambda s, n: f"{s.net:8.2f}{int(s.moving)} g\r\n".encode()  # noqa: E731
    assert "no place" in unclear(behind)


def test_an_unsteady_display_is_no_known_load() -> None:
    heard, _ = recorded(INVENTED["words between bars"])
    heard["known"] = heard["move"].__class__(heard["move"].chunks[:12], Decimal("216.40"))
    with pytest.raises(Unclear, match="wait until it stands still"):
        described("x", heard, "g", PortLine(9600))


def test_nothing_and_too_little_are_told() -> None:
    heard, _ = recorded(INVENTED["words between bars"])
    with pytest.raises(Unclear, match="nothing arrived"):
        described("x", {"known": Heard((b"",), Decimal("216.40"))}, "g", PortLine(9600))
    few = {**heard, "empty": Heard(heard["empty"].chunks[:3], Decimal(0))}
    with pytest.raises(Unclear, match="only 2 frames arrived"):
        described("x", few, "g", PortLine(9600))
    with pytest.raises(Unclear, match="no load was recorded"):
        described(
            "x", {**heard, "known": Heard(heard["known"].chunks, Decimal(0))}, "g", PortLine(9600)
        )


# formats that nobody thought of

Part = Callable[[State, int], str]


@st.composite
def prints(draw: st.DrawFn) -> Prints:
    """A frame of parts in any order, with or without a check, between any marks."""
    width = draw(st.integers(8, 10))
    mark, zero = draw(st.sampled_from(".,")), draw(st.booleans())
    style = draw(st.sampled_from(["point", "no point", "sign apart", "sign behind", "backwards"]))
    which = draw(st.sampled_from(["net", "net", "gross", "both"]))
    dashes = draw(st.booleans())

    def number(value: Decimal) -> str:
        plain = f"{abs(value):.2f}".replace(".", "" if style == "no point" else mark)
        sign = "-" if value < 0 else draw_plus
        if style == "sign behind":
            return plain.rjust(width, "0" if zero else " ") + ("-" if value < 0 else " ")
        if style == "backwards":
            return (sign + plain.rjust(width, "0")).rjust(width + 1)[::-1]
        if zero or style == "sign apart":
            return sign + plain.rjust(width, "0" if zero else " ")
        return (sign.strip() + plain).rjust(width + 1)

    draw_plus = draw(st.sampled_from(" +"))
    words = draw(
        st.sampled_from([("S", "M", "O"), ("ST", "US", "OL"), ("0", "1", "3"), ("@", "A", "D")])
    )
    parts: list[Part] = [lambda s, n: words[2] if s.over else words[1] if s.moving else words[0]]
    figure = (lambda s: s.gross) if which == "gross" else (lambda s: s.net)
    dash = "-" * len(number(Decimal(1)))
    parts.append(lambda s, n: dash if s.over and dashes else number(figure(s)))
    if which == "both":
        parts.append(lambda s, n: number(s.gross))
    if draw(st.booleans()):
        parts.append(lambda s, n: "N" if s.tared else "G")
    if draw(st.booleans()):
        parts.append(lambda s, n: f"{n % 100:02d}")
    if draw(st.booleans()):
        parts.append(lambda s, n: "*" if s.net == 0 else " ")
    units: list[Part] = [lambda s, n: " g", lambda s, n: "g", lambda s, n: "",
                         lambda s, n: "  " if s.moving else " g"]  # fmt: skip
    parts.append(draw(st.sampled_from(units)))
    parts = draw(st.permutations(parts))
    between = draw(st.sampled_from(["", " ", ",", "", ";"]))
    start, end = draw(st.sampled_from([
        (b"", b"\r\n"), (b"\x02", b"\x03"), (b"\n", b"\r"), (b"", b"\n"), (b"=", b""), (b"", b"\r"),
    ]))  # fmt: skip
    kind = draw(st.sampled_from([None, None, "xor", "sum", "crc16-modbus"]))

    def frame(state: State, n: int) -> bytes:
        body = between.join(part(state, n) for part in parts).encode()
        if kind is not None:
            found = SUMS[kind]
            body += sent_as(found.of(body), found.bits, "hex", "high-first")
        return start + body + end

    return frame


LATER = [
    State(Decimal(gross), Decimal(tare), moving)
    for gross in ("0.02", "351.20", "1204.35", "65432.10")
    for tare in ("0.00", "86.90")
    for moving in (False, True)
]
"""Loads that nobody recorded."""


@settings(max_examples=int(os.environ.get("STATION_INFER", "40")), deadline=None, derandomize=True)
@given(prints(), st.integers(0, 10**6), st.integers(1000, 99_999))
def test_no_file_that_is_worked_out_reads_a_wrong_weight_from_recordings_or_later(
    made: Prints, seed: int, load: int
) -> None:
    heard, meant = recorded(made, f"{Decimal(load).scaleb(-2):f}", seed=seed)
    try:
        found = described("x", heard, "g", PortLine(9600))
    except Unclear:
        return
    assert wrong(found, meant) == [], found.text
    later = [(state, made(state, n + 3)) for n, state in enumerate(LATER)]
    assert wrong(found, {"move": later}) == [], found.text


def no_point(state: State, n: int) -> bytes:
    """A letter, six digits and no point, so many hundredths."""
    return b"%s%06d g\r" % (b"M" if state.moving else b"S", int(abs(state.gross) * 100))


@pytest.mark.parametrize("empty", ["0.000", "0.0"])
def test_a_display_of_two_ranges_is_refused_where_no_point_is_sent(empty: str) -> None:
    """0.000 with nothing on it and 216.40 with the load: the digits alone do not tell which."""
    heard, _ = recorded(no_point, skip=("over", "tared", "lifted"))
    heard["empty"] = replace(heard["empty"], shows=Decimal(empty))
    with pytest.raises(Unclear, match="decimals, and no point is sent"):
        described("two", heard, "g", PortLine(9600))


def test_a_bare_nought_and_the_same_decimals_are_one_range() -> None:
    for empty in ("0", "0.00"):
        heard, meant = recorded(no_point, skip=("over", "tared", "lifted"))
        heard["empty"] = replace(heard["empty"], shows=Decimal(empty))
        assert wrong(described("one", heard, "g", PortLine(9600)), meant) == []


def changes_its_unit(state: State, n: int) -> bytes:
    """In grams below a kilogram: behind the number the other unit stands then."""
    mark = ">" if state.moving else " "
    if abs(state.net) < 1:
        return f"{mark}{state.net * 1000:8.0f} g \r\n".encode()
    return f"{mark}{state.net:8.3f} kg\r\n".encode()


@pytest.mark.parametrize("skip", [("tared", "lifted"), ("empty", "tared", "lifted")])
def test_a_display_that_changes_its_unit_gets_no_file(skip: tuple[Step, ...]) -> None:
    """Left alone, the other unit was taken for a mark: 4 g would have been 4 kg."""
    heard, _ = recorded(changes_its_unit, "4.380", skip=skip)
    with pytest.raises(Unclear):
        described("mine", heard, "kg", PortLine(9600))


def test_a_unit_that_changes_while_it_moves_is_named() -> None:
    heard, _ = recorded(changes_its_unit, "4.380", skip=("empty", "over", "tared", "lifted"))
    with pytest.raises(Unclear, match="it sends 'g' and 'kg': its display changes its unit"):
        described("mine", heard, "kg", PortLine(9600))


def test_frames_of_another_length_are_counted_where_too_few_arrived() -> None:
    def longer(state: State, n: int) -> bytes:
        return f"W{state.net:+09.2f} g\r\n".encode()

    heard, _ = recorded(longer, "16.40", skip=("over",))
    heard = {**heard, "lifted": Heard(tuple(b"W-000016.40 g\r\n" for _ in range(5)), Decimal(-1))}
    with pytest.raises(Unclear, match="only 0 frames arrived in the step 'lifted', and 4 of anoth"):
        described("mine", heard, "g", PortLine(9600))


def test_a_step_is_compared_with_those_before_and_alone() -> None:
    heard, _ = recorded(changes_its_unit, "4.380")
    assert read_somewhere({"known": heard["known"]})
    assert not read_somewhere({step: heard[step] for step in ("empty", "known")})
    heard, _ = recorded(INVENTED["words between bars"])
    for steps in (("empty",), ("empty", "known"), ("empty", "known", "tared", "lifted")):
        assert read_somewhere({step: heard[step] for step in steps})
    heard["tared"] = replace(heard["tared"], shows=Decimal(5))
    assert not read_somewhere({step: heard[step] for step in ("empty", "known", "tared")})


@pytest.mark.parametrize("unit", ["kg", "lb", "oz"])
def test_a_unit_that_is_not_the_one_behind_the_number_is_refused(unit: str) -> None:
    heard, _ = recorded(INVENTED["words between bars"])
    with pytest.raises(Unclear, match="behind the number it sends 'g'"):
        described("mine", heard, unit, PortLine(9600))


def test_letters_behind_the_number_that_are_no_unit_are_none() -> None:
    def prints(state: State, n: int) -> bytes:
        return no_point(state, n).replace(b" g", b" go")

    heard, meant = recorded(prints, skip=("over", "tared", "lifted"))
    assert wrong(described("go", heard, "kg", PortLine(9600)), meant) == []
