"""Grammar files: what they may say, and what is wrong with those that may not."""

import re

import pytest

from drivers.grammar import Grammar, GrammarError, compile_grammar
from drivers.grammar_file import File
from drivers.meanings import MEANINGS
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from station.resources import packaged


def grammar(name: str) -> Grammar:
    path = packaged() / "scales" / f"{name}.toml"
    return compile_grammar(path.read_text(encoding="utf-8"), path.name)


def test_bytes_without_an_end_become_faults_and_never_pile_up() -> None:
    parser = Parser(grammar("sma-scp-0499"))
    faults = [item for _ in range(100) for item in parser.feed(b"x" * 100, 1.0)]
    faults += parser.feed(b"x" * 10_000, 1.0)
    assert len(faults) > 50
    assert all(isinstance(fault, Fault) and len(fault.raw) <= 128 for fault in faults)


def test_a_decimal_comma_is_read_as_one_and_a_point_then_is_no_number() -> None:
    text = 'name = "c"\nabout = "x"\nend = "\\n"\nunit = "g"\ndecimal = ","\n'
    text += "regex = '(?P<value>[-+0-9.,]+)'\n"
    parser = Parser(compile_grammar(text, "c.toml"))
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
        (('end = "\\r"', 'end = ""\nlength = 1'), "length"),
        (('bits = "8N1"', 'bits = "9N1"'), "9N1"),
    ],
)
def test_a_wrong_grammar_says_what_is_wrong(change: tuple[str, str], says: str) -> None:
    text = (packaged() / "scales" / "sma-scp-0499.toml").read_text(encoding="utf-8")
    assert change[0] in text
    with pytest.raises(GrammarError, match=r"sma\.toml: ") as caught:
        compile_grammar(text.replace(*change), "sma.toml")
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("regex", "slow"),
    [
        ("(?P<value>([0-9]+)+)", True),
        ("(?P<value>([0-9]*|x)*)", True),
        ("(?P<value>( *[0-9]{1,4})+)", True),
        ("(?P<value>([0-9]{3})+)", False),
        ("(?P<value>[-+ ]*[0-9]+[.][0-9]+)", False),
        ("(?P<value>[0-9])" + "x*" * 5, True),
        ("(?P<value>(?:[0-9][0-9]?)*)x", True),
        ("(?P<value>(?:[0-9]{2}|[0-9])*)x", True),
        ("(?P<value>(?:[0-9]?){40})[0-9]{40}x", True),
        ("(?P<value>(?:[0-9]{1,4}){20})x", True),
    ],
)
def test_a_regex_that_hostile_bytes_could_hold_up_is_refused(regex: str, slow: bool) -> None:
    text = f'name = "x"\nabout = "x"\nend = "\\n"\nunit = "g"\nregex = \'{regex}\'\n'
    if not slow:
        compile_grammar(text, "x.toml")
        return
    with pytest.raises(GrammarError, match="repeat"):
        compile_grammar(text, "x.toml")


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ("[checksum]\nkind = 'xor'", "go together"),
        ("[bits.more]\n9 = 'stable'", "no group of that name"),
        ("[status.mode]\nG = 'gross'", "no group of that name"),
        ("[decimals]\ngroup = 'dp'", "no group of that name"),
        ("[poll]\nsend = 'W'\nperiod_ms = 1", "20 to 10000"),
        ("[orders.tare]\nsend = 'T'\nack = 'x'", "tare"),
        ("[orders.zero]\nsend = 'Z'\nack = '('", "orders.zero"),
        ("unit_absent = 'moving'", "unit_absent"),
        ("[decimals]\nplaces = -3", "0 to 6"),
        ("[decimals]", "either places, or the group"),
        ("[bits.value]\n12 = 'stable'", "needs no table"),
        ("[status.value]\n'--' = 'negative'", "a condition"),
        ("[poll]\nsend = '\u20ac'", "latin-1"),
        ("[orders.zero]\nsend = 'Z'\nack = 'x'\ntimeout_ms = -5", "100 to 10000"),
    ],
)
def test_a_table_that_fits_nothing_is_named(extra: str, says: str) -> None:
    head = "name = 'x'\nabout = 'x'\nend = '\\n'\nunit = 'g'\nregex = '(?P<value>[0-9]+)'\n"
    with pytest.raises(GrammarError, match=r"x\.toml: ") as caught:
        compile_grammar(head.replace("'\\n'", '"\\n"') + extra + "\n", "x.toml")
    assert says in str(caught.value)


def test_digits_alone_without_any_mark_are_never_believed() -> None:
    text = "name = 'x'\nabout = 'x'\nlength = 6\nunit = 'g'\nregex = '(?P<value>[0-9]{6})'\n"
    items = list(Parser(compile_grammar(text, "x.toml")).feed(b"001230012300123", 0.0))
    assert not [item for item in items if isinstance(item, Reading)]


def test_two_signs_that_disagree_are_no_number() -> None:
    text = (
        "name = 'x'\nabout = 'x'\nend = \"\\n\"\nunit = 'g'\n"
        "regex = '(?P<s>[0-9])(?P<value>[-0-9]+)'\n[bits.s]\ncode = 'hex'\n0 = 'negative'\n"
    )
    parser = Parser(compile_grammar(text, "x.toml"))
    both, one, none = parser.feed(b"1-5\n15\n05\n", 0.0)
    assert isinstance(both, Fault)
    assert isinstance(one, Reading) and isinstance(none, Reading)
    assert (one.value, none.value) == (-5, 5)


def test_the_worked_example_of_the_page_is_one() -> None:
    """The page's own bytes, read by the page's own file."""
    page = (packaged() / "scales" / "GRAMMARS.md").read_text(encoding="utf-8")
    text = page.split("```toml\n")[1].split("```")[0]
    dumps = re.findall(r"^    ((?:[0-9a-f]{2} ){16}) ?\|", page, re.MULTILINE)
    assert len(dumps) == 4
    data = b"".join(bytes.fromhex(dump) for dump in dumps)
    items = list(Parser(compile_grammar(text, "my-scale.toml")).feed(data, 0.0))
    assert [str(item.value) for item in items if isinstance(item, Reading)] == [
        "216.40", "118.35", "-1.20", "None",
    ]  # fmt: skip


def test_every_key_and_every_file_is_on_the_page() -> None:
    page = (packaged() / "scales" / "GRAMMARS.md").read_text(encoding="utf-8")
    for key in File.__struct_fields__:
        assert f"`{key}`" in page or f"[{key}" in page, key
    for path in (packaged() / "scales").glob("*.toml"):
        assert f"`{path.stem}`" in page, path.stem
    for meaning in MEANINGS - {""}:
        assert f"`{meaning}`" in page, meaning


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("[bits.s]\ncode = 'hex'\n4 = 'stable'", "the bits 0 to 3 and no more"),
        ("[bits.s]\n'7-8' = ['stable']", "the bits 0 to 7 and no more"),
        ("[bits.s]\n32 = 'stable'", "a bit is 0 to 31"),
        ("[bits.s]\n'3-2' = 'stable'", "a bit is 0 to 31"),
        ("[bits.s]\n'0-1' = ['', '', '', '', 'stable']", "a bit is 0 to 31"),
        ("[bits.s]\n1 = ['stable', 'moving', 'gross']", "a bit is 0 to 31"),
        ("[bits.s]\n1 = 'upside down'", "upside down"),
        ("[status.s]\n1 = 'stable'\n[checksum]\nkind = 'xor'\nlast = 'frame'", "checksum.last"),
        ("[status.s]\n1 = 'stable'\n[checksum]\nkind = 'xor'\nfirst = 'checksum'", "no group"),
        (
            "[status.s]\n1 = 'stable'\n[checksum]\nkind = 'xor'\nfirst = 'value'\nlast = 's'",
            "behind its end",
        ),
    ],
)
def test_bits_and_ranges_that_cannot_be_are_named(table: str, says: str) -> None:
    head = "name = 'x'\nabout = 'x'\nend = \"\\n\"\nunit = 'g'\n"
    check = "(?P<checksum>[0-9A-F]{2})" if "checksum" in table else ""
    head += f"regex = '(?P<s>[0-9])(?P<value>[0-9]{{3}}){check}'\n"
    with pytest.raises(GrammarError, match=says):
        compile_grammar(head + table + "\n", "x.toml")


@pytest.mark.parametrize(("start", "end"), [("\r", "\r"), ("\n", "\r\n"), ("ab", "b")])
def test_marks_that_hide_each_other_are_named(start: str, end: str) -> None:
    text = f"name = 'x'\nabout = 'x'\nunit = 'g'\nstart = {start!r}\nend = {end!r}\n"
    text = text.replace("'\\", '"\\').replace("n'", 'n"').replace("r'", 'r"')
    with pytest.raises(GrammarError):
        compile_grammar(text + "regex = '(?P<value>[0-9]+)'\n", "x.toml")


def test_a_part_that_the_regex_lets_be_missing_is_no_reading() -> None:
    text = "name = 'x'\nabout = 'x'\nend = \"\\n\"\nunit = 'g'\nregex = 'x(?P<value>[0-9]{3})?'\n"
    none, some = Parser(compile_grammar(text, "x.toml")).feed(b"x\nx123\n", 0.0)
    assert isinstance(none, Fault) and isinstance(some, Reading)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("start-only", b"=0118.35=01118.35=0118.35="),
        ("start-only", b"=-0118.35=0118.35="),
        ("no-marks", b"+-0118350GM+0118350GM\r"),
    ],
)
def test_a_byte_too_many_is_no_other_weight(name: str, data: bytes) -> None:
    read = [item.value for item in Parser(grammar(name)).feed(data, 0.0)
            if isinstance(item, Reading)]  # fmt: skip
    assert {str(value) for value in read} <= {"118.35", "118.350"}


def test_a_frame_too_long_is_not_believed_though_its_front_matches() -> None:
    text = "name = 'x'\nabout = 'x'\nstart = '='\nunit = 'g'\nregex = '(?P<value>[0-9.]{6}).*'\n"
    items = list(Parser(compile_grammar(text, "x.toml")).feed(b"=001.23" + b"z" * 1000 + b"=", 0))
    assert not [item for item in items if isinstance(item, Reading)]


TARED = """name = 'x'
about = 'x'
end = "\\n"
unit = 'g'
regex = '(?P<mode>[GN])(?P<value>[0-9]{4});(?P<tare>[0-9]{4})'
[status.mode]
"""


def test_a_frame_with_a_tare_must_tell_net_from_gross() -> None:
    """Net read as gross would be a weight without its vessel."""
    silent = TARED + "G = 'stable'\nN = 'moving'\n"
    with pytest.raises(GrammarError, match="tell net from gross"):
        compile_grammar(silent, "x.toml")
    compile_grammar(silent.replace("unit =", "kind = 'gross'\nunit ="), "x.toml")


def test_a_frame_is_net_with_its_tare_or_gross_whatever_tare_stands_beside_it() -> None:
    parser = Parser(compile_grammar(TARED + "G = 'gross'\nN = 'net'\n", "x.toml"))
    items = list(parser.feed(b"G3500;1200\nN3500;1200\n", 0.0))
    assert [str(item.gross) for item in items if isinstance(item, Reading)] == ["3500", "4700"]


LENGTH = """name = 'x'
about = 'x'
start = "="
end = "\\r"
length = 6
unit = 'g'
regex = '(?P<value>[0-9]{4})(?P<checksum>[0-9A-F]{2})'
[checksum]
kind = "sum"
"""


def by_length(data: bytes, piece: int = 1000) -> list[str]:
    parser = Parser(compile_grammar(LENGTH, "x.toml"))
    pieces = [data[at : at + piece] for at in range(0, len(data), piece)]
    items = [item for part in pieces for item in parser.feed(part, 0.0)]
    assert len(parser.rest) < 8
    return [item.reason if isinstance(item, Fault) else str(item.value) for item in items]


@pytest.mark.parametrize("piece", [1, 3, 8, 1000])
def test_two_unreadable_frames_of_one_length_are_two_faults_told_at_once(piece: int) -> None:
    good, bad, none = b"=1234CA\r", b"=1236CA\r", b"=12x4CA\r"
    wrong, strange = "wrong checksum", "not a frame of this grammar"
    assert by_length(bad + bad, piece) == [wrong, wrong]
    assert by_length(bad + none + good + bad, piece) == [wrong, strange, "1234", wrong]
    found = by_length(b"junk" + bad + b"more" + good, piece)
    assert found == ["no frame", wrong, "no frame", "1234"]


@pytest.mark.parametrize("piece", [1, 5, 1000])
def test_a_good_frame_that_begins_in_a_bad_one_is_read_all_the_same(piece: int) -> None:
    good = b"=1234CA\r"
    cut = b"=9\r=\r" + good  # the first eight bytes are no frame, and hold the start of one
    assert by_length(cut, piece)[-1] == "1234"
    inside = b"=12=123" + b"\r"
    assert by_length(inside + good, piece) == ["not a frame of this grammar", "1234"]
    over = b"=12" + good[:4] + b"\r"
    assert by_length(over + good, piece)[-1] == "1234"


def test_bytes_that_are_no_frame_yet_can_be_asked_for() -> None:
    parser = Parser(grammar("sma-scp-0499"))
    assert not list(parser.feed(b"\n 0G", 0.0)) and parser.rest == b"\n 0G"
    parser.reset()
    assert parser.rest == b""


OVERLAPS = """name = 'x'
about = 'x'
start = "="
end = "\\r"
length = 4
unit = 'g'
regex = '(?P<value>.{2})(?P<checksum>.{2})'
[number]
code = "binary"
[checksum]
kind = "sum16"
code = "binary"
"""
GOOD = b"=\r\x05\x00\x12\r"


@pytest.mark.parametrize("piece", [1, 5, 1000])
def test_a_good_frame_whose_first_bytes_end_a_bad_one_is_read(piece: int) -> None:
    parser = Parser(compile_grammar(OVERLAPS, "x.toml"))

    def told(data: bytes) -> list[str]:
        pieces = [data[at : at + piece] for at in range(0, len(data), piece)]
        items = [item for part in pieces for item in parser.feed(part, 0.0)]
        return [item.reason if isinstance(item, Fault) else str(item.value) for item in items]

    assert told(b"=abc" + GOOD) == ["wrong checksum", "3333"]
    assert told(b"=abc=\rxyz\r" + GOOD) == ["wrong checksum", "no frame", "3333"]
