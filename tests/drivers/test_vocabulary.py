"""What a grammar can say of words, bits and frames: each is read as it was sent, or not at all."""

import pytest

from drivers.grammar import Grammar, GrammarError
from drivers.reading import Condition, Fault, Reading
from tests.drivers.framing import TEXT, made, said, weights


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


# bits and bytes


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


# pounds, stone, pieces


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
