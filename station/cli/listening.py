"""How an unknown scale is heard: at which speed, and whether it must be asked."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace

from drivers.identify import SPEEDS, legible
from drivers.infer.cutting import Heard
from drivers.link import Link, LinkState, PortSettings
from station.cli.common import CANNOT, NO, fail
from station.service.clock import Clock

QUESTIONS = (b"\x05", b"W\r", b"\nW\r", b"\r", b"\r\n")
"""The usual questions for the weight: ENQ of ISO 646, the letter of the bundled file that asks, the
W of SMA SCP-0499, and an empty line."""
_SILENT_S = 2.4
"""Without a byte for so long it sends nothing by itself: at a wrong speed other bytes arrive, not
none."""
_SPEED_S = 1.2
"""How long one speed is listened to, and how long an answer may take."""
_ANSWER_S = 0.4
_FRAMES = 8
"""So many frames, or answers, of a step are waited for."""
_SHORTEST_S, _LONGEST_S = 0.8, 8.0
_LEGIBLE = 0.85
"""Share of what arrives that must be signs for a speed to be right."""
_TURN_S, _ASKS_EVERY = 0.05, 8
"""One turn, and how many of them from one question to the next."""


@dataclass(frozen=True, slots=True)
class Answering:
    """A scale that was heard: port, speed, what it is asked with (b"" where it sends by itself),
    and the seconds from one frame to the next."""

    port: str
    baud: int
    asked: bytes
    every_s: float


def found_line(
    port: str, question: bytes | None, may_ask: Callable[[tuple[bytes, ...]], bool]
) -> Answering:
    """The speed at which signs arrive, by listening alone; else, if a person lets it, by asking.
    Ends the command where there is none."""
    if question is None:
        silent = not _hear(port, SPEEDS[0], _SILENT_S, b"")
        for baud in () if silent else SPEEDS:
            if chunks := _signs(port, baud):
                faster = [other for other in SPEEDS if other in (2 * baud, 4 * baud)]
                tried = {baud: chunks, **{other: _signs(port, other) for other in faster}}
                best = max(tried, key=lambda each: sum(len(chunk) for chunk in tried[each]))
                return Answering(port, best, b"", _SPEED_S / len(tried[best]))
        if not silent:
            fail("bytes arrive, and at no speed they are signs: it is another kind of format",
                 "record them with station scale record, and describe them (GRAMMARS.md)",
                 NO)  # fmt: skip
        if not may_ask(QUESTIONS):
            fail("nothing arrives by itself", "find its question in its papers: --ask 'W\\r'", NO)
    for each in QUESTIONS if question is None else (question,):
        for baud in SPEEDS:
            data = b"".join(chunk for chunk, _ in _hear(port, baud, _ANSWER_S, each))
            if any(48 <= byte < 58 for byte in data) and legible(data) > _LEGIBLE:
                return Answering(port, baud, each, _TURN_S * _ASKS_EVERY)
    return fail(
        "it answers none of these questions",
        "say with --ask what its papers tell to ask; or is it off, or the cable no crossed one?",
        NO,
    )


def _signs(port: str, baud: int) -> list[bytes]:
    """The chunks that arrive at a speed, if they are signs; else none. Frames that never change may
    be signs at a slower speed too, only fewer."""
    chunks = [chunk for chunk, _ in _hear(port, baud, _SPEED_S, b"")]
    data = b"".join(chunks)
    return chunks if len(data) >= 8 and legible(data) > _LEGIBLE else []


def heard_for(line: Answering, seconds: float | None = None) -> Heard:
    """What arrives now: for so many seconds, or until some frames have."""
    usual = min(_LONGEST_S, max(_SHORTEST_S, _FRAMES * line.every_s))
    heard = _hear(line.port, line.baud, usual if seconds is None else seconds, line.asked)
    return Heard(tuple(chunk for chunk, _ in heard), at_s=tuple(at_s for _, at_s in heard))


def _hear(port: str, baud: int, seconds: float, asked: bytes) -> list[tuple[bytes, float]]:
    """The chunks that arrive, as answers where it is asked. Ends the command where the port is
    gone."""
    heard = asyncio.run(chunks_at(port, baud, seconds, asked))
    if isinstance(heard, LinkState):
        fail(heard.reason, heard.next, CANNOT)
    return heard


async def chunks_at(
    port: str, baud: int, seconds: float, asked: bytes
) -> list[tuple[bytes, float]] | LinkState:
    """The chunks that arrive at a speed, each with its monotonic time in seconds; why not, where
    the port cannot be read. With `asked` they are answers to that question."""
    chunks, states = list[tuple[bytes, float]](), list[LinkState]()
    link = Link(
        PortSettings(port, baud, "8N1"), Clock(), lambda *chunk: chunks.append(chunk),
        states.append,
    )  # fmt: skip
    running = asyncio.ensure_future(link.run())
    try:
        for step in range(round(seconds / _TURN_S)):
            await asyncio.sleep(_TURN_S)
            if states and not states[-1].up:
                began = any(state.up for state in states)
                return replace(states[-1], next="plug it in, begin again") if began else states[-1]
            if asked and step % _ASKS_EVERY == 1:
                link.send(asked)
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    return chunks
