"""A checksum that the grammar leaves out is suspected; what is none is not called one."""

import os
import random
from collections.abc import Callable

import pytest

from drivers.grammar import GrammarError
from drivers.reading import Reading
from drivers.sums import SUMS, Code, Order, SumName
from drivers.unread import suspicion
from tests.drivers.formats import END, START, bodies, checked, grammar, read
from tests.drivers.test_conformance import GRAMMARS, ended, frames, parser_of
from tests.drivers.test_sums import WAYS

MANY = 12


def seed_for(kind: SumName, code: Code, order: Order) -> int:
    """Weights whose checks look like no mark."""
    return next(
        seed
        for seed in range(100)
        if not any(
            START in frame or END[:1] in frame
            for frame in (checked(body, kind, code, order) for body in bodies(seed, MANY))
        )
    )


@pytest.mark.parametrize(("kind", "code", "order"), WAYS)
def test_every_known_sum_that_the_grammar_takes_for_filler_is_named(
    kind: SumName, code: Code, order: Order
) -> None:
    sent = [checked(b, kind, code, order) for b in bodies(seed_for(kind, code, order), MANY)]
    found = suspicion(grammar(), read(grammar(), sent))
    assert found is not None and found.known is not None
    assert (found.known.kind, found.known.code) == (kind, code)
    assert found.known.order == order or kind == "sum16"
    assert (found.known.first, found.known.last, found.known.width) == ("frame", None, 8)
    assert (found.frames, found.held) == (MANY, MANY)
    assert found.at == len(START + sent[0]) - found.size
    assert f'kind = "{kind}"' in found.next and "passes for a weight" in found.says


def test_what_it_says_to_write_reads_the_frames_and_stops_the_word() -> None:
    sent = [checked(body, "crc16-modbus", "hex", "low-first") for body in bodies(1, MANY)]
    found = suspicion(grammar(), read(grammar(), sent))
    assert found is not None
    table = found.next.partition("[checksum] with ")[2].partition(";")[0].replace(", ", "\n")
    mended = grammar("(?P<checksum>.{4})", f"[checksum]\n{table}")
    items = read(mended, sent)
    assert all(isinstance(item, Reading) for item in items) and len(items) == MANY
    assert suspicion(mended, items) is None


def test_the_damaged_frame_that_read_another_weight_does_not_hide_the_sum() -> None:
    """1234.5 became 1236.5 on the line, and the sum, taken for filler, said nothing."""
    good = checked(b"S  1234.5kg", "sum")
    bad = good.replace(b"4.5", b"6.5")
    sent = [*(checked(body, "sum") for body in bodies(2, MANY)), good, bad]
    items = read(grammar(), sent)
    assert [str(item.value) for item in items[-2:] if isinstance(item, Reading)] == [
        "1234.5", "1236.5",
    ]  # fmt: skip
    found = suspicion(grammar(), items)
    assert found is not None and found.known is not None
    assert (found.frames, found.held) == (MANY + 2, MANY + 1)
    assert f"{MANY + 1} of {MANY + 2}" in found.says and "may be damaged" in found.says


def test_more_damaged_frames_than_one_in_eight_are_no_sum() -> None:
    sent = [checked(body, "sum") for body in bodies(2, 8)]
    bad = [frame[:-1] + bytes([frame[-1] ^ 1]) for frame in sent]
    one = suspicion(grammar(), read(grammar(), [*sent[:7], bad[7]]))
    two = suspicion(grammar(), read(grammar(), [*sent[:6], *bad[6:]]))
    assert one is not None and one.known is not None and one.held == 7
    assert two is None or two.known is None


@pytest.mark.parametrize("many", [3, 4])
def test_four_different_frames_are_enough_and_three_are_not(many: int) -> None:
    items = read(grammar(), [checked(body, "xor") for body in bodies(4, many)] * 5)
    assert (suspicion(grammar(), items) is not None) == (many == 4)


def test_frames_with_the_same_digits_in_another_order_do_not_hide_the_sum() -> None:
    weights = ["  12.30", "  12.03", "  45.67", "  98.10"]  # the first two have one sum
    sent = [checked(f"S {weight}kg".encode(), "sum") for weight in weights]
    found = suspicion(grammar(), read(grammar(), sent))
    assert found is not None and found.known is not None


def test_a_group_whose_pattern_lets_everything_pass_is_not_read() -> None:
    made = grammar("(?P<tail>.*)", "[patterns.tail]\n'.*' = ''")
    found = suspicion(made, read(made, [checked(body, "crc16-arc") for body in bodies(1, MANY)]))
    assert found is not None and found.known is not None


def test_what_only_varies_in_two_places_may_be_a_sum_by_chance() -> None:
    two = [f"S   10.{n}kg".encode() for n in (12, 34, 56, 78, 90)]
    three = [f"S  {n % 7 + 1}10.{n}kg".encode() for n in (12, 34, 56, 78, 90)]
    for sent, told in ((two, False), (three, True)):
        items = read(grammar(), [checked(body, "sum") for body in sent])
        assert all(isinstance(item, Reading) for item in items)
        found = suspicion(grammar(), items)
        assert (found is not None and found.known is not None) == told


@pytest.mark.parametrize(
    ("regex", "frame", "first", "last"),
    [
        (".*", lambda b: b + b"*" + b"%02X" % SUMS["xor"].of(b), "frame", "unit"),
        (".*", lambda b: b + b"%02X" % SUMS["xor"].of(b[1:]), "value", None),
        (".*", lambda b: b + b"%02X" % SUMS["xor"].of(START + b), "start", None),
    ],
)
def test_a_sum_over_a_part_of_the_frame_is_named_with_its_part(
    regex: str, frame: Callable[[bytes], bytes], first: str, last: str | None
) -> None:
    made = grammar(regex)
    found = suspicion(made, read(made, [frame(body) for body in bodies(5, MANY)]))
    assert found is not None and found.known is not None
    assert (found.known.first, found.known.last) == (first, last)


def test_a_check_behind_the_end_mark_is_found_there() -> None:
    """STX, text, ETX and then the check: the parser passes over it as bytes between frames."""
    made = grammar("", "")

    def frame(body: bytes) -> bytes:
        return START + body + END + bytes([SUMS["xor"].of(body + END) | 0x80])

    def whole(body: bytes) -> bytes:
        return START + body + END + b"%02X" % SUMS["xor"].of(body + END)

    found = suspicion(made, read(made, bodies(6, MANY), whole))
    assert found is not None and found.known is not None and found.behind_end
    assert (found.known.first, found.known.last) == ("frame", None)
    assert "leave `end` out" in found.next
    other = suspicion(made, read(made, bodies(6, MANY), frame))
    assert other is None or other.known is None  # no sum of ours has its highest bit always set


def test_frames_of_different_lengths_are_looked_at_from_both_ends() -> None:
    made = grammar(
        "(?:[0-9A-F]{2})? ?.*"
    ).pattern  # the regex only; the frames below vary in length
    assert made
    text = "(?P<tail>x{0,3})"
    varying = grammar(f".{{2}}{text}", "[status.tail]\n'' = ''\nx = ''\nxx = ''\nxxx = ''")
    sent = [
        body + b"%02X" % SUMS["sum"].of(body) + b"x" * (n % 4)
        for n, body in enumerate(bodies(7, MANY))
    ]
    found = suspicion(varying, read(varying, sent))
    assert found is not None and found.known is not None and found.known.kind == "sum"


def test_a_sum_that_nobody_knows_looks_like_a_check_field() -> None:
    sent = [body + b"%02X" % (SUMS["crc8"].of(body) * 167 + 91 & 0xFF) for body in bodies(8, MANY)]
    found = suspicion(grammar(), read(grammar(), sent * 2))
    assert found is not None and found.known is None
    assert "nobody checks" in found.says and "[checksum]" in found.next


@pytest.mark.parametrize("many", [5, 6])
def test_six_different_frames_are_enough_for_an_unknown_one_and_five_are_not(many: int) -> None:
    sent = [body + b"%02X" % (SUMS["crc8"].of(body) * 167 + 91 & 0xFF) for body in bodies(8, many)]
    assert (suspicion(grammar(), read(grammar(), sent)) is not None) == (many == 6)


def test_a_sum_of_seven_bits_is_named_with_its_width() -> None:
    sent = [b + bytes([SUMS["complement"].of(b) & 0x7F]) for b in bodies(9, 40)]
    items = read(grammar(), [s for s in sent if not {10, 13, 30} & {s[-1]}])
    found = suspicion(grammar(), items)
    assert found is not None and found.known is not None
    assert (found.known.kind, found.known.width) == ("complement", 7)
    assert "width = 7" in found.next


def test_a_reason_in_the_file_stops_the_word_and_must_be_one() -> None:
    sent = [checked(body, "xor") for body in bodies(1, MANY)]
    told = grammar(".*", "unchecked = 'two figures of the printer, by its papers'")
    assert suspicion(told, read(told, sent)) is None
    with pytest.raises(GrammarError, match="unchecked"):
        grammar(".*", "unchecked = ' '")
    with pytest.raises(GrammarError, match="unchecked"):
        grammar("(?P<checksum>..)", "unchecked = 'why'\n[checksum]\nkind = 'xor'")


# what is no checksum


def weight_of(body: bytes) -> int:
    return int(body[1:9].replace(b".", b""))


def no_checks(rng: random.Random) -> dict[str, Callable[[int, bytes], bytes]]:
    """Fields that are none, by the number of the frame and its body."""
    ident, step, mult = rng.randbytes(2), rng.randrange(1, 9), rng.randrange(3, 99)
    return {
        "counter": lambda n, body: b"%02X" % (n * step & 0xFF),
        "decimal counter": lambda n, body: b"%03d" % (n * step % 1000),
        "binary counter": lambda n, body: bytes([n * step & 0xFF]),
        "constant": lambda n, body: b"%02X" % ident[0],
        "id": lambda n, body: ident.hex().upper().encode(),
        "status letter": lambda n, body: b"AB"[body[0] == 83 :][:1],
        "random letter": lambda n, body: rng.choice([b"P", b"Q", b"R"]),
        "last digit again": lambda n, body: body[8:9],
        "last two digits": lambda n, body: body[7:9],
        "last digit as a byte": lambda n, body: bytes([0x30 ^ body[8]]),
        "weight in hex": lambda n, body: b"%05X" % weight_of(body),
        "weight low byte": lambda n, body: bytes([weight_of(body) & 0xFF]),
        "weight times": lambda n, body: b"%02X" % (weight_of(body) * mult & 0xFF),
        "converter": lambda n, body: b"%04X" % (weight_of(body) * mult // 100 + 2000 & 0xFFFF),
        "net beside it": lambda n, body: b"%8.2f" % ((weight_of(body) - 1200) / 100),
        "pieces": lambda n, body: b"%06d" % (weight_of(body) // 37),
        "clock": lambda n, body: b"12:%02d:%02d" % (n // 60, n % 60),
        "noise": lambda n, body: rng.randbytes(1).hex().upper().encode(),
        "wide noise": lambda n, body: rng.randbytes(2).hex().upper().encode(),
    }


NAMES = sorted(no_checks(random.Random(0)))
TRIES = int(os.environ.get("STATION_UNREAD", "6"))


def alarms(name: str, many: int, pouring: bool) -> tuple[int, int]:
    """How often of `TRIES` a field of that name is called a known sum, and a check field at all."""
    known = any_ = 0
    for seed in range(TRIES):
        rng = random.Random(f"{name} {many} {seed}")
        field = no_checks(rng)[name]
        weights = poured(seed, many) if pouring else bodies(seed, many)
        sent = [body + b";" + field(n, body) for n, body in enumerate(weights)]
        found = suspicion(grammar(), read(grammar(), [s for s in sent if END not in s]))
        any_ += found is not None
        known += found is not None and found.known is not None
    return known, any_


def poured(seed: int, many: int) -> list[bytes]:
    """A pour: each weight a little more than the one before."""
    rng, weight = random.Random(seed), 1000
    found = []
    for _ in range(many):
        weight += rng.randrange(1, 30)
        found.append(f"M{weight / 100:8.2f}kg".encode())
    return found


@pytest.mark.parametrize("pouring", [False, True])
@pytest.mark.parametrize("name", NAMES)
def test_a_field_that_is_no_check_is_never_called_a_known_sum(name: str, pouring: bool) -> None:
    for many in (4, 6, 9, 20):
        assert alarms(name, many, pouring)[0] == 0, many


LIKE = {"noise", "wide noise", "weight times", "weight low byte", "converter"}
"""Noise, and a weight in code that runs over, look like a check; of all others nothing is told."""


@pytest.mark.parametrize("name", sorted(set(NAMES) - LIKE))
def test_counters_constants_words_and_other_figures_do_not_even_look_like_one(name: str) -> None:
    assert alarms(name, 20, False)[1] == 0


@pytest.mark.parametrize("name", sorted(GRAMMARS))
def test_no_shipped_grammar_leaves_a_checksum_of_its_capture_out(name: str) -> None:
    made = parser_of(GRAMMARS[name])
    items = [i for chunk in ended(name, frames(name)) for i in made.feed(chunk, 1.0)]
    assert suspicion(GRAMMARS[name], items) is None
