"""The short code on a sheet: which event of which ledger it was printed at, for a person to type.

23 signs, a prime, so that a last sign that weighs every place by its own factor tells any one sign
that was mistyped and any two that changed places. Of signs that look alike one at most is in
it: of 0 O Q, 1 I L, 2 Z, 5 S, 8 B, 6 G, U V.
"""

from dataclasses import dataclass

ALPHABET = "34679ACDEFHJKMNPRTUWXYQ"
_DIGEST = 8
"""Signs of the hash: 23 ** 8 is some 78 thousand million, so that a false code meets by chance one
time in as many."""
_MOST = 22
"""Places that have a factor of their own."""


class Mistyped(ValueError):
    """No code of a sheet; the message says why."""


@dataclass(frozen=True, slots=True)
class SheetCode:
    """What a code says: the event's number, and its hash cut short, as signs."""

    seq: int
    digest: str


def sheet_code(seq: int, head: str) -> str:
    """The code of event `seq` with the hash `head`, its first 16 hex digits or more."""
    signs = _digest(head) + _signs(seq)
    signs += ALPHABET[_sum(signs)]
    return "-".join(signs[at : at + 4] for at in range(0, len(signs), 4))


def read_code(typed: str) -> SheetCode:
    """What a person typed, in either case, with any blanks and hyphens. Raises `Mistyped`."""
    signs = "".join(typed.upper().replace("-", " ").split())
    if strange := sorted(set(signs) - set(ALPHABET)):
        raise Mistyped(f"{' '.join(strange)} is in no code")
    if not _DIGEST + 2 <= len(signs) <= _MOST:
        raise Mistyped(f"a code has {_DIGEST + 2} to {_MOST} signs, not {len(signs)}")
    if ALPHABET[_sum(signs[:-1])] != signs[-1]:
        raise Mistyped("its last sign does not fit the others")
    seq = 0
    for sign in signs[_DIGEST:-1]:
        seq = seq * len(ALPHABET) + ALPHABET.index(sign)
    return SheetCode(seq, signs[:_DIGEST])


def fits(code: SheetCode, head: str) -> bool:
    """Whether the code was made of an event with the hash `head`, in hex."""
    return code.digest == _digest(head)


def _digest(head: str) -> str:
    short = int("".join(head.split())[:16], 16) % len(ALPHABET) ** _DIGEST
    return _signs(short).rjust(_DIGEST, ALPHABET[0])


def _signs(number: int) -> str:
    signs = ""
    while number or not signs:
        number, rest = divmod(number, len(ALPHABET))
        signs = ALPHABET[rest] + signs
    return signs


def _sum(signs: str) -> int:
    weighed = (place * ALPHABET.index(sign) for place, sign in enumerate(signs, 1))
    return sum(weighed) % len(ALPHABET)
