"""What looks like a check field though no known sum holds in it, and what explains one away."""

import zlib
from collections.abc import Callable

import pytest

from drivers.unread import suspicion
from tests.drivers.formats import bodies, grammar, read
from tests.drivers.test_unread import weight_of


def told(sent: list[bytes]) -> bool:
    """Whether a field is told that looks like a check; a known sum is not meant here."""
    found = suspicion(grammar(), read(grammar(), sent))
    assert found is None or found.known is None
    return found is not None


def mix(data: bytes) -> int:
    """A number of 32 bits that no sum of the project tells."""
    return zlib.crc32(data * 3)


def hashed(form: str, most: int) -> Callable[[bytes], bytes]:
    return lambda body: (form % (mix(body) % most)).encode()


@pytest.mark.parametrize(
    ("field", "like"),
    [
        (hashed("%02X", 1 << 8), True),
        (hashed("%04X", 1 << 16), True),
        (hashed("%05X", 1 << 20), False),
        (hashed("%06X", 1 << 24), False),
        (hashed("%03d", 1000), True),
        (hashed("%05d", 100_000), True),
        (hashed("%04d", 10_000), False),
        (hashed("%06d", 1_000_000), False),
        (lambda body: (mix(body) % 4096 + 61440).to_bytes(2, "big"), True),
        (lambda body: bytes(65 + mix(body) // 6**n % 6 for n in range(6)), False),
        (lambda body: b"%.2f" % (mix(body) % 1000 / 100), False),
    ],
)
def test_a_check_is_short_and_a_longer_figure_is_none(
    field: Callable[[bytes], bytes], like: bool
) -> None:
    weights = [body for body in bodies(1, 24) if not {10, 13, 30} & {*field(body)}]
    assert told([body + b";" + field(body) for body in weights]) == like


@pytest.mark.parametrize(("different", "like"), [(5, False), (6, True)])
def test_three_of_four_frames_have_another_field(different: int, like: bool) -> None:
    fields = ["A7", "3F", "C1", "5B", "E9", "D4"][:different]
    sent = [b + b";" + fields[n % different].encode() for n, b in enumerate(bodies(3, 8))]
    assert told(sent) == like


def test_a_field_that_one_digit_tells_is_no_check() -> None:
    digits = {"1": "A7", "2": "3F", "3": "C1", "4": "5B", "5": "E9"}
    weights = ["12.11", "48.31", "20.72", "91.03", "75.64", "36.95"]
    sent = [f"S{w:>8}kg;{digits[w[-1]]}".encode() for w in weights]
    assert not told(sent)
    assert told([*sent[:-1], sent[-1][:-2] + b"2C", f"S{'55.51':>8}kg;9D".encode()])


def test_a_field_that_differs_in_equal_frames_is_no_check_but_one_may_be_damaged() -> None:
    sent = [body + b";%02X" % (mix(body) & 0xFF) for body in bodies(3, 12)]
    noise = [body + b";%02X" % (mix(body) >> 8 & 0xFF) for body in bodies(3, 12)]
    assert told(sent * 2)
    assert told([*sent, noise[0]])
    assert not told([*sent, *noise[:2]])


def test_a_field_that_follows_the_weight_is_no_check() -> None:
    rising = [body + b";%04X" % (0xA000 + weight_of(body) // 3) for body in bodies(3, 12)]
    falling = [body + b";%04X" % (0xFFFF - weight_of(body) // 3) for body in bodies(3, 12)]
    assert not told(rising) and not told(falling)
    both = bodies(3, 12)
    both += [(b"M" if b[:1] == b"S" else b"S") + b[1:] for b in both[:3]]
    assert not told([b + b";%04X" % (mix(b[1:]) & 0xFFFF) for b in both])  # of the weight alone
    assert told([b + b";%04X" % (mix(b) & 0xFFFF) for b in both])


def test_a_counter_that_turns_over_is_no_check() -> None:
    weights = bodies(3, 16)
    assert not told([b + b";%02X" % (n * 37 & 0xFF) for n, b in enumerate(weights)])
    assert told([b + b";%02X" % (mix(b) & 0xFF) for b in weights])
