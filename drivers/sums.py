"""The sums by which frames are checked. Pure."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial, reduce
from operator import xor
from typing import Literal

SumName = Literal[
    "xor", "sum", "complement", "inverse", "sum16", "crc8", "crc8-maxim", "crc16-arc",
    "crc16-modbus", "crc16-ccitt-false", "crc16-xmodem", "crc16-kermit",
]  # fmt: skip
Code = Literal["hex", "binary", "decimal"]
"""How a sum is sent: two hexadecimal digits a byte, bytes as they are, three or five digits."""
Order = Literal["high-first", "low-first"]
"""Which of two bytes comes first."""


@dataclass(frozen=True, slots=True)
class Sum:
    """How many bits a sum has, and what it is of bytes."""

    bits: int
    of: Callable[[bytes], int]


@cache
def _table(bits: int, polynomial: int, reflected: bool) -> tuple[int, ...]:
    """What a register does with each byte; `polynomial` as published, its highest bit left out."""
    top, mask = 1 << bits - 1, (1 << bits) - 1
    turned = int(f"{polynomial:0{bits}b}"[::-1], 2)
    rows = []
    for byte in range(256):
        register = byte if reflected else byte << bits - 8
        for _ in range(8):
            if reflected:
                register = register >> 1 ^ (turned if register & 1 else 0)
            else:
                register = (register << 1 ^ (polynomial if register & top else 0)) & mask
        rows.append(register)
    return tuple(rows)


def _crc(bits: int, polynomial: int, begin: int, reflected: bool, data: bytes) -> int:
    """A cyclic redundancy check; `reflected`: the lowest bit of a byte goes in first."""
    table, register, mask = _table(bits, polynomial, reflected), begin, (1 << bits) - 1
    for byte in data:
        if reflected:
            register = register >> 8 ^ table[(register ^ byte) & 0xFF]
        else:
            register = (register << 8 ^ table[(register >> bits - 8 ^ byte) & 0xFF]) & mask
    return register


SUMS: dict[SumName, Sum] = {
    "xor": Sum(8, lambda data: reduce(xor, data, 0)),
    "sum": Sum(8, lambda data: sum(data) & 0xFF),
    "complement": Sum(8, lambda data: -sum(data) & 0xFF),
    "inverse": Sum(8, lambda data: ~sum(data) & 0xFF),
    "sum16": Sum(16, lambda data: sum(data) & 0xFFFF),
    "crc8": Sum(8, partial(_crc, 8, 0x07, 0x00, False)),
    "crc8-maxim": Sum(8, partial(_crc, 8, 0x31, 0x00, True)),
    "crc16-arc": Sum(16, partial(_crc, 16, 0x8005, 0x0000, True)),
    "crc16-modbus": Sum(16, partial(_crc, 16, 0x8005, 0xFFFF, True)),
    "crc16-ccitt-false": Sum(16, partial(_crc, 16, 0x1021, 0xFFFF, False)),
    "crc16-xmodem": Sum(16, partial(_crc, 16, 0x1021, 0x0000, False)),
    "crc16-kermit": Sum(16, partial(_crc, 16, 0x1021, 0x0000, True)),
}
"""Polynomials and first values of the CRC: from memory, and computed by the tests against a library
that is kept up."""


def size(bits: int, code: Code) -> int:
    """Bytes that a sum of so many bits takes in a frame."""
    if code == "decimal":
        return len(str((1 << bits) - 1))
    return bits // 4 if code == "hex" else bits // 8


def sent(field: bytes, bits: int, code: Code, order: Order) -> int | None:
    """The number in a frame's check field; None where it holds none of that many bits."""
    if len(field) != size(bits, code):
        return None
    if code == "decimal":
        return int(field) if field.isdigit() else None
    if code == "hex":
        if not field.isalnum():  # fromhex would pass over blanks
            return None
        try:
            field = bytes.fromhex(field.decode("ascii"))
        except ValueError:
            return None
    return int.from_bytes(field, "big" if order == "high-first" else "little")
