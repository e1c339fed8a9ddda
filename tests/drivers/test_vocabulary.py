"""What a grammar can say of numbers, words and bits: each is read as it was sent, or not at all."""

from decimal import Decimal

import pytest

from drivers.figure import Form, figure
from drivers.grammar import Grammar, GrammarError, compile_grammar
from drivers.grammar_file import Number
from drivers.parser import Parser
from drivers.reading import Condition, Fault, Reading

HEAD = "name = 'x'\nabout = 'x'\n"


def made(regex: str, more: str = "", frame: str = 'end = "\\n"\nunit = "g"') -> Grammar:
    return compile_grammar(f"{HEAD}{frame}\nregex = '''{regex}'''\n{more}", "x.toml")


def said(grammar: Grammar, data: bytes) -> list[Reading | Fault]:
    return list(Parser(grammar).feed(data, 0.0))


def weights(grammar: Grammar, *frames: bytes) -> list[str | None]:
    """Of each frame the weight, exactly as read; None where it is a fault."""
    items = [item for frame in frames for item in said(grammar, frame + b"\n")]
    assert len(items) == len(frames)
    return [str(item.value) if isinstance(item, Reading) else None for item in items]


TEXT = "(?P<value>[-+ .,'0-9]{1,12})"


def test_a_number_may_begin_or_end_with_its_point_and_a_point_alone_is_none() -> None:
    frames = [b".5", b"-.5", b"5.", b"+5.", b"- 5.", b".", b"-.", b"1.2.", b"5 ."]
    assert weights(made(TEXT), *frames) == [
        "0.5", "-0.5", "5", "5", "-5", None, None, None, None,
    ]  # fmt: skip


@pytest.mark.parametrize("mark", [" ", ",", "'", "."])
def test_the_mark_between_thousands_is_the_one_that_was_told(mark: str) -> None:
    point = "," if mark == "." else "."
    grammar = made(TEXT, f'decimal = "{point}"\n[number]\nthousands = "{mark}"')
    text = ["1_234_567", "1_234_567@5", "-  12_345@50", "234@5", "0_012@5", "@5"]
    wrong = [
        "1234",
        "1234_567",
        "1_23",
        "1__234",
        "_234",
        "1_2345",
        "12345",
        "1_234_",
        "1_234@567_8",
        "1.2,3",
        "1'2 3",
    ]
    frames = [t.replace("_", mark).replace("@", point).encode() for t in text + wrong]
    if mark == " ":
        frames.remove(b" 234")  # a blank in front is none between
        frames.remove(b"1 234 ")
        wrong = wrong[:-2]
    assert weights(grammar, *frames) == [
        "1234567", "1234567.5", "-12345.50", "234.5", "12.5", "0.5", *[None] * len(wrong),
    ]  # fmt: skip


@pytest.mark.parametrize("frame", [b"1 234.5", b"1,234.5", b"1'234.5", b"1.234.5"])
def test_a_mark_between_thousands_that_was_not_told_is_no_number(frame: bytes) -> None:
    assert weights(made(TEXT), frame) == [None]


def test_thousands_without_a_point_have_the_places_that_were_told() -> None:
    grammar = made(TEXT, "[decimals]\nplaces = 2\n[number]\nthousands = ' '")
    assert weights(grammar, b"12 345", b"12345", b"12 345.0") == ["123.45", None, None]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("[number]\nthousands = '.'", "the decimal mark already"),
        ("[number]\nthousands = '-'", "thousands"),
        ("[number]\nsigned = true", "only a binary number"),
        ("[number]\ncode = 'binary'", "needs a length"),
        ("[number]\ncode = 'bcd'", "needs a length"),
        ("[number]\ncode = 'bcd'\nthousands = ' '", "only text"),
        ("[decimals]\nplaces = 2\nexponent = true", "an exponent stands in a group"),
        ("times = '7'", "times: found '7', expected one of 0.001"),
        ("times = '1e99'", "times"),
        ("longest = 127", "expected 128 to 512"),
        ("longest = 513", "expected 128 to 512"),
        ("parity = 'mark'", "parity"),
        ("padding = 'no'", "padding"),
        ("[patterns.value]\n'E[[a]' = 'error'", "write a backslash before that sign"),
        ("[orders.zero]\nsend = 'Z'\nack = '[[a]'", "write a backslash before that sign"),
        ("[patterns.value]\n'E(' = 'error'", "patterns.value"),
        ("[patterns.value]\n'(a+)+' = 'error'", "repeat"),
        ("[patterns.value]\n'E' = 'stable'", "a condition that it stands for"),
        ("[patterns.value]\n'E' = 'ok'", "a condition that it stands for"),
        ("[status.value]\nE = { group = 'x', words = {} }", "a bare word"),
        ("[patterns.unit]\n'E' = 'error'", "needs no table"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(more: str, says: str) -> None:
    with pytest.raises(GrammarError, match=r"x\.toml: ") as caught:
        made(TEXT + "(?P<unit>x?)" * ("unit" in more), more)
    assert says in str(caught.value)


def test_a_key_that_there_is_not_lists_those_that_there_are() -> None:
    for more, says in [
        ("decimel = ','", "decimel: no such key, allowed: name, about, regex, "),
        ("decimel = ','", "did you mean 'decimal'?"),
        ("[line]\nbaut = 9600", "line.baut: no such key, allowed: baud, bits, dtr, rts"),
        ("[number]\nkode = 'bcd'", "number.kode: no such key, allowed: code, order,"),
        ("[orders.zero]\nsent = 'Z'", "orders.zero.sent: no such key, allowed: send, ack,"),
    ]:
        with pytest.raises(GrammarError) as caught:
            made(TEXT, more)
        assert says in str(caught.value)


def test_a_regex_that_python_warns_of_is_refused_in_a_sentence() -> None:
    with pytest.raises(GrammarError, match=r"regex.*write a backslash before that sign"):
        made("[[a]" + TEXT)


# frames and factors


def test_a_printout_of_512_bytes_is_read_and_one_of_513_is_not() -> None:
    grammar = made(TEXT + "x+", "longest = 512")
    short, long = b"12.5" + b"x" * 508, b"12.5" + b"x" * 509
    assert weights(grammar, short) == ["12.5"]
    assert all(isinstance(item, Fault) for item in said(grammar, long + b"\n"))
    usual = made(TEXT + "x+")
    assert weights(usual, b"12.5" + b"x" * 124) == ["12.5"]
    assert all(isinstance(item, Fault) for item in said(usual, b"12.5" + b"x" * 125 + b"\n"))


def test_a_longer_frame_bears_fewer_repeats_since_each_multiplies_the_time() -> None:
    made(TEXT + "x*y*z*")
    made(TEXT + "x*y*", "longest = 512")
    with pytest.raises(GrammarError, match="more than 3 repeats"):
        made(TEXT + "x*y*z*", "longest = 512")
    with pytest.raises(GrammarError, match="more than 3 repeats"):
        made(TEXT + "x*y*z*", "length = 129")


def test_a_factor_counts_for_weight_and_tare_and_is_exact() -> None:
    more = "[status.r]\na = ''\nb = 'times 10'\nc = 'times 100'\nd = 'times 0.1'\n"
    grammar = made(f"(?P<r>[a-d]){TEXT};(?P<tare>[0-9.]+)", 'kind = "gross"\n' + more)
    items = said(grammar, b"a1.25;3\nb1.25;3\nc1.25;3\nd1.25;3\n")
    assert [(str(i.value), str(i.tare)) for i in items if isinstance(i, Reading)] == [
        ("1.25", "3"), ("12.50", "30"), ("125.00", "300"), ("0.125", "0.3"),
    ]  # fmt: skip
    assert weights(made(TEXT, "times = '10'"), b"12") == ["120"]
    both = made("(?P<r>[a-d])" + TEXT, "times = '10'\n" + more)
    assert weights(both, b"a12", b"b12", b"d12") == ["120", "1200", "12"]


def test_an_extra_digit_by_a_bit_moves_the_point() -> None:
    grammar = made(
        f"(?P<r>[0-9A-F]){TEXT}",
        "[bits.r]\ncode = 'hex'\n3 = 'times 0.1'\n[decimals]\nplaces = 1\n",
    )
    assert weights(grammar, b"01234", b"812345") == ["123.4", "123.45"]


# bits and bytes


def test_bits_side_by_side_are_one_number_and_one_that_was_not_told_is_no_reading() -> None:
    grammar = made(
        f"(?P<b>[0-9A-F]{{4}}){TEXT}",
        "[bits.b]\ncode = 'hex'\n'8-9' = ['unit g', 'unit kg', 'unit lb']\n15 = 'negative'\n",
        'end = "\\n"',
    )
    items = said(grammar, b"00001\n01001\n02001\n03001\n82FF1\n")
    assert [(str(i.value), i.unit) if isinstance(i, Reading) else None for i in items] == [
        ("1", "g"), ("1", "kg"), ("1", "lb"), None, ("-1", "lb"),
    ]  # fmt: skip


def test_digits_sent_last_first_are_turned_with_point_and_sign() -> None:
    grammar = made(TEXT, "[number]\norder = 'low-first'")
    assert weights(grammar, b"53.8110-", b"53.811", b"+5") == ["-118.35", "118.35", None]


BYTES = "(?P<value>.{%d})(?P<e>.)"


@pytest.mark.parametrize("order", ["high-first", "low-first"])
@pytest.mark.parametrize("number", [0, 1, -1, 127, 128, -128, 32767, -32768])
def test_a_binary_number_has_its_sign_and_its_power_of_ten(order: str, number: int) -> None:
    grammar = made(
        BYTES % 2,
        f"[number]\ncode = 'binary'\nsigned = true\norder = '{order}'\n"
        "[decimals]\ngroup = 'e'\nexponent = true\nmask = 255\n",
        'length = 3\nstart = "="\nend = "\\n"\nunit = "g"',
    )
    raw = number.to_bytes(2, "big" if order == "high-first" else "little", signed=True)
    for power in range(-8, 6):
        (item,) = said(grammar, b"=" + raw + bytes([power & 0xFF]) + b"\n") or [None]
        if -6 <= power <= 3:
            assert isinstance(item, Reading) and item.value == number * Decimal(10) ** power
        else:
            assert not isinstance(item, Reading)


@pytest.mark.parametrize(("bits", "power"), [(0, 0), (3, 3), (4, -4), (7, -1)])
def test_a_power_of_ten_of_three_bits_has_its_sign_in_the_third(bits: int, power: int) -> None:
    table = "[decimals]\ngroup = 'e'\ncode = 'hex'\nexponent = true\nmask = 7\n"
    (item,) = said(made("(?P<e>[0-7])(?P<value>[0-9]{3})", table), b"%d012\n" % bits)
    assert isinstance(item, Reading) and item.value == 12 * Decimal(10) ** power


def test_no_bytes_are_no_number() -> None:
    for code in ("binary", "bcd", "text"):
        assert figure(b"", Form(".", Number(code)), None) is None


def test_a_bit_that_was_not_sent_says_nothing() -> None:
    table = "[bits.b]\ncode = 'hex'\n4 = ['stable', 'moving']\n"
    short, whole = said(made("(?P<b>[0-9A-F]{1,2});(?P<value>[0-9]+)", table), b"1;5\n10;5\n")
    assert isinstance(short, Fault) and isinstance(whole, Reading)


def test_bit_31_is_the_last() -> None:
    table = "[bits.b]\ncode = 'hex'\n31 = ['stable', 'moving']\n"
    (item,) = said(made("(?P<b>[0-9A-F]{8})(?P<value>[0-9]+)", table), b"800000005\n")
    assert isinstance(item, Reading) and item.stable


def test_a_checksum_that_the_regex_lets_be_missing_is_no_reading() -> None:
    grammar = made("(?P<value>[0-9]{2})(?P<checksum>..)?", "[checksum]\nkind = 'sum'")
    (item,) = said(grammar, b"12\n")
    assert isinstance(item, Fault)


def test_a_binary_number_without_a_sign_is_never_negative() -> None:
    frame = 'length = 2\nstart = "="\nend = "\\n"\nunit = "g"'
    grammar = made("(?P<value>.{2})", "[number]\ncode = 'binary'", frame)
    assert [str(i.value) for i in said(grammar, b"=\xff\xfe\n") if isinstance(i, Reading)] == [
        "65534"
    ]


def test_two_digits_in_a_byte_are_digits_or_no_number() -> None:
    frame = 'length = 3\nstart = "="\nend = "\\n"\nunit = "g"'
    for order, data in (("high-first", b"\x01\x23\x45"), ("low-first", b"\x45\x23\x01")):
        grammar = made("(?P<value>.{3})", f"[number]\ncode = 'bcd'\norder = '{order}'", frame)
        (good,) = said(grammar, b"=" + data + b"\n")
        assert isinstance(good, Reading) and str(good.value) == "12345"
        assert not [
            i for i in said(grammar, b"=\x01\x2a\x45\n=\xf1\x23\x45\n") if isinstance(i, Reading)
        ]


# pounds, stone, pieces


IMPERIAL = (
    "(?:(?P<value>[0-9.]{3})(?P<unit>kg)|"
    "(?P<stone>-?[0-9])st (?P<pounds>[0-9]{1,2})lb(?: (?P<ounces>[0-9.]+)oz)?)"
)


def test_stone_pounds_and_ounces_stand_beside_kilograms_and_a_missing_part_is_no_weight() -> None:
    """1 stone = 14 lb, 1 lb = 16 oz (avoirdupois; common practice)."""
    grammar = made(IMPERIAL, "", 'end = "\\n"')
    items = said(
        grammar, b"1.5kg\n1st 2lb 3.5oz\n-1st 2lb 3oz\n1st 2lb\n1st 14lb 0oz\n1st 2lb 16oz\n"
    )
    assert [(str(i.value), i.unit) if isinstance(i, Reading) else None for i in items] == [
        ("1.5", "kg"), ("259.5", "oz"), ("-259", "oz"), None, None, None,
    ]  # fmt: skip


def test_stone_and_pounds_need_no_ounces_where_the_frame_has_none() -> None:
    grammar = made("(?P<stone>[0-9]+)st (?P<pounds>[0-9.]+)lb", "", 'end = "\\n"')
    assert weights(grammar, b"1st 2.5lb", b"1.5st 2lb", b"2st 13.9lb") == [
        "264.0", None, "670.4",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("regex", "more", "says"),
    [
        ("(?P<ounces>[0-9]+)", "", "pounds and ounces"),
        ("(?P<stone>[0-9]+)(?P<ounces>[0-9])", "", "pounds and ounces"),
        ("(?P<pounds>[0-9]+)", "", "pounds alone are a value"),
        (
            "(?P<pounds>[0-9]+) (?P<ounces>[0-9]+)",
            "[number]\norder = 'low-first'",
            "first digit first",
        ),
        ("(?P<value>[0-9]+)|(?P<pounds>[0-9]+) (?P<ounces>[0-9])", "", "says which it is|unit"),
    ],
)
def test_weights_in_parts_that_cannot_be_are_named(regex: str, more: str, says: str) -> None:
    with pytest.raises(GrammarError, match=says):
        made(regex, more, 'end = "\\n"')


# parity


@pytest.mark.parametrize("parity", ["even", "odd"])
def test_parity_that_was_left_on_is_taken_off_and_a_turned_bit_is_no_reading(parity: str) -> None:
    grammar = made(TEXT, f"parity = '{parity}'")
    plain = b"118.35\n"
    sent = bytes(b if b.bit_count() % 2 == (parity == "odd") else b | 0x80 for b in plain)
    (good,) = said(grammar, sent)
    assert isinstance(good, Reading) and str(good.value) == "118.35"
    filler = made(TEXT + "(?s:.)*", f"parity = '{parity}'")
    for bit in range(8 * len(sent)):
        bad = bytearray(sent)
        bad[bit // 8] ^= 1 << bit % 8
        for each in (grammar, filler):
            assert not [i for i in said(each, bytes(bad)) if isinstance(i, Reading)]


def test_any_parity_is_taken_off_unread() -> None:
    assert weights(made(TEXT, "parity = 'any'"), bytes(b | 0x80 for b in b"118.35")) == ["118.35"]


# words


def test_err_and_a_digit_in_place_of_the_number_is_an_error_that_keeps_its_word() -> None:
    more = "[status.value]\n'----' = 'overload'\n[patterns.value]\n'Err ?[0-9]' = 'error'\n"
    grammar = made("(?P<value>[-A-Za-z0-9. ]+)", more)
    items = said(grammar, b" Err 4\nErr7 \n----\nErr x\n1.5\n")
    assert [(i.condition, i.word) if isinstance(i, Reading) else None for i in items] == [
        (Condition.ERROR, "Err 4"), (Condition.ERROR, "Err7"), (Condition.OVERLOAD, "----"), None,
        (Condition.OK, ""),
    ]  # fmt: skip


def test_a_pattern_of_a_status_word_holds_where_no_word_is_told_and_keeps_the_word() -> None:
    more = "[status.s]\nE9 = 'overload'\nOK = 'stable'\n[patterns.s]\n'E[0-9]' = 'error'\n"
    items = said(made("(?P<s>..)" + TEXT, more), b"E31.5\nE91.5\nOK1.5\nXX1.5\n")
    assert [(i.condition, i.word) if isinstance(i, Reading) else None for i in items] == [
        (Condition.ERROR, "E3"), (Condition.OVERLOAD, "E9"), (Condition.OK, ""), None,
    ]  # fmt: skip


BESIDE = """[status.s]
S = { group = "m", words = { G = "stable", C = "error" } }
M = "moving"
[status.m]
G = "gross"
C = ""
X = ""
"""


def test_a_word_means_what_its_neighbour_makes_of_it_and_beside_another_nothing() -> None:
    grammar = made("(?P<s>[SM]) (?P<m>[GCX]) " + TEXT, BESIDE)
    items = said(grammar, b"S G 1\nS C 1\nM C 1\nS X 1\n")
    assert [(i.condition, i.stable) if isinstance(i, Reading) else None for i in items] == [
        (Condition.OK, True), (Condition.ERROR, None), (Condition.OK, False), None,
    ]  # fmt: skip


@pytest.mark.parametrize("group", ["s", "value", "none"])
def test_a_neighbour_must_be_another_group_of_words(group: str) -> None:
    with pytest.raises(GrammarError, match="no other group"):
        made("(?P<s>[SM])(?P<m>[GCX])" + TEXT, BESIDE.replace('"m"', f'"{group}"'))


def test_the_meanings_beside_a_neighbour_are_checked() -> None:
    with pytest.raises(GrammarError, match="stabel"):
        made("(?P<s>[SM])(?P<m>[GCX])" + TEXT, BESIDE.replace('"stable"', '"stabel"'))


def test_blanks_around_a_word_do_not_count_unless_told_or_unless_they_make_another_word() -> None:
    regex, table = "(?P<s>[SMO ]{2})" + TEXT, "[status.s]\nS = 'stable'\n' M' = 'moving'\n"
    frames = b"S 1\n S1\nM 1\n M1\n  1\n"

    def told(grammar: Grammar) -> list[bool | None]:
        return [i.stable if isinstance(i, Reading) else None for i in said(grammar, frames)]

    assert told(made(regex, table)) == [True, True, False, False, None]
    assert told(made(regex, "padding = 'counts'\n" + table)) == [None, None, None, False, None]
    two = table + "'S ' = 'moving'\n"
    assert told(made(regex, two)) == [False, None, False, False, None]


def test_pieces_are_read_and_are_no_mass() -> None:
    """The station takes grams from units of mass alone; test_heard.py has the sentence."""
    (item,) = said(made(TEXT + " (?P<unit>pcs)", "", 'end = "\\n"'), b"12 pcs\n")
    assert isinstance(item, Reading) and item.unit == "pcs"
