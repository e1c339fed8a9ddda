"""What the tree of a regex tells: whether it could take for ever on hostile bytes, and how wide its
groups are. Asked when a grammar is read."""

import re
import warnings
from re import _constants as codes  # type: ignore[attr-defined]  # no public parser of regexes
from re import _parser as parser  # type: ignore[attr-defined]
from typing import Any

_REPEATS = {codes.MAX_REPEAT, codes.MIN_REPEAT, codes.POSSESSIVE_REPEAT}
MOST_REPEATS = 4
"""Repeats of variable length side by side: each multiplies the ways to share the bytes out."""


def compiled(regex: str) -> re.Pattern[bytes]:
    """The regex over bytes. Raises `ValueError`, also for what Python warns that it may mean."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", FutureWarning)
            return re.compile(regex.encode("latin-1"), re.DOTALL)
    except FutureWarning as warning:
        raise ValueError(f"{warning}: write a backslash before that sign") from None
    except (re.error, UnicodeEncodeError) as error:
        raise ValueError(str(error)) from None


def why_slow(regex: str, most_repeats: int = MOST_REPEATS) -> str | None:
    """None for a regex whose time is bounded on a short frame, else what to change. A longer frame
    bears fewer repeats."""
    try:
        tree = parser.parse(regex, re.DOTALL)
    except re.error:
        return None  # the compiler says what is wrong with it
    found = list(_choices(tree, 0))
    if any(depth > 0 for depth in found):
        return "a repeat inside a repeat can take for ever: give one of them a fixed number"
    if len(found) > most_repeats:
        return f"more than {most_repeats} repeats of variable length: give fields a fixed width"
    return None


def _choices(tree: Any, depth: int) -> Any:
    """The depth (repeats around it) of everything that can match in more than one way: repeats of
    variable length, and alternatives inside a repeat."""
    for code, argument in tree:
        if code in _REPEATS:
            least, most, inner = argument
            if least != most:
                yield depth
            yield from _choices(inner, depth + (most > 1))
        elif code is codes.BRANCH:
            if depth:
                yield depth
            for branch in argument[1]:
                yield from _choices(branch, depth)
        elif code is codes.SUBPATTERN:
            yield from _choices(argument[3], depth)
        elif code in (codes.ASSERT, codes.ASSERT_NOT):
            yield from _choices(argument[1], depth)
        elif code is codes.ATOMIC_GROUP:
            yield from _choices(argument, depth)
        elif code is codes.GROUPREF_EXISTS:
            yield MOST_REPEATS  # never needed for a frame, and hard to bound


def width(regex: str, group: str) -> int:
    """The bytes that a group matches at most."""
    tree = parser.parse(regex, re.DOTALL)
    number = tree.state.groupdict[group]
    return int(max(most for each, most in _groups(tree) if each == number))


def _groups(tree: Any) -> Any:
    """Number and greatest width of every group."""
    for code, argument in tree:
        if code is codes.SUBPATTERN:
            yield argument[0], argument[3].getwidth()[1]
            yield from _groups(argument[3])
        elif code is codes.BRANCH:
            for branch in argument[1]:
                yield from _groups(branch)
        elif code in _REPEATS:
            yield from _groups(argument[2])
        elif code in (codes.ASSERT, codes.ASSERT_NOT):
            yield from _groups(argument[1])
        elif code is codes.ATOMIC_GROUP:
            yield from _groups(argument)
