"""Each thing that could make a wrong weight of an unknown frame is refused, or left unread."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from drivers.grammar import compile_grammar
from drivers.infer.cutting import Heard, Step, Unclear, cut
from drivers.infer.describe import described
from drivers.infer.writing import PortLine
from drivers.parser import Parser
from drivers.reading import Condition, Kind, Reading
from tests.drivers.test_infer import told, wrong
from tests.drivers.unknown import Prints, State, recorded


def made(prints: Prints, skip: tuple[Step, ...] = (), known: str = "216.40") -> str:
    """The file of a format; it reads no wrong weight from its own recordings."""
    heard, meant = recorded(prints, known, skip=skip)
    found = described("x", heard, "g", PortLine(9600))
    assert wrong(found, meant) == [], found.text
    return found.text


def picture(text: str) -> str:
    (line,) = [line for line in text.splitlines() if line.startswith("columns")]
    return line.partition(" = ")[2][1:-1]


# marks


def test_a_pause_in_the_line_tells_lf_frame_cr_from_frame_cr_lf() -> None:
    """The same bytes: where they stop to come, a frame ends."""
    data: Prints = lambda s, n: f"{s.net:9.2f} g".encode()  # noqa: E731
    before = recorded(lambda s, n: b"\n" + data(s, n) + b"\r")[0]
    behind = recorded(lambda s, n: data(s, n) + b"\r\n")[0]
    assert (cut(before).start, cut(before).end) == (b"\n", b"\r")
    assert (cut(behind).start, cut(behind).end) == (b"", b"\r\n")


# columns right beside the number


@pytest.mark.parametrize("between", ["", "0", "00"])
def test_a_nought_in_front_that_turns_may_be_the_first_digit_of_the_number(between: str) -> None:
    """Nought while it stands and 1 while it moves: a mark, or a load that is a thousand more."""
    with pytest.raises(Unclear, match="no place in the frame reads"):
        made(
            lambda s, n: f"{int(s.moving)}{between}{s.net:06.2f};\r\n".encode(),
            skip=("tared", "lifted"),
        )


def test_a_digit_in_front_that_no_moving_weight_proves_is_a_doubt() -> None:
    """It is 1 all the time that the load moves, and the weight beside it stays."""

    def prints(s: State, n: int) -> bytes:
        return f"{int(s.moving)}{s.net:06.2f};\r\n".encode()

    heard, _ = recorded(prints, "216.40", skip=("tared", "lifted"))
    same = tuple(prints(State(Decimal("216.40"), moving=True), n) for n in range(8))
    with pytest.raises(Unclear, match="no place in the frame reads"):
        described("x", {**heard, "move": replace(heard["move"], chunks=same)}, "g", PortLine(9600))


def test_another_digit_in_front_is_no_part_of_what_the_display_shows() -> None:
    text = made(
        lambda s, n: f"{3 if s.moving else 2}0{s.net:06.2f};\r\n".encode(),
        skip=("tared", "lifted"),
    )
    assert picture(text) == "mvvvv.vv;" and '"3" = "moving"' in text


def test_a_digit_in_front_that_never_changes_must_stay() -> None:
    text = made(lambda s, n: f"7{abs(s.net):07.2f};\r\n".encode(), skip=("tared", "lifted"))
    assert picture(text) == "7vvvv.vv;"


def passing(prints: Prints, known: str, by: tuple[str, ...]) -> dict[Step, Heard]:
    """Recorded with a load that moves through those weights before it comes to rest."""
    heard, _ = recorded(prints, known)
    load = Decimal(known)
    grams = [load, *map(Decimal, by), load]
    moving = [prints(State(each, moving=n > 0), n) for n, each in enumerate(grams)]
    moving += [prints(State(load), 9)] * 3
    return {**heard, "move": replace(heard["move"], chunks=tuple(moving))}


def _kilograms(s: State, n: int) -> bytes:
    body = f"\x02{'M' if s.moving else 'S'}{s.net:+9.3f}kg{'O' if s.over else ' '}\x03".encode()
    return body + b"%02X\r" % (sum(body) & 0xFF)


def _noughts(s: State, n: int) -> bytes:
    sign = "-" if s.net < 0 else " "
    mark = "O" if s.over else "M" if s.moving else "S"
    return f"{mark}{sign}{abs(s.net):07.3f} kg\r\n".encode()


def _no_point(s: State, n: int) -> bytes:
    sign = "-" if s.net < 0 else "+"
    mark = "O" if s.over else "M" if s.moving else "S"
    return f"{mark}{sign}{abs(int(s.net * 1000)):06d} kg\r\n".encode()


def _last_first(s: State, n: int) -> bytes:
    return f"={abs(s.net):07.3f}"[::-1].encode() + (b"M" if s.moving else b"S") + b"kg\r\n"


SWING = ("0.955", "0.970", "0.990", "1.005", "1.015", "1.010", "0.998", "0.960")
"""It passes a kilogram before it comes to rest at 945 g."""


@pytest.mark.parametrize("prints", [_kilograms, _noughts, _no_point, _last_first])
@pytest.mark.parametrize(
    ("known", "by"), [("0.945", SWING), ("9.205", ("9.5", "9.9", "10.1", "10.2", "9.8"))]
)
def test_a_load_that_swings_past_a_ten_hides_no_digit(
    prints: Prints, known: str, by: tuple[str, ...]
) -> None:
    """Its first digit was a nought whenever the display was known, and is a digit all the same."""
    heard = passing(prints, known, by)
    if prints is _last_first:
        heard = {step: each for step, each in heard.items() if step not in ("tared", "lifted")}
    grammar = compile_grammar(described("x", heard, "kg", PortLine(9600)).text, "x.toml")
    for grams in ("0.310", known, "1.250", "12.345", "0.000"):
        item = told(grammar, prints(State(Decimal(grams)), 0))
        assert item is None or item.value in (None, Decimal(grams))
    heavy = told(grammar, prints(State(Decimal("1.250")), 0))
    assert heavy is not None and heavy.value == Decimal("1.250")


@pytest.mark.parametrize("prints", [_kilograms, _noughts])
@pytest.mark.parametrize("known", ["0.945", "0.868"])
def test_decimals_are_never_taken_for_the_whole_number(prints: Prints, known: str) -> None:
    """The load jumps from frame to frame, so that its way proves nothing; from either end."""
    heard = passing(prints, known, ("1.900", known, "1.930"))
    with pytest.raises(Unclear, match=f"no place in the frame reads {re.escape(known)}"):
        described("x", heard, "kg", PortLine(9600))


def test_a_list_parted_by_commas_has_its_number_behind_one() -> None:
    def prints(s: State, n: int) -> bytes:
        sign, mark = "-" if s.net < 0 else "+", "O" if s.over else "M" if s.moving else "S"
        return f"{mark},{sign},{abs(int(s.net * 100)):07d},g\r\n".encode()

    assert picture(made(prints)) == "m,s,vvvvvvv,u"


# bits, and marks that several things share


def _status(s: State, *, counting: int = 0) -> int:
    net, still = s.gross if not s.tared else s.net, not s.moving
    bits = (not still, s.over, net < 0 and not s.over, s.tared, s.gross == 0 and not s.over)
    return 0x40 | counting | sum(1 << place for place, bit in enumerate(bits) if bit)


def _by_bits(s: State, n: int) -> bytes:
    figure = 0 if s.over else abs(int(s.net * 100))
    return b"\x02" + bytes([_status(s)]) + f"{figure:07d}\r".encode()


def test_bits_that_change_together_are_told_apart_by_the_steps() -> None:
    """Negative, net and a pan without a load change at once when the load is taken off its tare."""
    text = made(_by_bits)
    grammar = compile_grammar(text, "x.toml")
    load, none = Decimal("99.00"), Decimal("0.00")
    for state, value in (
        (State(load), load), (State(none, load), -load), (State(load, load), none),
        (State(load / 2, load), -load / 2), (State(none), none),
    ):  # fmt: skip
        item = told(grammar, _by_bits(state, 0))
        assert item is not None and item.value == value, state
        assert item.stable and item.kind is (Kind.NET if state.tared else Kind.GROSS)
    moves = told(grammar, _by_bits(State(load, moving=True), 0))
    over = told(grammar, _by_bits(State(load, over=True), 0))
    assert moves is not None and not moves.stable
    assert over is not None and over.value is None


@pytest.mark.parametrize("skip", [("lifted",), ("tared", "lifted")])
def test_a_sign_that_nobody_saw_is_no_plus(skip: tuple[Step, ...]) -> None:
    """A bit that was never seen set is a fault once it is."""
    grammar = compile_grammar(made(_by_bits, skip=skip), "x.toml")
    lifted = State(Decimal("0.00"), Decimal("99.00"))
    item = told(grammar, _by_bits(lifted, 0))
    assert item is None or (item.value is None and item.condition is Condition.ERROR)


def test_where_nobody_can_read_what_changes_a_weight_below_nothing_must_be_shown() -> None:
    def prints(s: State, n: int) -> bytes:
        """Other bits of the status byte count."""
        figure = abs(int(s.net * 100))
        return b"\x02" + bytes([_status(s, counting=n % 2 << 5)]) + f"{figure:07d}\r".encode()

    with pytest.raises(Unclear, match="a weight below nothing was not recorded"):
        made(prints, skip=("lifted",))


def test_a_gross_weight_below_nothing_was_shown_whatever_else_changes() -> None:
    def prints(s: State, n: int) -> bytes:
        return f"{s.gross:8.2f} {'ABCDEFGHIJ'[n * 7 % 10]}\r\n".encode()

    assert picture(made(prints)) == "vvvvv.vv x"


def test_a_mark_that_stands_there_with_too_much_on_it_too_still_says_that_it_moves() -> None:
    def prints(s: State, n: int) -> bytes:
        value = "  -----  " if s.over else f"{s.net:9.2f}"
        return f"{'M' if s.moving or s.over else 'S'}{value}g\r\n".encode()

    text = made(prints)
    assert '"M" = "moving"' in text and '"S" = "stable"' in text
    assert '"-----" = "overload"' in text


# what the tare key changes


def test_a_gross_number_takes_neither_sign_nor_mode_from_the_net_one_beside_it() -> None:
    def prints(s: State, n: int) -> bytes:
        sign = "-" if s.net < 0 else " "
        return f"{s.gross:8.2f} {abs(s.net):07.2f}{sign}{'N' if s.tared else 'G'}\r\n".encode()

    text = made(prints)
    grammar = compile_grammar(text, "x.toml")
    item = told(grammar, prints(State(Decimal("108.20"), Decimal("216.40")), 0))
    assert item is not None and (item.value, item.kind) == (Decimal("108.20"), Kind.GROSS)
    assert "net" not in text.partition("name =")[2]


def test_the_minus_of_the_net_weight_is_no_sign_of_the_gross_one_behind_it() -> None:
    """86.88 net of a tare of 86.90 is -0.02; the gross weight stands right behind that minus."""

    def prints(s: State, n: int) -> bytes:
        return f"{abs(s.net):08.2f}{'-' if s.net < 0 else ' '}{s.gross:08.2f} g\r\n".encode()

    grammar = compile_grammar(made(prints, known="216.43"), "x.toml")
    item = told(grammar, prints(State(Decimal("86.88"), Decimal("86.90")), 0))
    assert item is None or item.value == Decimal("86.88")


# words


def test_a_word_on_the_way_to_an_overload_is_an_overload() -> None:
    def prints(s: State, n: int) -> bytes:
        word = ("P" if s.moving else "O") if s.over else "M" if s.moving else "S"
        return f"{word}{s.net:9.2f} g\r\n".encode()

    assert '"P" = "overload"' in made(prints)


def test_a_byte_that_changes_two_bits_at_once_is_a_word_and_no_bits() -> None:
    def prints(s: State, n: int) -> bytes:
        flags = 0x40 | (1 if s.moving else 0) | (2 if s.tared else 0) | (12 if s.over else 0)
        return bytes([flags]) + f"{s.net:9.2f} g\r\n".encode()

    assert "[bits" not in made(prints)


def test_a_counter_is_not_read_whatever_its_digits_did_meanwhile() -> None:
    text = made(lambda s, n: f"{n:03d};{s.net:9.2f};{'M' if s.moving else 'S'}\r\n".encode())
    assert picture(text) == "xxx;vvvvvv.vv;m"


def test_the_hours_of_a_clock_may_turn_like_its_seconds() -> None:
    text = made(lambda s, n: f"A7 09:30:{n:02d} {s.net:+09.2f}\r\n".encode())
    assert picture(text) == "A7 xx:xx:xx vvvvvv.vv"


def test_a_letter_that_follows_the_weight_is_not_read() -> None:
    """A check that nobody knows: with other weights it would be another word each time."""
    text = made(lambda s, n: f"{s.net:9.2f} g;{chr(65 + int(abs(s.net) * 700) % 23)}\r\n".encode())
    assert picture(text).endswith("u;x")


def test_a_word_that_says_stable_while_the_weight_runs_says_nothing() -> None:
    """A letter that turns with every second frame, and stood still by chance where it had to."""

    def prints(s: State, n: int) -> bytes:
        return f"{'B' if s.moving and n % 2 else 'A'}{s.net:9.2f} g\r\n".encode()

    text = made(prints)
    assert "stable" not in text.partition("name =")[2]


# the unit


def test_letters_of_another_word_are_no_unit() -> None:
    text = made(lambda s, n: f"{s.net:9.2f} tag\r\n".encode())
    assert 'unit = "g"' in text and "u" not in picture(text)


def test_a_word_that_is_gone_where_the_load_stood_still_is_no_unit() -> None:
    text = made(lambda s, n: f"{s.net:9.2f} {'g' if s.net else ' '}\r\n".encode())
    assert "u" not in picture(text)


# the recordings judge the file


def test_a_last_frame_that_reads_another_weight_refuses_the_file() -> None:
    """A minus that a letter tells where the tare was not lifted: its meaning was not seen."""
    heard, _ = recorded(lambda s, n: f"{s.net:9.2f} g\r\n".encode())
    positive = replace(heard["lifted"], shows=Decimal("216.40"))
    with pytest.raises(
        Unclear, match=r"the display showed 216\.40, and the columns found read -216"
    ):
        described("x", {**heard, "lifted": positive}, "g", PortLine(9600))


def test_too_many_frames_that_are_not_read_refuse_the_file() -> None:
    """Two frames of eight are damaged with the known load, and their check tells that."""

    def prints(s: State, n: int) -> bytes:
        body = f"{s.net:9.2f} g ".encode()
        damage = n in (1, 2) and s.net > 0 and not s.over
        return body + b"%02X\r\n" % (sum(body) + damage & 0xFF)

    with pytest.raises(
        Unclear, match="does not read what it sent with the known load: wrong check"
    ):
        made(prints)


def test_what_is_read_between_two_loads_is_what_was_sent() -> None:
    heard, _ = recorded(lambda s, n: f"{s.net:9.2f} g\r\n".encode())
    text = described("x", heard, "g", PortLine(9600)).text
    items = Parser(compile_grammar(text, "x")).feed(b"    12.34 g\r\n 12345.6 g\r\n", 0.0)
    assert [i.value if isinstance(i, Reading) else None for i in items] == [Decimal("12.34"), None]


def test_bytes_in_one_chunk_or_many_are_the_same_file() -> None:
    heard, _ = recorded(lambda s, n: f"{s.net:9.2f} g\r\n".encode())
    whole = {step: Heard((b"".join(h.chunks),), h.shows) for step, h in heard.items()}
    one, many = (described("x", each, "g", PortLine(9600)).text for each in (whole, heard))
    assert one == many
