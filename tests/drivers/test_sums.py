"""The sums by which frames are checked, against a library that is kept up (crccheck)."""

from typing import get_args

import pytest
from crccheck import checksum, crc
from hypothesis import given
from hypothesis import strategies as st

from drivers.grammar import GrammarError
from drivers.reading import Fault, Reading
from drivers.sums import SUMS, Code, Order, SumName, sent, size
from tests.drivers.formats import END, START, bodies, checked, grammar, read, sent_as

CATALOGUE = {
    "crc8": (crc.Crc8Smbus, 0xF4),
    "crc8-maxim": (crc.Crc8Maxim, 0xA1),
    "crc16-arc": (crc.CrcArc, 0xBB3D),
    "crc16-modbus": (crc.CrcModbus, 0x4B37),
    "crc16-ccitt-false": (crc.Crc16CcittFalse, 0x29B1),
    "crc16-xmodem": (crc.CrcXmodem, 0x31C3),
    "crc16-kermit": (crc.CrcKermit, 0x2189),
}
"""The check value of each, of the bytes "123456789": from memory of the published catalogue of
parametrised CRC algorithms, and computed here by crccheck."""
WAYS = [
    (kind, code, order)
    for kind in SUMS
    for code in get_args(Code)
    for order in (
        get_args(Order) if SUMS[kind].bits == 16 and code != "decimal" else ["high-first"]
    )
]


@pytest.mark.parametrize("kind", CATALOGUE)
def test_the_check_value_is_the_one_that_is_published(kind: SumName) -> None:
    library, value = CATALOGUE[kind]
    assert SUMS[kind].of(b"123456789") == value == library.calc(b"123456789")


@given(st.binary(max_size=600))
def test_every_sum_is_what_the_library_computes(data: bytes) -> None:
    for kind, (library, _) in CATALOGUE.items():
        assert SUMS[kind].of(data) == library.calc(data), kind
    assert SUMS["xor"].of(data) == checksum.ChecksumXor8.calc(data)
    assert SUMS["sum"].of(data) == checksum.Checksum8.calc(data)
    assert (SUMS["sum"].of(data) + SUMS["complement"].of(data)) % 256 == 0
    assert SUMS["sum"].of(data) ^ SUMS["inverse"].of(data) == 0xFF


def test_a_sum_of_sixteen_bits_begins_anew_at_65536() -> None:
    assert SUMS["sum16"].of(b"\xff" * 257) == 65535
    assert SUMS["sum16"].of(b"\xff" * 257 + b"\x01") == 0
    assert SUMS["sum16"].of(b"123456789") == 0x01DD  # 49 + ... + 57 = 477


def test_every_kind_of_the_grammar_is_there() -> None:
    assert set(SUMS) == set(get_args(SumName))


@pytest.mark.parametrize(("kind", "code", "order"), WAYS)
def test_every_sum_that_was_sent_is_read_back_and_no_other_length_is_one(
    kind: SumName, code: Code, order: Order
) -> None:
    bits = SUMS[kind].bits
    for number in (0, 1, 0x7F, 0xFF, (1 << bits) - 2):
        field = sent_as(number, bits, code, order)
        assert len(field) == size(bits, code)
        assert sent(field, bits, code, order) == number
        assert sent(field[:-1], bits, code, order) is sent(field + b"0", bits, code, order) is None


@pytest.mark.parametrize("field", [b"4 ", b" 4", b"+4", b"G0", b"4\xe9"])
def test_what_is_no_hexadecimal_number_is_no_sum(field: bytes) -> None:
    assert sent(field, 8, "hex", "high-first") is None
    assert sent(field + b"4", 8, "decimal", "high-first") is None
    assert sent(b"44  ", 16, "hex", "high-first") is None


def check_of(kind: SumName, code: Code, order: Order) -> tuple[str, str]:
    width = size(SUMS[kind].bits, code)
    table = f'[checksum]\nkind = "{kind}"\ncode = "{code}"\norder = "{order}"\n'
    return f"(?P<checksum>.{{{width}}})", table


@pytest.mark.parametrize(("kind", "code", "order"), WAYS)
def test_a_grammar_reads_every_sum_and_no_frame_with_a_turned_bit_is_another_weight(
    kind: SumName, code: Code, order: Order
) -> None:
    made = grammar(*check_of(kind, code, order))
    for body in bodies(3, 6):
        frame = checked(body, kind, code, order)
        if START in frame or END[:1] in frame:
            continue  # a check that looks like a mark wants the length
        (good,) = read(made, [frame])
        assert isinstance(good, Reading), good
        for bit in range(8 * len(frame)):
            bad = bytearray(frame)
            bad[bit // 8] ^= 1 << bit % 8
            for item in read(made, [bytes(bad)]):
                same = isinstance(item, Fault) or (item.value, item.unit, item.stable) == (
                    good.value, good.unit, good.stable,
                )  # fmt: skip
                assert same, bytes(bad)


def test_seven_bits_of_a_sum_of_sixteen_are_refused() -> None:
    with pytest.raises(GrammarError, match=r"checksum\.width: sum16 has 16 bits"):
        grammar("(?P<checksum>.{4})", '[checksum]\nkind = "sum16"\nwidth = 7')


@pytest.mark.parametrize(
    ("regex", "table", "says"),
    [
        ("(?P<checksum>.{2})", "kind = 'crc16-arc'", "crc16-arc in hex has 4 byte(s), its group 2"),
        ("(?P<checksum>.{2})", "kind = 'sum'\ncode = 'decimal'", "has 3 byte(s), its group 2"),
        ("(?P<checksum>.{2})", "kind = 'sum'\nfirst = 'unit'", "must cover the number"),
        ("(?P<checksum>.{2})", "kind = 'sum'\nlast = 'state'", "must cover the number"),
    ],
)
def test_a_checksum_that_cannot_be_or_leaves_the_number_out_is_refused(
    regex: str, table: str, says: str
) -> None:
    with pytest.raises(GrammarError) as caught:
        grammar(regex, f"[checksum]\n{table}")
    assert says in str(caught.value)
