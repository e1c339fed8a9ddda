"""Whether a field only looks like a check: no sum that the project knows holds in it. Pure."""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from drivers.places import DAMAGED, Field, Frame

FEW = 6
"""Different frames at least: of six random bytes two are equal once in seventeen times."""
_FIGURE = b" .,+-0123456789"
_HEX = b"0123456789ABCDEFabcdef"


def looks_like_a_check(seen: list[Frame], frames: list[Frame], fields: list[Field]) -> Field | None:
    """The field whose bytes all vary, that nothing else explains."""
    if len(frames) < FEW:
        return None
    for field in sorted(fields, key=lambda field: -field.size):
        if len(set(field.texts)) * 4 < len(frames) * 3 or not _like_a_check(field.texts):
            continue
        if not _whole(frames, field) or _explained(seen, frames, field):
            continue
        if not _by_one_place(frames, field):
            return field
    return None


def _by_one_place(frames: list[Frame], field: Field) -> bool:
    """Whether one byte elsewhere tells the field already, and more than once: a status letter, a
    digit sent again."""
    shortest = min(len(frame.data) for frame in frames)
    for place in range(shortest):
        told: dict[int, bytes] = {}
        again = False
        for frame, at, text in zip(frames, field.at, field.texts, strict=True):
            here = place + len(frame.data) - shortest
            if at <= here < at + field.size:
                break
            if (byte := frame.data[here]) in told:
                again = True
                if told[byte] != text:
                    break
            told[byte] = text
        else:
            if again and len(told) > 1:
                return True
    return False


def _like_a_check(texts: tuple[bytes, ...]) -> bool:
    """One to four hexadecimal digits, three or five decimal ones, or one or two bytes of any kind
    that both change; digits alone of another number are a figure."""
    size, together = len(texts[0]), b"".join(texts)
    if all(byte in _FIGURE for byte in together):
        return together.isdigit() and size in (3, 5)
    if all(byte in _HEX for byte in together):
        return size <= 4
    return size <= 2 and all(len({text[at] for text in texts}) > 1 for at in range(size))


def _whole(frames: list[Frame], field: Field) -> bool:
    """Whether no digit or point beside it belongs to it: a figure is no check field."""
    if not all(byte in _HEX for text in field.texts for byte in text):
        return True
    for place in (-1, field.size):
        beside = [
            frame.data[at + place]
            for frame, at in zip(frames, field.at, strict=True)
            if at + place in frame.unread
        ]
        if any(byte in b".0123456789" for byte in beside):
            return False
        if len(set(beside)) > 1 and all(byte in _HEX for byte in beside):
            return False
    return True


def _explained(seen: list[Frame], frames: list[Frame], field: Field) -> bool:
    """Whether it follows the weight alone, counts, or differs where all else is the same."""
    return (
        _differs_alone(seen, frames[0], field)
        or _follows_weight(frames, field)
        or _counts(field.texts)
    )


def _differs_alone(seen: list[Frame], like: Frame, field: Field) -> bool:
    from_end = len(like.data) - field.at[0]
    told: dict[bytes, set[bytes]] = {}
    for frame in seen:
        at = len(frame.data) - from_end
        rest = frame.data[:at] + frame.data[at + field.size :]
        told.setdefault(rest, set()).add(frame.data[at : at + field.size])
    return sum(len(texts) > 1 for texts in told.values()) * DAMAGED > len(told)


def _follows_weight(frames: list[Frame], field: Field) -> bool:
    """Whether equal weights have equal fields though the frames differ, or a greater weight has
    always the greater (or always the smaller) one."""
    by_weight: dict[Decimal, list[bytes]] = {}
    for frame, text in zip(frames, field.texts, strict=True):
        if frame.weight is not None:
            by_weight.setdefault(frame.weight, []).append(text)
    several = [texts for texts in by_weight.values() if len(texts) > 1]
    if several and all(len(set(texts)) == 1 for texts in several):
        return True
    order = [by_weight[weight][0] for weight in sorted(by_weight)]
    return order in (sorted(order), sorted(order, reverse=True))


def _counts(texts: Sequence[bytes]) -> bool:
    """Whether it goes on by the same step from frame to frame, but for the turns of a counter."""
    numbers = [
        int(text, 16) if text.isalnum() and all(b in _HEX for b in text)
        else int.from_bytes(text, "big")
        for text in texts
    ]  # fmt: skip
    steps = [after - before for before, after in pairwise(numbers)]
    usual = max(set(steps), key=steps.count)
    return steps.count(usual) * 2 > len(steps)
