"""A frame drawn column by column is read as strictly as by a regex, and its mistakes are told."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.grammar import Grammar, GrammarError, compile_grammar
from drivers.parser import Parser
from drivers.reading import Condition, Fault, Reading
from drivers.recording import read_capture
from station.resources import packaged

HEAD = 'name = "x"\nabout = "x"\nend = "\\n"\n'
CAPTURES = Path(__file__).parents[1] / "captures"


def drawn(columns: str, more: str = 'unit = "g"\n') -> Grammar:
    return compile_grammar(f"{HEAD}columns = '{columns}'\n{more}", "x.toml")


def values(grammar: Grammar, *frames: bytes) -> list[str | None]:
    """Of each frame its weight as sent; None where it is a fault or no weight."""
    found = []
    for frame in frames:
        (item,) = Parser(grammar).feed(frame + b"\n", 0.0)
        found.append(str(item.value) if isinstance(item, Reading) and item.value else None)
    return found


# mistakes


@pytest.mark.parametrize(
    ("columns", "more", "says"),
    [
        ("qvvv", 'unit = "g"', "columns: q in column 1 has no table: add [status.q] or [bits.q], or"
         " write \\q where the frame always has that letter"),
        ("vv;vv", 'unit = "g"', "columns: v stands in two places, from columns 1 and 4 on"),
        ("vv.v.v", 'unit = "g"', "columns: v stands in two places"),
        ("vv,v", 'unit = "g"', "columns: v stands in two places"),
        ("v.v", 'unit = "g"\n[decimals]\nplaces = 1', "columns: v stands in two places"),
        ("vvmm.m", 'unit = "g"\n[status.m]\nA = ""', "columns: m stands in two places"),
        ("ABC", 'unit = "g"', "columns: no column has the letter v"),
        ("svvvv", 'unit = "g"\nlength = 6', "columns: 5 columns, but length says 6"),
        ("vvé", 'unit = "g"', "columns: 'é' is no sign of one byte"),
        ("vv\\", 'unit = "g"', "columns: a backslash at the end"),
        ("\\x02vv", 'unit = "g"', "columns: \\x02 between single quotes is 4 signs"),
        ("vvuu", "", "units: the words in the columns of u"),
        ("vv", 'unit = "g"\nunits = ["g"]', "units: the words in the columns of u"),
        ("vvu", 'units = ["kg"]', "units: 'kg' is longer than its columns (there are 1)"),
        ("vvm", 'unit = "g"\n[status.m]\nST = "stable"', "status.m: 'ST' is longer than"),
        ("vv", 'unit = "g"\n[status.value]\nERR = "error"', "status.value: 'ERR' is longer than"),
        ("vvcc", 'unit = "g"', "checksum: columns of c and the table [checksum] go together"),
        ("vv", 'unit = "g"\n[checksum]\nkind = "xor"', "checksum: columns of c and the table"),
        ("vv", 'unit = "g"\n[status.m]\nS = "stable"', "m: it has a table, but no field of the"),
        ("vvx", 'unit = "g"\n[status.x]\nS = "stable"', "x: it has a table, but no field of the"),
        ("vv", 'unit = "g"\nregex = "(?P<value>..)"', "columns and regex: each describes"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_file_and_key(columns: str, more: str, says: str) -> None:
    with pytest.raises(GrammarError) as caught:
        drawn(columns, more)
    assert str(caught.value).startswith(f"x.toml: {says}")


def test_a_file_describes_its_frame_once_and_units_belong_to_columns() -> None:
    with pytest.raises(GrammarError, match=r"x\.toml: columns: this key is missing, or regex"):
        compile_grammar(HEAD, "x.toml")
    with pytest.raises(GrammarError, match=r"x\.toml: units: they go with columns"):
        compile_grammar(HEAD + "regex = '(?P<value>.)(?P<unit>g)'\nunits = ['g']\n", "x.toml")


# what a column lets through


def test_a_point_that_is_drawn_stands_there_and_nowhere_else() -> None:
    grammar = drawn("vvvv.vv")
    assert values(grammar, b"  12.34", b" -12.34", b" 123.40") == ["12.34", "-12.34", "123.40"]
    assert values(grammar, b" 12.345", b"1234567", b"  12. 4", b"  12.-4") == [None] * 4


def test_a_point_behind_the_last_column_of_a_figure_is_a_fixed_sign() -> None:
    assert values(drawn("vvv.G"), b" 12.G", b"12.3G") == ["12", None]


def test_a_point_that_is_not_drawn_may_stand_anywhere_among_the_columns() -> None:
    grammar = drawn("vvvvvv")
    assert values(grammar, b" 12.34", b"-1.234", b"+  123") == ["12.34", "-1.234", "123"]
    assert values(drawn("vvvv", 'unit = "g"\n[decimals]\nplaces = 2'), b"1234", b"12.3") == [
        "12.34", None,
    ]  # fmt: skip


def test_with_a_column_of_sign_no_second_sign_is_let_through() -> None:
    grammar = drawn("svvvv")
    assert values(grammar, b"-12.3", b"+12.3", b" 12.3") == ["-12.3", "12.3", "12.3"]
    assert values(grammar, b"--2.3", b" -2.3", b"O12.3") == [None] * 3
    strict = drawn("svvvv", 'unit = "g"\n[status.s]\n"+" = ""\n"-" = "negative"\n')
    assert values(strict, b" 12.3", b"+12.3") == [None, "12.3"]
    behind = drawn("vvvvs")
    assert values(behind, b"12.3-", b"12.3 ") == ["-12.3", "12.3"]


def test_a_fixed_sign_is_no_pattern_and_a_letter_behind_a_backslash_is_itself() -> None:
    grammar = drawn("N.\\k\\gvvvv")
    assert values(grammar, b"N.kg12.3", b"Nxkg12.3", b"N.Kg12.3") == ["12.3", None, None]


def test_a_column_that_is_passed_over_may_hold_anything() -> None:
    assert values(drawn("xvvvx"), b"A1.5\x00", b"\xff1.5-") == ["1.5", "1.5"]


def test_words_of_the_unit_fill_their_columns_with_blanks_on_either_side() -> None:
    grammar = drawn("vvvvuu", 'units = ["kg", "g"]\n')
    items = [next(iter(Parser(grammar).feed(b" 1.5" + unit + b"\n", 0.0)))
             for unit in (b"kg", b" g", b"g ", b"lb", b"  ")]  # fmt: skip
    assert [i.unit if isinstance(i, Reading) else None for i in items] == [
        "kg", "g", "g", None, None,
    ]  # fmt: skip


def test_words_in_the_place_of_the_number_are_read_and_others_are_not() -> None:
    more = (
        'unit = "g"\n[status.value]\n"---.-" = "overload"\n[patterns.value]\n"E ?[0-9]" = "error"\n'
    )
    grammar = drawn("vvv.v", more)
    items = [next(iter(Parser(grammar).feed(frame + b"\n", 0.0)))
             for frame in (b"---.-", b" E 4 ", b" 12.5", b"12345", b"-----")]  # fmt: skip
    assert [i.condition if isinstance(i, Reading) else None for i in items] == [
        Condition.OVERLOAD, Condition.ERROR, Condition.OK, None, None,
    ]  # fmt: skip


def test_bits_tare_and_a_checksum_are_columns_like_others() -> None:
    grammar = drawn(
        "bbvvvvTtttt.tt;ccc",
        'unit = "g"\n[bits.b]\ncode = "hex"\n0 = ["net", "gross"]\n5 = ["stable", "moving"]\n'
        '[checksum]\nkind = "sum"\ncode = "decimal"\n',
    )
    body = b"21 1.5T  86.90;"
    (item,) = Parser(grammar).feed(body + b"%03d\n" % (sum(body) & 0xFF), 0.0)
    assert isinstance(item, Reading)
    assert (item.value, item.tare, item.stable) == (Decimal("1.5"), Decimal("86.90"), True)
    assert item.gross == Decimal("88.40")
    (bad,) = Parser(grammar).feed(body + b"%03d\n" % (sum(body) + 1 & 0xFF), 0.0)
    assert isinstance(bad, Fault)


def test_columns_of_bytes_hold_any_byte() -> None:
    more = 'unit = "g"\nlength = 4\n[number]\ncode = "bcd"\n[decimals]\nplaces = 1\n'
    (item,) = Parser(drawn("=vvv", more)).feed(b"=\x01\x23\x45\n", 0.0)
    assert isinstance(item, Reading) and str(item.value) == "1234.5"


def test_a_figure_sent_last_digit_first_has_its_whole_columns_behind_the_point() -> None:
    grammar = drawn("vv.vvvv", 'unit = "g"\n[number]\norder = "low-first"\n')
    assert values(grammar, b"04.612 ", b"0 .612 ") == ["216.40", None]


def test_a_word_that_the_table_does_not_know_is_named() -> None:
    (item,) = Parser(drawn("mvvv", 'unit = "g"\n[status.m]\nS = "stable"\n')).feed(b"Q1.5\n", 0.0)
    assert isinstance(item, Fault) and item.reason == "unknown m b'Q'"


# as strict as the regex that it stands for

AS_REGEX = {
    "status-mode-comma": (
        r"(?P<w>[A-Z]{2}),(?P<m>[A-Z]{2}),(?P<value>[-+][ 0-9.]{8})(?P<unit> g|kg|lb|oz| t)",
        'end = "\\r\\n"\n[status.w]\nST = "stable"\nUS = "moving"\nOL = "overload"\n'
        'UL = "underload"\n[status.m]\nGS = "gross"\nNT = "net"\nTR = "tare"\n',
    ),
    "comma-and-mark": (
        r"(?P<value>[-+][ 0-9]{6},[0-9]{2}) (?P<unit>kg| g) (?P<m>[* ])",
        'end = "\\n"\ndecimal = ","\n[status.m]\n"*" = "stable"\n" " = "moving"\n',
    ),
}


def frames(name: str) -> list[bytes]:
    lines = (CAPTURES / f"{name}.capture").read_text(encoding="utf-8").splitlines()
    return [chunk.data for chunk in read_capture(lines).chunks]


def read(grammar: Grammar, data: bytes) -> list[tuple[object, ...]]:
    items = [i for i in Parser(grammar).feed(data, 0.0) if isinstance(i, Reading)]
    return [(i.value, i.unit, i.kind, i.stable, i.condition) for i in items]


@pytest.mark.parametrize("name", AS_REGEX)
def test_a_bundled_file_that_is_drawn_reads_what_its_regex_read_and_no_more(name: str) -> None:
    """Every byte of every frame of its capture turned into every other, left out and doubled."""
    text = (packaged() / "scales" / f"{name}.toml").read_text(encoding="utf-8")
    picture = compile_grammar(text, "x.toml")
    regex, more = AS_REGEX[name]
    plain = compile_grammar(f"name = 'x'\nabout = 'x'\nregex = '{regex}'\n{more}", "x.toml")
    seen = 0
    for frame in frames(name):
        for at in range(len(frame)):
            for byte in (b"", frame[at : at + 1] * 2, *(bytes([b]) for b in range(256))):
                sent = frame[:at] + byte + frame[at + 1 :]
                told = read(plain, sent)
                assert read(picture, sent) == told, sent
                seen += len(told)
    assert seen > 300


# pictures that nobody drew


@st.composite
def pictures(draw: st.DrawFn) -> tuple[Grammar, int, str, bytes]:
    """A grammar, the number in it (in its last places), how many they are, and its frame."""
    places = draw(st.integers(0, 3))
    shape = draw(st.sampled_from(["drawn", "sent", "left out"])) if places else "left out"
    width = draw(st.integers(places + 2, 9))
    number = draw(st.integers(-(10 ** (width - 2)) + 1, 10 ** (width - 2) - 1))
    apart = draw(st.booleans())
    fill = draw(st.sampled_from(" 0"))
    mark = draw(st.sampled_from(".,"))
    digits = f"{abs(number):0{places + 1}d}"
    if shape != "left out":
        digits = digits[:-places] + mark + digits[-places:]
    sign, columns = (
        "-" if number < 0 else draw(st.sampled_from("+ ")),
        width + (shape != "left out"),
    )
    if apart or fill == "0":
        body = sign + digits.rjust(columns, fill)
    else:
        body = f"{sign.strip()}{digits}".rjust(columns + 1)
    drawn_value = "v" * columns if apart else "v" * (columns + 1)
    if shape == "drawn":
        drawn_value = drawn_value[: -places - 1] + mark + "v" * places
    word = draw(st.sampled_from(["ST", "US"]))
    unit = draw(st.sampled_from(["kg", "g ", " g"]))
    fixed = draw(st.sampled_from([";", "N ", ".", "$("]))
    value = ("s" if apart else "") + drawn_value
    passed = draw(st.sampled_from("AB7"))
    parts = [("ww", word), (fixed, fixed), (value, body), ("uu", unit), ("x", passed)]
    parts = draw(st.permutations(parts))
    picture, frame = ("".join(part[n] for part in parts) for n in (0, 1))
    text = f"{HEAD}columns = '{picture}'\nunits = ['kg', 'g']\ndecimal = '{mark}'\n"
    text += f"[decimals]\nplaces = {places}\n" if shape == "left out" else ""
    text += "[status.w]\nST = 'stable'\nUS = 'moving'\n"
    return compile_grammar(text, "x.toml"), number, str(places), frame.encode()


@settings(max_examples=300, deadline=None, derandomize=True)
@given(pictures(), st.data())
def test_whatever_is_drawn_reads_back_the_value_that_went_in_or_none(
    made: tuple[Grammar, int, str, bytes], data: st.DataObject
) -> None:
    """Whole it is read exactly; one byte short or one too many, it is that value or none."""
    grammar, number, places, frame = made
    meant = Decimal(number).scaleb(-int(places))
    assert [value for value, *_ in read(grammar, frame + b"\n")] == [meant]
    at = data.draw(st.integers(0, len(frame) - 1))
    for damaged in (frame[:at] + frame[at + 1 :], frame[:at] + frame[at : at + 1] + frame[at:]):
        assert all(value == meant for value, *_ in read(grammar, damaged + b"\n"))
