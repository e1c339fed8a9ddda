"""What a scale's file may not say: every check raises `ValueError` for the first mistake."""

import re
from collections.abc import Iterator

from drivers import sums
from drivers.grammar_file import LONGEST_FRAME, USUAL_FRAME, Beside, Checksum, File
from drivers.meanings import CONDITIONS, FACTORS, UNIT_WORD, check_meaning
from drivers.slow import compiled, why_slow, width

IMPERIAL = ("stone", "pounds", "ounces")
"""Groups that together are one weight, the heaviest first."""
NUMBERS = frozenset({"value", "tare", *IMPERIAL})
"""Groups that hold figures."""
_GROUPS = NUMBERS | {"unit", "checksum"}


def check(file: File, groups: set[str]) -> None:
    """`groups` are those of its regex. Raises `ValueError`."""
    _check_marks(file)
    _check_frame(file)
    _check_number(file)
    _check_groups(file, groups)
    _check_words(file, groups)
    _check_checksum(file, groups)
    if file.measures == "weight":
        _check_told(file, groups)
    else:
        _check_measures(file, groups)


_ESCAPED = re.compile(r"\\(?:x(?P<hex>[0-9A-Fa-f]{2})|u[0-9A-Fa-f]{4}|[rnt])")
"""What stands for a control byte between double quotes, and for itself between single ones."""


def _check_marks(file: File) -> None:
    """Bytes that were meant and are written as signs would never be found in a frame."""
    sends = file.poll.send if file.poll else ""
    for name, mark in (("start", file.start), ("end", file.end), ("poll.send", sends)):
        if (found := _ESCAPED.search(mark)) is not None:
            right = f"\\u00{found['hex']}" if found["hex"] else found[0]
            raise ValueError(
                f"{name}: {found[0]} between single quotes is {len(found[0])} signs and no byte;"
                f' write it between double quotes, as "{right}"'
            )


def _check_frame(file: File) -> None:
    if not (file.start or file.end or file.length):
        raise ValueError('a frame needs an end mark such as end = "\\r\\n", a start, or a length')
    if file.length is not None and not 2 <= file.length <= LONGEST_FRAME:
        raise ValueError(f"length: expected 2 to {LONGEST_FRAME}, the bytes between the marks")
    if not USUAL_FRAME <= file.longest <= LONGEST_FRAME:
        raise ValueError(
            f"longest: expected {USUAL_FRAME} to {LONGEST_FRAME}, the bytes of a frame at most"
        )
    if file.start and file.end and (file.end in file.start or file.start in file.end):
        raise ValueError("start and end: neither can be, or be part of, the other")


def _check_number(file: File) -> None:
    if file.number.code != "text" and file.length is None:
        raise ValueError("number.code: bytes can look like a mark, so the frame needs a length")
    if file.number.thousands == file.decimal:
        raise ValueError("number.thousands: it is the decimal mark already")
    if file.times is not None and file.times not in FACTORS:
        raise ValueError(f"times: found {file.times!r}, expected one of {', '.join(FACTORS)}")


def _check_groups(file: File, groups: set[str]) -> None:
    imperial = groups & {*IMPERIAL}
    if not ("value" in groups or imperial) or (imperial and "pounds" not in imperial):
        raise ValueError("regex: a group (?P<value>...), or pounds and ounces, hold the number")
    if imperial == {"pounds"}:
        raise ValueError('regex: pounds alone are a value, in unit = "lb"')
    if imperial and (file.number.code != "text" or file.number.order == "low-first"):
        raise ValueError("number: pounds and ounces are sent as text, their first digit first")
    told = {*file.status, *file.bits, *file.patterns} - {"value"}
    if file.decimals is not None and file.decimals.group:
        told.add(file.decimals.group)
    if unknown := sorted(groups - _GROUPS - told):
        raise ValueError(f"regex: group {unknown[0]!r} has no table [status.{unknown[0]}]")
    if missing := sorted(told - groups):
        raise ValueError(f"status.{missing[0]}: the regex has no group of that name")
    words = ({*file.status, *file.patterns} & (_GROUPS - {"value"})) | ({*file.bits} & _GROUPS)
    if owned := sorted(words):
        raise ValueError(f"{owned[0]}: its group is no status word, it needs no table")


def _check_words(file: File, groups: set[str]) -> None:
    for word, meaning in file.status.get("value", {}).items():
        if word != word.strip() or isinstance(meaning, Beside) or meaning not in CONDITIONS:
            raise ValueError(f"status.value.{word!r}: a bare word, and a condition it stands for")
    for group, table in file.status.items():
        for word, meaning in table.items():
            where = f"status.{group}.{word!r}"
            if isinstance(meaning, Beside):
                if meaning.group not in groups - _GROUPS - {group}:
                    raise ValueError(f"{where}: the regex has no other group {meaning.group!r}")
                for each in meaning.words.values():
                    check_meaning(where, each)
            else:
                check_meaning(where, meaning)
    for group, table_ in file.patterns.items():
        for pattern, meaning in table_.items():
            _check_pattern(f"patterns.{group}.{pattern!r}", pattern, meaning, group == "value")


def _check_pattern(where: str, pattern: str, meaning: str, instead: bool) -> None:
    try:
        compiled(pattern)
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from None
    if slow := why_slow(pattern):
        raise ValueError(f"{where}: {slow}")
    check_meaning(where, meaning)
    if instead and (meaning not in CONDITIONS or meaning == "ok"):
        raise ValueError(f"{where}: a condition that it stands for, and none that is ok")


def _check_told(file: File, groups: set[str]) -> None:
    """The unit, and whether it is net, must be told by the frame or by the file."""
    tells_unit = "unit" in groups or "value" not in groups
    tells_unit = tells_unit or any(meaning.startswith(UNIT_WORD) for meaning in _meanings(file))
    if file.unit is None and not tells_unit:
        raise ValueError('unit: the frame has no group unit, so unit = "..." must say which it is')
    if "tare" in groups and file.kind is None and "net" not in _meanings(file):
        raise ValueError("kind: the frame has a tare, so a word or kind must tell net from gross")
    if file.unit_absent is not None and "unit" not in groups:
        raise ValueError("unit_absent: the regex has no group unit")


_OF_WEIGHTS = {"gross", "net", "tare"}
_TEMPERATURES = ("degC", "degF")


def _check_measures(file: File, groups: set[str]) -> None:
    """What an instrument sends that is no scale has no tare, no net, no unit of mass."""
    what = f"measures: a {file.measures}"
    if found := sorted(groups & {"tare", *IMPERIAL}):
        raise ValueError(f"{what} has no {found[0]}")
    if file.kind is not None or (found := sorted(_meanings(file) & _OF_WEIGHTS)):
        raise ValueError(f"{what} is neither gross nor net")
    if file.orders:
        raise ValueError(f"{what} has no orders: zero and clear-tare are a scale's")
    units = {m.removeprefix(UNIT_WORD).strip() for m in _meanings(file) if m.startswith(UNIT_WORD)}
    units |= {file.unit} if file.unit is not None else set()
    if file.measures == "pH":
        if units or "unit" in groups:
            raise ValueError("measures: a pH has no unit; draw what the frame has there as it is")
        return
    if wrong := sorted(units - {*_TEMPERATURES}):
        raise ValueError(f"unit: found {wrong[0]!r}, a temperature is in degC or degF")
    if not units and "unit" not in groups:
        raise ValueError('unit: the frame tells none, so unit = "degC" or "degF" must say it')
    if file.unit_absent is not None and "unit" not in groups:
        raise ValueError("unit_absent: the regex has no group unit")


def _check_checksum(file: File, groups: set[str]) -> None:
    if (file.checksum is not None) != ("checksum" in groups):
        raise ValueError("checksum: the table [checksum] and a group (?P<checksum>...) go together")
    if file.unchecked is not None and (file.checksum is not None or not file.unchecked.strip()):
        raise ValueError("unchecked: why no field is a checksum, in a frame that has none")
    if file.checksum is not None:
        first, last = file.checksum.first, file.checksum.last
        places = {name: n for n, name in enumerate(_in_order(file.regex or ""))}
        for edge in (first, last):
            if edge not in (None, "frame", "start") and edge not in groups - {"checksum"}:
                raise ValueError(f"checksum: the regex has no group {edge!r} to count from or to")
        if last in ("frame", "start"):
            raise ValueError("checksum.last: a group, or nothing for all bytes before the checksum")
        begin, end = places.get(first, -1), places[last or "checksum"]
        if begin > end:
            raise ValueError("checksum: it begins behind its end")
        for name in groups & (NUMBERS - {"tare"}):
            if not begin <= places[name] <= end:
                raise ValueError(f"checksum: it must cover the number, and leaves {name} out")
        _check_width(file.checksum, width(file.regex or "", "checksum"))


def _check_width(checksum: Checksum, there: int) -> None:
    wanted = sums.size(sums.SUMS[checksum.kind].bits, checksum.code)
    if wanted != there:
        raise ValueError(
            f"checksum: {checksum.kind} in {checksum.code} has {wanted} byte(s), its group {there}"
        )


def _in_order(regex: str) -> list[str]:
    return re.findall(r"\(\?P<(\w+)>", regex)


def _meanings(file: File) -> set[str]:
    """All that the words and bits of the tables can mean."""
    return {*_of_words(file), *_of_bits(file)}


def _of_words(file: File) -> Iterator[str]:
    for table in file.status.values():
        for meaning in table.values():
            yield from meaning.words.values() if isinstance(meaning, Beside) else [meaning]
    for patterns in file.patterns.values():
        yield from patterns.values()


def _of_bits(file: File) -> Iterator[str]:
    for table in file.bits.values():
        for meanings in table.values():
            yield from map(str, meanings if isinstance(meanings, list) else [meanings])
