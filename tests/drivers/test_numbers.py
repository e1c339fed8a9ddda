"""What a grammar can say of numbers: each is read as it was sent, or not at all."""

from decimal import Decimal

import pytest

from drivers.figure import Form, figure
from drivers.grammar import GrammarError
from drivers.grammar_file import Number
from drivers.reading import Reading
from tests.drivers.framing import TEXT, made, said, weights

BYTES = "(?P<value>.{%d})(?P<e>.)"
IMPERIAL = (
    "(?:(?P<value>[0-9.]{3})(?P<unit>kg)|"
    "(?P<stone>-?[0-9])st (?P<pounds>[0-9]{1,2})lb(?: (?P<ounces>[0-9.]+)oz)?)"
)


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


def test_pieces_are_read_and_are_no_mass() -> None:
    """The station takes grams from units of mass alone; test_heard.py has the sentence."""
    (item,) = said(made(TEXT + " (?P<unit>pcs)", "", 'end = "\\n"'), b"12 pcs\n")
    assert isinstance(item, Reading) and item.unit == "pcs"
