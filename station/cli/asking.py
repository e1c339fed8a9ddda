"""A question put to a scale from the command line, again and again, while it is recorded."""

import asyncio
import re

from drivers.link import Link
from station.cli.common import WRONG_USE, fail

PERIOD_S = 0.5
"""From one question to the next: slow enough that a slow scale's answers do not run together."""
LONGEST = 64
"""Bytes of a question at most."""
_ESCAPES = {r"\r": b"\r", r"\n": b"\n", r"\t": b"\t", r"\\": b"\\"}
_PART = re.compile(r"\\x[0-9a-fA-F]{2}|\\[rnt\\]|[^\\\x00-\x1f\x7f-\x9f]")


def question_of(text: str) -> bytes:
    r"""The bytes of a question as a person types it: \r, \n, \t, \\, \xNN, else Latin-1.

    A control character itself would break the line of the capture's head that notes the question,
    so it must be typed as one of these. Raises `ValueError`.
    """
    parts = _PART.findall(text)
    if "".join(parts) != text:
        raise ValueError(rf"found {text!r}, expected \r, \n, \t, \\ or \x and two hex digits")
    try:
        asked = b"".join(
            _ESCAPES.get(part)
            or (bytes.fromhex(part[2:]) if part.startswith(r"\x") else part.encode("latin-1"))
            for part in parts
        )
    except UnicodeEncodeError:
        raise ValueError(f"found {text!r}, expected letters of one byte") from None
    if not 1 <= len(asked) <= LONGEST:
        raise ValueError(f"found {len(asked)} bytes, expected 1 to {LONGEST}")
    return asked


def question_or_fail(text: str | None) -> bytes | None:
    """The bytes of `--ask`, None where it was not said."""
    if text is None:
        return None
    try:
        return question_of(text)
    except ValueError as error:
        fail(f"--ask: {error}", r"say --ask 'W\r'", WRONG_USE)


async def run_asking(link: Link, question: bytes | None) -> None:
    """Run `link`; with a question, ask it every `PERIOD_S` while its port is open."""
    if question is None:
        await link.run()
        return
    async with asyncio.TaskGroup() as group:
        group.create_task(link.run())
        group.create_task(_ask(link, question))


async def _ask(link: Link, question: bytes) -> None:
    while True:
        link.send(question)
        await asyncio.sleep(PERIOD_S)
