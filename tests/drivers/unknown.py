"""Scales that no file describes, and what is recorded of them, step by step."""

import random
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from drivers.infer.cutting import Heard, Step


@dataclass(frozen=True)
class State:
    """What an unknown scale has on it, in its unit."""

    gross: Decimal
    tare: Decimal = Decimal(0)
    moving: bool = False
    over: bool = False

    @property
    def net(self) -> Decimal:
        return self.gross - self.tare

    @property
    def tared(self) -> bool:
        return self.tare != 0


Prints = Callable[[State, int], bytes]
"""A frame of a state, by its number."""


def recorded(
    prints: Prints, known: str = "216.40", skip: tuple[Step, ...] = (), seed: int = 1
) -> tuple[dict[Step, Heard], dict[Step, list[tuple[State, bytes]]]]:
    """What a person records with a load of `known`, one frame a chunk, and what was meant."""
    load, rng = Decimal(known), random.Random(seed)
    unit = Decimal(1).scaleb(int(load.as_tuple().exponent))
    none = load * 0
    on_the_way = [none + unit * rng.randrange(int(load / unit)) for _ in range(16)]
    states: dict[Step, list[State]] = {
        "empty": [State(none)] * 8,
        "known": [State(load)] * 8,
        "move": [State(load)] * 3 + [State(g, moving=True) for g in on_the_way] + [State(load)] * 2,
        "over": [State(load * 90, moving=True, over=True)] * 2 + [State(load * 90, over=True)] * 6,
        "tared": [State(load, load)] * 8,
        "lifted": [State((load / 2).quantize(unit), load, moving=True)] * 2
        + [State(none, load)] * 7,
    }
    shows = {"empty": none, "known": load, "tared": none, "lifted": -load}
    heard, meant = dict[Step, Heard](), dict[Step, list[tuple[State, bytes]]]()
    for step, each in states.items():
        if step in skip:
            continue
        meant[step] = [(state, prints(state, n)) for n, state in enumerate(each)]
        chunks = [frame for _, frame in meant[step]]
        heard[step] = Heard((chunks[0][3:], *chunks[1:]), shows.get(step))  # in mid-frame
    return heard, meant


def xor(body: bytes) -> int:
    found = 0
    for byte in body:
        found ^= byte
    return found


def odd(frame: bytes) -> bytes:
    """As seven bits with odd parity arrive at eight."""
    return bytes(b if b.bit_count() % 2 else b | 0x80 for b in frame)


def _words(s: State, n: int) -> bytes:
    word = "OL" if s.over else "US" if s.moving else "ST"
    return f"{word}|{'NT' if s.tared else 'GS'}|{s.net:+010.2f} g\r\n".encode()


def _asked_letter(s: State, n: int) -> bytes:
    value = "  ------" if s.over else f"{s.net:8.2f}"
    return f"\x02{'?' if s.moving else '!'}{value}g {'n' if s.tared else 'b'}\x03".encode()


def _check_behind(s: State, n: int) -> bytes:
    body = f"{'D' if s.moving else 'S'}{s.net:9.2f}{'O' if s.over else ' '}kg\x03".encode()
    return b"\x02" + body + b"%02X" % xor(body)


def _no_point(s: State, n: int) -> bytes:
    sign = "-" if s.net < 0 else " "
    mark = "#" if s.over else "~" if s.moving else "="
    return f"\x1b{mark}{sign}{abs(int(s.net * 100)):07d}{'T' if s.tared else '.'}\r".encode()


def _comma_and_counter(s: State, n: int) -> bytes:
    value = "  ERR   " if s.over else f"{s.net:8.2f}".replace(".", ",")
    return f"{n % 100:02d};{value};g;{'*' if not s.moving else ' '}\n".encode()


def _bits(s: State, n: int) -> bytes:
    flags = 0x40 | (1 if s.moving else 0) | (2 if s.tared else 0) | (8 if s.over else 0)
    return b"\x02" + bytes([flags]) + f"{s.net:9.2f} g\r".encode()


def _gross_tare_net(s: State, n: int) -> bytes:
    over = "O" if s.over else "M" if s.moving else "S"
    return f"G{s.gross:8.2f} T{s.tare:8.2f} N{s.net:8.2f} {over}\r\n".encode()


def _sign_behind(s: State, n: int) -> bytes:
    sign = "-" if s.net < 0 else " "
    return odd(f"W{abs(s.net):09.2f}{sign}kg{'M' if s.moving else ' '}"
               f"{'^' if s.over else ' '}\r\n".encode())  # fmt: skip


def _start_only(s: State, n: int) -> bytes:
    return f"={s.net:8.2f}".encode()


def _unit_when_still(s: State, n: int) -> bytes:
    value = "--------" if s.over else f"{s.net:+8.2f}"
    return f"{value} {'  ' if s.moving else ' g'}\r\n".encode()


def _status_and_zero(s: State, n: int) -> bytes:
    zero = "Z" if s.net == 0 else " "
    status = "E" if s.over else zero
    value = " " * 10 if s.over else f"{s.net:10.2f}"
    return f"\n{status}1{'N' if s.tared else 'G'}{'M' if s.moving else ' '} {value}g  \r".encode()


def _net_and_tare(s: State, n: int) -> bytes:
    body = f"{'3' if s.over else '1' if s.moving else '0'};{s.net:+09.2f};{s.tare:08.2f};".encode()
    return b"$" + body + b"%03d\r\n" % (sum(b"$" + body) & 0xFF)


INVENTED: dict[str, Prints] = {
    "words between bars": _words, "STX letter ETX": _asked_letter,
    "check behind ETX": _check_behind,
    "no point, escape": _no_point, "comma, counter, star": _comma_and_counter, "bits": _bits,
    "gross tare net": _gross_tare_net, "sign behind, odd parity": _sign_behind,
    "start only": _start_only, "unit when still": _unit_when_still,
    "status and zero": _status_and_zero, "net, tare, decimal sum": _net_and_tare,
}  # fmt: skip
