"""What the words and bits of one frame mean together. Pure."""

import re
from decimal import Decimal
from typing import NamedTuple

from drivers.grammar import BitField, Grammar
from drivers.grammar_file import Beside, Decimals
from drivers.meanings import CONDITIONS, UNIT_WORD, added_up, factor
from drivers.reading import Condition, Kind

_HEX = re.compile(rb"[0-9A-Fa-f]{1,8}")


class Said(NamedTuple):
    """What the words and bits of one frame mean; `places` None where the point is sent."""

    condition: Condition
    kind: Kind
    stable: bool | None
    unit: str | None
    negative: bool
    places: int | None
    times: Decimal
    word: str


def understand(grammar: Grammar, words: dict[str, bytes], imperial: bool) -> Said | str:
    """What the `words` of a frame's groups mean together, or what is wrong with them.
    `imperial`: its weight is in stone, pounds and ounces, and no group tells the unit."""
    found: list[tuple[str, bytes]] = []
    places = grammar.decimals.places if grammar.decimals else None
    for group, word in words.items():
        meanings = [] if imperial and group == "unit" else _meanings(grammar, group, words)
        if isinstance(meanings, str):
            return meanings
        found += [(meaning, word) for meaning in meanings]
        if grammar.decimals is not None and grammar.decimals.group == group:
            places = _places(grammar.decimals, word)
            if places is None:
                return f"{group} {word!r} tells no decimal point"
    return _together(grammar, found, places, imperial)


def _meanings(grammar: Grammar, group: str, words: dict[str, bytes]) -> list[str] | str:
    """What one group says, or what is wrong with it."""
    word = words[group]
    if group == "unit":
        text = word.decode("latin-1").strip()
        found = [UNIT_WORD + text] if text else []
        if grammar.unit_absent is not None:
            found.append("stable" if bool(text) != grammar.unit_absent else "moving")
        return found
    if group in grammar.status:
        meaning = grammar.status[group].meaning(word)
        if isinstance(meaning, Beside):
            beside = words[meaning.group].decode("latin-1")
            meaning = meaning.words.get(beside, meaning.words.get(beside.strip()))
        return f"unknown {group} {word!r}" if meaning is None else [meaning]
    if group in grammar.bits:
        return _of_bits(grammar, group, word)
    return []


def _of_bits(grammar: Grammar, group: str, word: bytes) -> list[str] | str:
    bits = grammar.bits[group]
    number = _number(word, bits.code)
    if number is None:
        return f"{group} {word!r} holds no bits"
    size = len(word) * (4 if bits.code == "hex" else 8)
    found = []
    for field in bits.fields:
        meaning = _bits_mean(field, number, size)
        if meaning is None:
            return f"{group} {word!r} says what the file does not know"
        found.append(meaning)
    return found


def _together(
    grammar: Grammar, found: list[tuple[str, bytes]], places: int | None, imperial: bool
) -> Said:
    meanings = [meaning for meaning, _ in found]
    told = added_up(meanings, grammar.kind)
    unit = "oz" if imperial else grammar.unit
    units = [
        word.removeprefix(UNIT_WORD).strip() for word in meanings if word.startswith(UNIT_WORD)
    ]
    if units and not imperial:
        unit = units[-1]
    bad = [word for meaning, word in found if CONDITIONS.get(meaning, Condition.OK) != Condition.OK]
    word = bad[0].strip().decode("latin-1") if bad else ""
    times = factor(meanings, grammar.times)
    return Said(*told, unit, "negative" in meanings, places, times, word)


def _bits_mean(field: BitField, number: int, size: int) -> str | None:
    """What some bits mean; None where they are not there, or say what the file does not."""
    told = number >> field.low & (1 << field.many) - 1
    if field.low + field.many > size or told >= len(field.meanings):
        return None
    return field.meanings[told]


def _number(word: bytes, code: str) -> int | None:
    """Status bytes as a number: themselves, or hexadecimal digits."""
    if code == "binary":
        return int.from_bytes(word, "big") if 1 <= len(word) <= 4 else None
    return int(word, 16) if _HEX.fullmatch(word) else None


def _places(decimals: Decimals, word: bytes) -> int | None:
    if decimals.words:
        return decimals.words.get(word.decode("latin-1"))
    number = _number(word, decimals.code)
    if number is None:
        return None
    number &= decimals.mask
    if decimals.exponent:
        number = (decimals.mask + 1 if number > decimals.mask // 2 else 0) - number
        return number if -3 <= number <= 6 else None
    places = number - decimals.less
    return places if 0 <= places <= 6 else None
